"""One whole cycle of the demo, with a leak in the cut, in the order in which it happens."""

from __future__ import annotations

from kiosk.demo.play import Missed, Play, cups_up, kpa, percent
from kiosk.interlock.snapshot import Snapshot
from kiosk.job.plan import Plan

JOB = "shelf-rail.job.toml"
REFUSED_JOB = "bracket-pair.job.toml"
LEAK_MM = 6.0  # bore of the leak before its first step
MOST_STEPS, LOOK_S = 120, 0.6
FALL_KPA_PER_S = 1.5  # while it falls faster the leak is not opened further
NEAR = 1.8  # R below which the leak grows in small steps
VERY_NEAR, SLOW_KPA_PER_S = 1.35, 0.6  # and slowly, so that the warning has its time


def play(cycle: Play) -> str:
    """Play it all; the id of the logged cycle.  Raises Missed at the first step that is not."""
    begin(cycle)
    refused_job(cycle)
    set_up(cycle, choose(cycle))
    prove(cycle)
    ident = start(cycle)
    lose(cycle)
    reset(cycle)
    release(cycle)
    return ident


def begin(cycle: Play) -> None:
    """The guard is there, offers the jobs and gives no contact."""
    shown = cycle.until(
        "the guard offers the jobs", lambda s: s.state == "SELECT JOB" and bool(s.jobs), 30.0
    )
    if "SIMULATED" not in shown.flags or shown.outputs["start_permit"]:
        raise Missed("a simulated machine that says so, with the start withheld")
    cycle.tell(f"SIMULATED machine {shown.site}: {len(shown.jobs)} jobs, start withheld")


def refused_job(cycle: Play) -> None:
    """A job that does not hold is refused with a reason."""
    cycle.command("select_job", job=REFUSED_JOB)
    shown = cycle.until("the job is refused", lambda s: s.refusal is not None, 60.0)
    if shown.plan is not None:
        raise Missed("a refused job must not be adopted")
    cycle.tell(f"job {REFUSED_JOB} refused: {shown.refusal}")


def choose(cycle: Play) -> Plan:
    """The job is planned and adopted."""
    cycle.command("select_job", job=JOB)
    shown = cycle.state("SET UP", 60.0)
    plan = cycle.plan(shown.plan)
    cycle.tell(
        f"job {plan.job_id} {plan.title}: minimum {kpa(plan.minimum_kpa)}, the gauge must show "
        f"{kpa(plan.start_kpa)} to start"
    )
    return plan


def set_up(cycle: Play, plan: Plan) -> None:
    """Cups turned up, zones confirmed one by one, then the part with what was warned of."""
    up = cups_up(plan)
    cycle.act("seats", up=up, covered=up)
    for zone in plan.zones:
        cycle.command("confirm_zone", zone=zone.name)
    cycle.until("all zones confirmed", lambda s: all(z.confirmed for z in s.zones), 3.0)
    cycle.tell(f"{len(plan.zones)} zones confirmed, {up} cups up")
    cycle.command("confirm_part", warnings=list(plan.warnings))
    cycle.state("CHECKING", 3.0)
    cycle.tell(f"part confirmed, warnings read: {', '.join(plan.warnings) or 'none'}")


def prove(cycle: Play) -> None:
    """Vacuum is drawn and the hold proved, held and settled."""
    cycle.act("vacuum", on=True)
    shown = cycle.until("vacuum rises", lambda s: (s.hold.vacuum_kpa or 0.0) > 10.0, 15.0)
    cycle.tell(f"vacuum on, drawing down: {kpa(shown.hold.vacuum_kpa)}")
    shown = cycle.state("READY", 40.0)
    cycle.tell(f"hold proved: {kpa(shown.hold.vacuum_kpa)}, R {percent(shown.hold.ratio)}")


