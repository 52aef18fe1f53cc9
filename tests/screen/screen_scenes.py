"""Snapshots and a plan of our own invention, one scene for each thing a screen may have to show."""

from __future__ import annotations

from dataclasses import replace

from screen_plan import plan

from kiosk.interlock.snapshot import (
    AlarmShown,
    GaugeShown,
    HoldShown,
    JobShown,
    PermissiveShown,
    Snapshot,
    ZoneShown,
)
from kiosk.job.plan import Finding, Plan
from kiosk.screen.show import show
from kiosk.screen.show.shown import Desk, Shown
from kiosk.words import load

WORDS = load()

PERMISSIVES = (
    "self_test", "log_has_room", "log_committing", "screen_there", "inputs_known", "key_off",
    "stop_chain_closed", "contacts_as_written", "gauge_fresh", "gauge_good", "gauge_plausible",
    "gauges_agree", "gauge_in_date", "minimum_known", "seats_confirmed", "part_confirmed",
    "alarms_clear", "no_service", "signed_on", "cautions_read", "hold_enough", "hold_settled",
    "asked",
)  # fmt: skip
ALARMS = {
    "A01": 1, "A02": 1, "A03": 1, "A04": 1, "A05": 2, "A06": 2, "A07": 2, "A08": 2, "A09": 2,
    "A10": 2, "A11": 2, "A12": 1, "A13": 2, "A14": 3, "A15": 3, "A16": 3, "A17": 3, "A18": 3,
    "A19": 3, "A20": 3, "A21": 3, "A22": 1, "A23": 2, "A24": 1, "A25": 2,
    "A26": 1, "A27": 2,
}  # fmt: skip


def zones(confirmed: str = "", kept: bool = False) -> tuple[ZoneShown, ...]:
    """The plan's zones, those named confirmed."""
    return tuple(
        ZoneShown(z.name, z.up, z.down, z.name in confirmed and not kept, kept)
        for z in plan().zones
    )


def permissives(missing: tuple[str, ...] = ()) -> tuple[PermissiveShown, ...]:
    """All conditions, those named missing."""
    values = {
        "hold_enough": (1.08, 1.15, "ratio"), "hold_settled": (-0.2, 0.5, "kPa/s"),
        "gauge_fresh": (0.04, 0.5, "s"), "log_has_room": (0.304, 0.05, "share"),
        "log_committing": (0.4, 5.0, "s"), "screen_there": (0.04, 2.0, "s"),
        "gauge_plausible": (57.2, 99.9, "kPa"), "gauges_agree": (0.42, 3.0, "kPa"),
        "minimum_known": (34.4, None, "kPa"),
    }  # fmt: skip
    return tuple(
        PermissiveShown(code, code not in missing, *values.get(code, (None, None, "")))
        for code in PERMISSIVES
    )


def kept() -> tuple[PermissiveShown, ...]:
    """All there but the request: the hold is proved, and judged by the lower level."""
    return tuple(
        replace(row, value=2.47, limit=1.1) if row.code == "hold_enough" else row
        for row in permissives(("asked",))
    )


def alarm(code: str, **more: object) -> AlarmShown:
    """One active, unseen alarm."""
    priority = ALARMS[code]
    row = AlarmShown(
        code, priority, True, False, priority == 1, False, 12.0, "2026-11-25T09:47:12Z", None,
        None, "", raised_utc="2026-11-25T09:48:30Z",
    )  # fmt: skip
    return replace(row, **more)  # type: ignore[arg-type]


def hold(vacuum_kpa: float | None = 66.0, slope: float | None = 0.0, **more: object) -> HoldShown:
    """The hold at a gauge value, on the plan's levels (R = (gauge - 3) / 50)."""
    ratio = None if vacuum_kpa is None else (vacuum_kpa - 3.0) / 50.0
    row = HoldShown(
        gauge="table", vacuum_kpa=vacuum_kpa, ratio=ratio, minimum_kpa=50.0, required_kpa=53.0,
        start_kpa=60.5, predicted_kpa=68.0, slope_kpa_per_s=slope, time_left_s=None, settled=True,
        drawing_down_s=None,
    )  # fmt: skip
    return replace(row, **more)  # type: ignore[arg-type]


