"""The instrument: R from 0 to 200 %, the same for every job, with the gauge's last minute.

R and the gauge lie on one straight scale: R = 1 + (gauge - required) / minimum.  So the trace is
the gauge's own, drawn against the level the gauge must show, never against the bare minimum.
"""

from __future__ import annotations

from kiosk.interlock.snapshot import HoldShown, Snapshot
from kiosk.screen.show import numbers
from kiosk.screen.show.shown import Desk, Mark, Scale
from kiosk.words import Words

TOP_RATIO = 2.0
IN_CUT = ("CUTTING", "LOW HOLD", "HOLD LOST")


def ratio_at(hold: HoldShown, vacuum_kpa: float | None) -> float | None:
    """R that a gauge value means; None while no minimum is known."""
    if vacuum_kpa is None or hold.required_kpa is None or not hold.minimum_kpa:
        return None
    return 1.0 + (vacuum_kpa - hold.required_kpa) / hold.minimum_kpa


def hold_scale(words: Words, snapshot: Snapshot, desk: Desk, should: bool = False) -> Scale:
    """R against 100 % and the start level; ``should`` adds what the gauge should read."""
    hold = snapshot.hold
    marks = [
        _mark(words, hold, hold.required_kpa, "minimum", "limit"),
        _mark(words, hold, hold.start_kpa, "start", "level"),
    ]
    if should:
        marks.append(_mark(words, hold, hold.predicted_kpa, "should", "hint"))
    return Scale(
        level=None if hold.ratio is None else _share(hold.ratio),
        marks=tuple(mark for mark in marks if mark is not None),
        top=numbers.tied(f"{round(TOP_RATIO * 100)} {words.say('number.percent_sign')}"),
        tone=_tone(snapshot),
        trace=tuple(_column(hold, low_high) for low_high in desk.trace),
        window=words.say("scale.window"),
        now=words.say("scale.now"),
    )


def release_scale(words: Words, snapshot: Snapshot, desk: Desk, vented_kpa: float) -> Scale:
    """Vacuum from none to the local air pressure, with the level that counts as vented."""
    air, vacuum = snapshot.air_kpa, vacuum_kpa(snapshot)
    vented = Mark(
        vented_kpa / air, numbers.level(words, vented_kpa), words.say("scale.vented"), "limit"
    )
    return Scale(
        level=None if vacuum is None else min(1.0, max(0.0, vacuum / air)),
        marks=(vented,),
        top=numbers.measured(words, air),
        tone="none" if vacuum is None else "plain",
        trace=tuple(None if c is None else (c[0] / air, c[1] / air) for c in desk.trace),
        window=words.say("scale.window"),
        now=words.say("scale.now"),
    )


def _share(ratio: float) -> float:
    return min(1.0, max(0.0, ratio / TOP_RATIO))


def _tone(snapshot: Snapshot) -> str:
    """The alarm colour only where a low hold is an alarm; before a start it is the ordinary way."""
    ratio = snapshot.hold.ratio
    if ratio is None:
        return "none"
    return "lost" if ratio < 1.0 and snapshot.state in IN_CUT else "plain"


def _column(hold: HoldShown, low_high: tuple[float, float] | None) -> tuple[float, float] | None:
    if low_high is None:
        return None
    low, high = ratio_at(hold, low_high[0]), ratio_at(hold, low_high[1])
    return None if low is None or high is None else (_share(low), _share(high))


def _mark(
    words: Words, hold: HoldShown, vacuum_kpa: float | None, name: str, weight: str
) -> Mark | None:
    ratio = ratio_at(hold, vacuum_kpa)
    if ratio is None:
        return None
    said = numbers.about if weight == "hint" else numbers.level
    title = words.say(f"scale.{name}")
    if weight != "hint":
        title = f"{round(ratio * 100)}{numbers.NBSP}% {title}"
    return Mark(_share(ratio), said(words, vacuum_kpa), title, weight)


def vacuum_kpa(snapshot: Snapshot) -> float | None:
    """What the deciding gauge shows; without a plan, the lowest of the gauges at the table."""
    if snapshot.hold.vacuum_kpa is not None:
        return snapshot.hold.vacuum_kpa
    values = [g.vacuum_kpa for g in snapshot.gauges if g.role == "table"]
    known = [value for value in values if value is not None]
    return min(known) if known and len(known) == len(values) else None
