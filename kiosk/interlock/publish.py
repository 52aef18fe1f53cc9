"""The snapshot of a step: codes and numbers, nothing that is not also in memory or facts."""

from __future__ import annotations

from typing import Any

from kiosk.interlock import forbids, health, judge, permissives
from kiosk.interlock.alarm_rows import GROUP
from kiosk.interlock.decision import Outputs
from kiosk.interlock.measure import GaugeNow
from kiosk.interlock.signals import PERMIT_CONTACTS
from kiosk.interlock.snapshot import (
    AlarmShown,
    BypassShown,
    GaugeShown,
    HoldShown,
    JobShown,
    ShelvedShown,
    Snapshot,
    ZoneShown,
)
from kiosk.interlock.states import STOPPED_BY, Flag, State
from kiosk.interlock.turn import Turn


def waiting_for(turn: Turn) -> tuple[str, ...]:
    """Codes of what the site file names and was not seen once yet."""
    codes: list[str] = []
    windows = turn.memory.windows
    if any(windows[gauge.name].good_s is None for gauge in turn.site.gauges):
        codes.append("gauge")
    if turn.site.inputs and not turn.memory.link.inputs_seen:
        codes.append("inputs")
    if turn.site.outputs & set(PERMIT_CONTACTS) and not turn.memory.link.contacts_seen:
        codes.append("contacts")
    return tuple(codes)


def _gauges(turn: Turn) -> tuple[GaugeShown, ...]:
    return tuple(
        GaugeShown(
            name=gauge.setting.name,
            role=gauge.setting.role,
            vacuum_kpa=gauge.vacuum_kpa,
            age_s=gauge.age_s,
            health=health.letter(turn, gauge),
            fault=None if gauge.window.fault is None else gauge.window.fault.value,
            rate_hz=turn.facts.rates_hz.get(gauge.setting.name),
            ratio=gauge.ratio,
        )
        for gauge in turn.seen.gauges
    )


def _largest_need(turn: Turn) -> GaugeNow | None:
    needs = {g.needs_kpa: g for g in reversed(turn.seen.gauges) if g.needs_kpa is not None}
    return needs[max(needs)] if needs else None


def _hold(turn: Turn) -> HoldShown:
    hold, plan = turn.seen, turn.memory.plan
    gauge = hold.deciding or _largest_need(turn)
    minimum_kpa = hold.minimum_kpa
    needs_kpa = None if gauge is None else gauge.needs_kpa
    start_kpa = None
    if needs_kpa is not None and minimum_kpa is not None:
        start_kpa = needs_kpa + (turn.limits.start_ratio - 1.0) * minimum_kpa
    shown = gauge or (hold.gauges[0] if hold.gauges else None)
    return HoldShown(
        gauge=None if shown is None else shown.setting.name,
        vacuum_kpa=None if shown is None else shown.vacuum_kpa,
        ratio=hold.ratio,
        minimum_kpa=minimum_kpa,
        required_kpa=needs_kpa,
        start_kpa=start_kpa,
        predicted_kpa=None if plan is None else plan.predicted_kpa,
        slope_kpa_per_s=None if shown is None else shown.window.present_kpa_per_s,
        time_left_s=hold.left.present_s,
        settled=hold.settled if hold.settling_kpa_per_s is not None else None,
        drawing_down_s=turn.drawing_for_s,
    )


def _zones(turn: Turn) -> tuple[ZoneShown, ...]:
    plan, memory = turn.memory.plan, turn.memory
    return tuple(
        ZoneShown(z.name, z.up, z.down, z.name in memory.zones, z.name in memory.kept_zones)
        for z in (() if plan is None else plan.zones)
    )


def _alarms(turn: Turn) -> tuple[AlarmShown, ...]:
    """Most urgent first; among equals the older first.  In a loss what can wait is quiet."""
    listed = [alarm for alarm in turn.memory.alarms if not alarm.shelved]
    order = sorted(listed, key=lambda alarm: (alarm.priority, alarm.since_s))
    flood = any(a.priority == 1 and a.active and a.code in GROUP for a in order)
    return tuple(
        AlarmShown(
            code=a.code, priority=a.priority, active=a.active, acknowledged=a.acknowledged,
            latched=a.latched, first=a.first, since_s=turn.now_s - a.since_s, utc=a.utc,
            value=a.value, limit=a.limit, unit=a.unit, quiet=flood and a.priority == 3,
            cut_over=a.cut_over, about=a.about, raised_utc=a.raised_utc,
        )
        for a in order
    )  # fmt: skip


def _shelved(turn: Turn) -> tuple[ShelvedShown, ...]:
    return tuple(
        ShelvedShown(a.code, a.priority, a.active, a.shelved_why, until_s - turn.now_s)
        for a in turn.memory.alarms
        if (until_s := a.shelved_until_s) is not None
    )