NO_HOLD = HoldShown(None, 0.0, None, None, None, None, None, 0.0, None, None, None)
JOBS = (
    JobShown("shelf-rail.job.toml", "SR-210", "Shelf rail, beech", "C", None),
    JobShown("cover-plate.job.toml", "CP-044", "Cover plate, HDPE", "A", None),
    JobShown("base-flange.job.toml", "BF-118", "Base flange, aluminium", "B", None),
)
OLDER = tuple(
    JobShown(f"shelf-rail-{rev}.job.toml", "SR-210", "Shelf rail, beech", rev,
             f'shelf-rail-{rev}.job.toml: id "SR-210", revision "{rev}", is superseded by id '
             '"SR-210", revision "C", in shelf-rail.job.toml: take it')
    for rev in ("B", "A", "3", "2")
)  # fmt: skip
BAD_JOB = JobShown(
    "bracket.job.toml", "", "", "", "bracket.job.toml:14: no key 'thicknes_mm'; write thickness_mm"
)
BAD_JOBS = (
    BAD_JOB,
    *(
        JobShown(f"plate-{n}.job.toml", "PL-001", "Plate", "A",
                 f'plate-{n}.job.toml: id "PL-001", revision "A", is also in plate-{3 - n}.job.toml'
                 ": give each its own revision or id")
        for n in (1, 2)
    ),
    JobShown("lid.job.toml", "", "", "", "lid.job.toml:8: expected newline or end of document"),
)  # fmt: skip


def snapshot(state: str, **more: object) -> Snapshot:
    """A snapshot of the state with the plan adopted, everything else at rest."""
    row = Snapshot(
        epoch="e1", seq=1, at_s=100.0, utc="2026-11-25T09:42:00Z", state=state,
        flags=("SIMULATED",), site="Router 2", air_kpa=99.9, waiting_for=(), plan="d" * 64,
        job_id="SR-210", job_title="Shelf rail, beech", job_revision="C", planning=None,
        refusal=None, jobs=JOBS, gauges=(GaugeShown("table", "table", 66.0, 0.02, "", None, 20.0,
                                                    1.26),),
        hold=hold(), zones=zones("ABCDEF"), seats_up=18, seats_to_turn_up=18, map_kept=False,
        part_confirmed=True, warnings=(), permissives=permissives(), alarms=(),
        inputs={"cycle_running": False, "standstill": True}, outputs={}, contacts={},
        permit_left_s=None, pause_left_s=None, allowed=(), forbids_reset=(), release=None,
        forbids_release=(), cycle="c1", commanding="me", log_writing=True,
    )  # fmt: skip
    return replace(row, **more)  # type: ignore[arg-type]


def no_plan(state: str, **more: object) -> Snapshot:
    """A snapshot before any job."""
    row = snapshot(
        state, plan=None, job_id=None, job_title=None, job_revision=None, hold=NO_HOLD, zones=(),
        seats_up=0, seats_to_turn_up=0, part_confirmed=False, permissives=(), cycle=None,
        allowed=("select_job",),
    )  # fmt: skip
    return replace(row, **more)  # type: ignore[arg-type]


def trace(level_kpa: float, count: int = 300, fall: float = 0.0) -> tuple[tuple[float, float], ...]:
    """A minute of gauge values ending at the level, a little uneven like a real one."""
    columns = []
    for at in range(count):
        middle = level_kpa + fall * (count - at) / count + ((at * 7919) % 13 - 6) * 0.05
        columns.append((middle - 0.2, middle + 0.2))
    return tuple(columns)


DESK = Desk(silent_s=0.05, clock="10:42", trace=trace(66.0), utc_offset_s=3600)
CHECK_COMMANDS = ("cancel_job", "undo_zone", "finish")