def start(cycle: Play) -> str:
    """The permit is asked for and given, and the machine starts; the cycle's id."""
    cycle.command("request_permit")
    shown = cycle.until(
        "the module reports START PERMIT closed",
        lambda s: s.state == "PERMIT" and s.contacts.get("start_permit") is True,
        3.0,
    )
    cycle.tell("permit asked for and given; the module reports START PERMIT closed")
    cycle.act_soon("cycle_start", 2.0, force=False)
    shown = cycle.state("CUTTING", 3.0)
    cycle.tell(f"cutting, R {percent(shown.hold.ratio)}")
    if shown.cycle is None:
        raise Missed("a cycle is open while cutting")
    return shown.cycle


def lose(cycle: Play) -> None:
    """A leak opens in the cut, wider and wider: first the warning, then the loss."""
    bore_mm = _widen(cycle, "LOW HOLD", LEAK_MM)
    shown = cycle.now
    cycle.tell(
        f"leak of {bore_mm:.1f} mm in the cut: LOW HOLD at {kpa(shown.hold.vacuum_kpa)}, "
        f"R {percent(shown.hold.ratio)}"
    )
    bore_mm = _widen(cycle, "HOLD LOST", bore_mm)
    shown = cycle.now
    first = next((alarm.code for alarm in shown.alarms if alarm.first), None)
    cycle.tell(
        f"leak of {bore_mm:.1f} mm: HOLD LOST at {kpa(shown.hold.vacuum_kpa)}, "
        f"R {percent(shown.hold.ratio)}, first alarm {first}"
    )
    cycle.machine_is("the machine holds", lambda m: m["held_by_contact"], 3.0)
    cycle.tell("feed hold asked for by HOLD HEALTHY, the machine holds; vacuum stays on")


def _widen(cycle: Play, word: str, bore_mm: float) -> float:
    """Open the leak further, step by step, until the state is there; the bore in mm."""
    before_kpa = cycle.now.hold.vacuum_kpa
    for _ in range(MOST_STEPS):
        bore_mm += _step_mm(cycle.now, before_kpa)
        before_kpa = cycle.now.hold.vacuum_kpa
        cycle.act("leak", bore_mm=bore_mm, over_s=0.5)
        try:
            shown = cycle.until(word, lambda s: s.state in (word, "HOLD LOST"), LOOK_S)
        except Missed:
            continue
        if shown.state != word:
            raise Missed(f"{word} before {shown.state}, with a leak of {bore_mm:.1f} mm")
        return bore_mm
    raise Missed(f"{word} with a leak of {bore_mm:.1f} mm")


def _step_mm(shown: Snapshot, before_kpa: float | None) -> float:
    """How much further: nothing while the hold is falling, little when it is near."""
    ratio, now_kpa = shown.hold.ratio or 0.0, shown.hold.vacuum_kpa
    fallen_kpa = (before_kpa or 0.0) - (now_kpa or 0.0)
    if fallen_kpa > LOOK_S * (SLOW_KPA_PER_S if ratio < VERY_NEAR else FALL_KPA_PER_S):
        return 0.0
    return 0.1 if ratio < NEAR else 0.5


def reset(cycle: Play) -> None:
    """The machine stands, the leak is closed, and the loss is reset with its cause."""
    cycle.act("cycle_end")
    cycle.until("the machine stands", lambda s: s.inputs.get("standstill") is True, 20.0)
    cycle.tell("machine stopped, standstill reported")
    cycle.act("leak", bore_mm=0.0)
    cycle.command("acknowledge", alarm=[alarm.code for alarm in cycle.now.alarms])
    cycle.until("reset is allowed", lambda s: not s.forbids_reset, 5.0)
    cycle.command("reset", cause="leak_at_edge")
    cycle.state("RELEASE", 3.0)
    cycle.tell("alarm seen, reset with cause: leak at the edge")


def release(cycle: Play) -> None:
    """The part is released, the vacuum gone, the job done."""
    cycle.until("may release", lambda s: s.release == "may_release", 5.0)
    cycle.act("vacuum", on=False)
    cycle.act("release")
    shown = cycle.until("vented", lambda s: s.release == "vented", 20.0)
    cycle.tell(f"released and vented: {kpa(shown.hold.vacuum_kpa)}")
    cycle.command("job_done")
    cycle.until("job done", lambda s: s.state == "SELECT JOB" and s.cycle is None, 3.0)
    cycle.tell("job done")