def _bypasses(turn: Turn) -> tuple[BypassShown, ...]:
    return tuple(
        BypassShown(b.check, b.reason, b.by, turn.now_s - b.since_s) for b in turn.memory.bypasses
    )


def _flags(turn: Turn) -> tuple[str, ...]:
    flags = {
        Flag.NO_DATA: not turn.seen.valid,
        Flag.ADVICE_ONLY: turn.site.advice_only,
        Flag.SERVICE: turn.memory.service,
        Flag.BYPASSED: bool(turn.memory.bypasses),
        Flag.KEY_BYPASS: turn.key_on is True,
        Flag.SIMULATED: turn.site.simulated,
    }
    return tuple(flag.value for flag, stands in flags.items() if stands)


def _details(turn: Turn) -> dict[str, Any]:
    details: dict[str, Any] = {"vented_kpa": turn.limits.vented_kpa}
    kept = turn.memory.kept
    if turn.state is State.PART_HELD and kept is not None:
        plan = kept.plan
        details["kept"] = {"digest": plan.digest, "job_id": plan.job_id, "title": plan.title}
    if turn.memory.cycle is not None and turn.memory.cycle.cutting_s > 0.0:
        details["cut_begun"] = True
    if turn.memory.refusal is not None:
        details["refused_job"] = turn.memory.refused_job
    if not turn.lines.known:
        details["io_lost_s"] = round(turn.lost_for_s, 3)
    if turn.seen.apart_kpa is not None:
        details["apart_kpa"] = round(turn.seen.apart_kpa, 3)
    dates = [(g.calibration_due, g.name) for g in turn.site.gauges if g.calibration_due]
    if dates:  # ISO dates: the least is the earliest
        due, name = min(dates)
        details["calibration"] = {"gauge": name, "due": due}
    if turn.facts.leak_ratio is not None:
        ratio = round(turn.facts.leak_ratio, 3)
        details["leak"] = {"zone": turn.facts.leak_zone, "ratio": ratio}
    return details


def snapshot(turn: Turn, outputs: Outputs) -> Snapshot:
    """The whole public state after this step."""
    memory, plan, facts = turn.memory, turn.memory.plan, turn.facts
    zones = _zones(turn)
    rows = permissives.shown(turn)
    stopped = turn.state in STOPPED_BY
    in_release = turn.state in (State.RELEASE, State.PART_HELD)
    return Snapshot(
        epoch=memory.epoch,
        seq=memory.seq,
        at_s=turn.now_s,
        utc=turn.utc,
        state=turn.state.value,
        flags=_flags(turn),
        site=turn.site.name,
        air_kpa=turn.site.air_kpa,
        waiting_for=waiting_for(turn) if turn.state is State.STARTING else (),
        plan=None if plan is None else plan.digest,
        job_id=None if plan is None else plan.job_id,
        job_title=None if plan is None else plan.title,
        job_revision=None if plan is None else plan.revision,
        planning=None if memory.planning is None else memory.planning.job,
        refusal=memory.refusal,
        jobs=tuple(JobShown(j.file, j.id, j.title, j.revision, j.error) for j in facts.jobs),
        gauges=_gauges(turn),
        hold=_hold(turn),
        zones=zones,
        seats_up=sum(len(zone.up) for zone in zones if zone.confirmed),
        seats_to_turn_up=sum(len(zone.up) for zone in zones),
        map_kept=bool(memory.kept_zones),
        part_confirmed=memory.part_confirmed,
        warnings=() if plan is None else plan.warnings,
        permissives=rows,
        alarms=_alarms(turn),
        inputs={name: turn.lines.said(name) for name in sorted(turn.site.inputs)},
        outputs={
            "start_permit": outputs.start_permit,
            "hold_healthy": outputs.hold_healthy,
            "alive": outputs.alive,
            "beacon": outputs.beacon,
        },
        contacts={name: turn.lines.contacts.get(name) for name in PERMIT_CONTACTS},
        permit_left_s=turn.permit_left_s,
        pause_left_s=turn.pause_left_s,
        allowed=judge.allowed(turn),
        forbids_reset=forbids.of_reset(turn),
        release=forbids.release_of(turn),
        forbids_release=forbids.of_release(turn) if in_release else (),
        cycle=None if memory.cycle is None else memory.cycle.id,
        commanding=facts.screen.client,
        feed_hold_asked_s=turn.now_s - memory.entered_s if stopped else None,
        log_writing=any(row.code == "log_committing" and row.holds for row in rows),
        shelved=_shelved(turn),
        bypasses=_bypasses(turn),
        person=facts.people.name,
        role=facts.people.role,
        details=_details(turn),
    )