def scenes() -> dict[str, tuple[Snapshot | None, Desk]]:
    """Every picture by name."""
    part = {"zones": zones("ABCDEF"), "seats_up": 18, "part_confirmed": False, "hold": hold(0.4)}
    setup_allowed = ("confirm_zone", "undo_zone", "cancel_job", "confirm_part")
    lost = {
        "alarms": (
            alarm("A01", first=True), alarm("A06", active=False), alarm("A05", active=False)),
        "hold": hold(46.0, -0.8), "inputs": {"cycle_running": True, "standstill": False},
        "allowed": ("acknowledge",), "forbids_reset": ("standstill_unknown", "cause_missing"),
        "flags": ("SIMULATED",),
    }  # fmt: skip
    low = {
        "alarms": (alarm("A06"),), "hold": hold(56.8, -0.1, time_left_s=38.0),
        "allowed": ("acknowledge",),
    }  # fmt: skip
    flat = replace(DESK, trace=())
    vented = replace(DESK, trace=trace(0.4))
    return {
        "starting": (
            no_plan("STARTING", waiting_for=("gauge:table", "inputs", "contacts")), flat),
        "select-job": (no_plan("SELECT JOB"), vented),
        "select-job-refused": (
            no_plan("SELECT JOB", jobs=(*JOBS, BAD_JOB), refusal=(
                "The piece at (120, 80) is left on 2 cups after the cut in line 212; it needs "
                "more than the pump can give."), details={"refused_job": JOBS[1].file}), vented),
        "select-job-older": (
            no_plan("SELECT JOB", jobs=(*JOBS, *OLDER, BAD_JOB)), replace(
                vented, notice="No job XYZ-9 in the folder")),
        "select-job-unusable": (no_plan("SELECT JOB", jobs=(*JOBS, *BAD_JOBS)), vented),
        "unusable": (
            no_plan("SELECT JOB", jobs=(*JOBS, *BAD_JOBS)), replace(vented, overlay="unusable")),
        "planning": (no_plan("SELECT JOB", planning="SR-210"), vented),
        "set-up": (
            snapshot("SET UP", zones=zones("ABCD"), seats_up=11, part_confirmed=False,
                     hold=hold(0.4), allowed=setup_allowed), vented),
        "set-up-flat": (
            snapshot("SET UP", zones=zones(), seats_up=0, part_confirmed=False,
                     hold=hold(0.4), allowed=setup_allowed), vented),
        "set-up-blocked": (
            snapshot("SET UP", zones=zones("ABC"), seats_up=5, part_confirmed=False,
                     hold=hold(0.4), allowed=setup_allowed), vented),
        "set-up-part": (snapshot("SET UP", allowed=setup_allowed, **part), vented),
        "set-up-part-warnings": (
            snapshot("SET UP", allowed=setup_allowed, warnings=("flex_over_limit", "loose_offcut"),
                     **part), replace(vented, ticked=frozenset({"loose_offcut"}))),
        "set-up-part-warnings-one": (
            snapshot("SET UP", allowed=setup_allowed, warnings=("loose_offcut",), **part), vented),
        "set-up-part-warnings-read": (
            snapshot("SET UP", allowed=setup_allowed, warnings=("flex_over_limit", "loose_offcut"),
                     **part),
            replace(vented, ticked=frozenset({"loose_offcut", "flex_over_limit"}))),
        "set-up-kept": (
            snapshot("SET UP", zones=zones(kept=True), map_kept=True, part_confirmed=False,
                     hold=hold(0.4), allowed=("confirm_map", "cancel_job")), vented),
        "checking": (
            snapshot("CHECKING", permissives=permissives(("hold_enough", "asked")),
                     hold=hold(57.2, 0.1), allowed=CHECK_COMMANDS), replace(
                         DESK, trace=trace(57.2, fall=-20.0))),
        "checking-advice": (
            snapshot("CHECKING", permissives=permissives(("hold_settled", "asked")),
                     flags=("ADVICE ONLY", "SIMULATED"), person="Supervisor 1", role="supervisor",
                     allowed=CHECK_COMMANDS), DESK),
        "checking-no-data": (
            snapshot("CHECKING", flags=("SIMULATED", "NO DATA"), hold=hold(None, None),
                     permissives=permissives(("gauge_fresh", "gauge_good", "hold_enough",
                                              "hold_settled", "asked")),
                     allowed=CHECK_COMMANDS), flat),
        "ready": (
            snapshot("READY", permissives=permissives(("asked",)),
                     allowed=(*CHECK_COMMANDS, "request_permit")), DESK),
        "permit": (snapshot("PERMIT", permit_left_s=43.4, allowed=("withdraw",)), DESK),
        "paused": (
            snapshot("PAUSED", pause_left_s=96.0, allowed=("withdraw", "finish")), DESK),
        "cutting": (snapshot("CUTTING", hold=hold(66.4, -0.02)), DESK),
        "cutting-near": (
            snapshot("CUTTING", hold=hold(72.0, -1.9, time_left_s=6.4)),
            replace(DESK, trace=trace(72.0, fall=9.0))),
        "low-hold": (snapshot("LOW HOLD", **low), replace(DESK, trace=trace(56.8, fall=9.0))),
        "hold-lost": (snapshot("HOLD LOST", **lost), replace(DESK, trace=trace(46.0, fall=20.0))),
        "hold-lost-reads-only": (
            snapshot("HOLD LOST", alarms=(alarm("A01", first=True),), hold=hold(61.0),
                     allowed=("acknowledge", "reset"), forbids_reset=("cause_missing",)),
            replace(DESK, reads_only=True)),
        "low-hold-reads-only": (
            snapshot("LOW HOLD", **low),
            replace(DESK, reads_only=True, trace=trace(56.8, fall=9.0))),
        "alarm-list-reads-only": (
            snapshot("HOLD LOST", **lost), replace(DESK, reads_only=True, overlay="alarms")),
        "ready-reads-only": (
            snapshot("READY", permissives=kept(), allowed=("request_permit", "finish")),
            replace(DESK, reads_only=True)),
        "hold-lost-resettable": (
            snapshot("HOLD LOST", alarms=(alarm("A01", first=True, acknowledged=True),),
                     hold=hold(61.0), allowed=("reset",), forbids_reset=("cause_missing",)),
            DESK),
        "causes": (
            snapshot("HOLD LOST", alarms=(alarm("A01", first=True, acknowledged=True),),
                     hold=hold(61.0), allowed=("reset",), forbids_reset=("cause_missing",)),
            replace(DESK, overlay="causes", cause="leak_at_edge")),
        "no-permit": (
            snapshot("NO PERMIT", alarms=(alarm("A22", first=True),), hold=hold(12.0),
                     allowed=("acknowledge",), forbids_reset=("cycle_running",),
                     inputs={"cycle_running": True, "standstill": False}),
            replace(DESK, trace=trace(12.0))),
        "release-not-yet": (
            snapshot("RELEASE", release="not_yet", forbids_release=("standstill_unknown",)), DESK),
        "release-may": (snapshot("RELEASE", release="may_release"), DESK),
        "release-vented": (
            snapshot("RELEASE", release="vented", hold=hold(0.4),
                     allowed=("next_part", "job_done")), vented),
        "part-held-advice": (
            no_plan("PART HELD", hold=replace(NO_HOLD, vacuum_kpa=48.2),
                    flags=("ADVICE ONLY", "SIMULATED"), allowed=("retake_plan", "finish"),
                    site="Demonstration router, hall 2",
                    details={"kept": {"job_id": "CP-045-B", "title": "Cover panel, PMMA"}},
                    person="Supervisor 1", role="supervisor"),
            replace(DESK, trace=trace(48.2))),
        "part-held": (
            no_plan("PART HELD", hold=replace(NO_HOLD, vacuum_kpa=48.2),
                    allowed=("retake_plan", "finish"), forbids_release=("standstill_unknown",)),
            replace(DESK, trace=trace(48.2))),
        "permit-list": (
            snapshot("CHECKING", permissives=permissives(("hold_enough", "hold_settled", "asked")),
                     hold=hold(57.2, 0.9), allowed=CHECK_COMMANDS),
            replace(DESK, overlay="permissives")),
        "permit-list-ready": (
            snapshot("READY", permissives=kept(), hold=hold(126.5),
                     allowed=(*CHECK_COMMANDS, "request_permit")),
            replace(DESK, overlay="permissives")),
        "alarm-list": (snapshot("HOLD LOST", **lost), replace(DESK, overlay="alarms")),
        "alarm-list-calibration": (
            no_plan("SELECT JOB", alarms=(alarm("A19", value=12.0, limit=30.0, unit="d"),),
                    allowed=("acknowledge",),
                    details={"calibration": {"gauge": "table-2", "due": "2026-12-10"}}),
            replace(vented, overlay="alarms")),
        "details": (
            snapshot("READY", permissives=permissives(("asked",)),
                     allowed=(*CHECK_COMMANDS, "request_permit")),
            replace(DESK, overlay="details")),
        "details-job": (
            snapshot("CHECKING", allowed=CHECK_COMMANDS),
            replace(DESK, overlay="details", page=1)),
        "details-table": (
            snapshot("CHECKING", allowed=CHECK_COMMANDS),
            replace(DESK, overlay="details", page=2)),
        "no-link": (snapshot("CUTTING"), replace(DESK, silent_s=4.2)),
        "epoch-changed": (
            snapshot("SET UP", zones=zones(kept=True), map_kept=True, part_confirmed=False,
                     hold=hold(0.4), allowed=("confirm_map", "cancel_job")),
            replace(vented, notice="Watching began again. No permit stands: look and confirm.")),
    }  # fmt: skip


FINDINGS = (
    Finding("flex_over_limit", "warning",
            "The sheet bends 0.31 mm under tool 3 at (410, 220), limit 0.20 mm."),
    Finding("loose_offcut", "warning",
            "The cut ending in line 190 frees a piece of 60 x 40 mm on no cup."),
)  # fmt: skip


def plan_with_findings() -> Plan:
    """The plan with two warnings."""
    return replace(plan(), findings=(*plan().findings, *FINDINGS))


def shown(snap: object, desk: object = DESK, a_plan: object = "same") -> Shown:
    """What the screen says of it; with the plan of the scenes unless another is given."""
    return show(WORDS, snap, plan() if a_plan == "same" else a_plan, desk)  # type: ignore[arg-type]


def plain(text: str) -> str:
    """Without the spaces that keep words together."""
    return text.replace("\u00a0", " ")
