"""The instrument: one fixed scale for every job and view, vacuum from none to local air pressure.

The column and the gauge's last minute are drawn in kPa against the levels that the gauge must
show (required and start, never the bare minimum), so a fall shows wherever it begins.  R in per
cent is said in digits beside it, and the two levels are marked in kPa and in per cent.
"""

from __future__ import annotations

from typing import Any

from kiosk.interlock.snapshot import HoldShown, Snapshot
from kiosk.limits import Limits
from kiosk.screen.show import numbers
from kiosk.screen.show.drawn import Mark, Scale
from kiosk.screen.show.shown import Desk
from kiosk.words import Words

VENTED_KPA = Limits().vented_kpa
IN_CUT = ("CUTTING", "LOW HOLD", "HOLD LOST")


def ratio_at(hold: HoldShown, vacuum_kpa: float | None) -> float | None:
    """R that a gauge value means; None while no minimum is known."""
    if vacuum_kpa is None or hold.required_kpa is None or not hold.minimum_kpa:
        return None
    return 1.0 + (vacuum_kpa - hold.required_kpa) / hold.minimum_kpa


def hold_scale(
    words: Words, snapshot: Snapshot, desk: Desk, should: bool = False, narrow: bool = False
) -> Scale:
    """Vacuum against what must be shown; ``should`` adds what the gauge should read.

    ``narrow``: each mark's kPa stands with its name, for a place without room at the left.
    """
    hold, air_kpa = snapshot.hold, snapshot.air_kpa
    marks = [
        _mark(words, snapshot, hold.required_kpa, "required", "limit"),
        _mark(words, snapshot, hold.start_kpa, "start", "level"),
    ]
    if should:
        marks.append(_mark(words, snapshot, hold.predicted_kpa, "should", "hint"))
    there = tuple(mark for mark in marks if mark is not None)
    return Scale(
        level=_share(hold.vacuum_kpa, air_kpa),
        marks=tuple(map(_narrow, there)) if narrow else there,
        top=numbers.about(words, air_kpa),
        tone=_tone(snapshot),
        **_trace(words, snapshot, desk),
    )


def release_scale(words: Words, snapshot: Snapshot, desk: Desk) -> Scale:
    """The same scale with the level that counts as vented."""
    air_kpa, vacuum = snapshot.air_kpa, vacuum_kpa(snapshot)
    level_kpa = vented_kpa(snapshot)
    said = numbers.level(words, level_kpa)
    vented = Mark(level_kpa / air_kpa, said, words.say("scale.vented"), "limit")
    return Scale(
        level=_share(vacuum, air_kpa),
        marks=(vented,),
        top=numbers.about(words, air_kpa),
        tone="none" if vacuum is None else "plain",
        **_trace(words, snapshot, desk),
    )


def _trace(words: Words, snapshot: Snapshot, desk: Desk) -> dict[str, Any]:
    """The last minute and the words of its axis."""
    return {
        "trace": tuple(_column(low_high, snapshot.air_kpa) for low_high in desk.trace),
        "window": words.say("scale.window"),
        "ago": words.say("scale.ago"),
        "half": words.say("scale.half"),
        "now": words.say("scale.now"),
    }


def _share(vacuum_kpa: float | None, air_kpa: float) -> float | None:
    return None if vacuum_kpa is None else min(1.0, max(0.0, vacuum_kpa / air_kpa))


def _tone(snapshot: Snapshot) -> str:
    """The alarm colour only where a low hold is an alarm; before a start it is the ordinary way."""
    ratio = snapshot.hold.ratio
    if snapshot.hold.vacuum_kpa is None:
        return "none"
    return "lost" if ratio is not None and ratio < 1.0 and snapshot.state in IN_CUT else "plain"


def _column(low_high: tuple[float, float] | None, air_kpa: float) -> tuple[float, float] | None:
    if low_high is None:
        return None
    low, high = _share(low_high[0], air_kpa), _share(low_high[1], air_kpa)
    return None if low is None or high is None else (low, high)


def _mark(
    words: Words, snapshot: Snapshot, vacuum_kpa: float | None, name: str, weight: str
) -> Mark | None:
    ratio, share = ratio_at(snapshot.hold, vacuum_kpa), _share(vacuum_kpa, snapshot.air_kpa)
    if ratio is None or share is None:
        return None
    said = numbers.about if weight == "hint" else numbers.level
    title = words.say(f"scale.{name}")
    if weight != "hint":
        title = f"{round(ratio * 100)}{numbers.NBSP}% {title}"
    return Mark(share, said(words, vacuum_kpa), title, weight)


def _narrow(mark: Mark) -> Mark:
    return Mark(mark.level, "", f"{mark.left} {mark.right.split('% ')[-1]}", mark.weight)


def vacuum_kpa(snapshot: Snapshot) -> float | None:
    """What the deciding gauge shows; without a plan, the lowest of the gauges at the table."""
    if snapshot.hold.vacuum_kpa is not None:
        return snapshot.hold.vacuum_kpa
    values = [g.vacuum_kpa for g in snapshot.gauges if g.role == "table"]
    known = [value for value in values if value is not None]
    return min(known) if known and len(known) == len(values) else None


def vented_kpa(snapshot: Snapshot) -> float:
    """The level that counts as vented: the guard's own, from the site; else the ordinary one."""
    value = snapshot.details.get("vented_kpa")
    return float(value) if isinstance(value, int | float) else VENTED_KPA
