"""``holdpoint measure cutting``: cutting force from spindle power, walked through."""

from __future__ import annotations

import argparse
from dataclasses import replace

from kiosk.hold.cutter import WEAR
from kiosk.hold.materials import Kienzle, Material
from kiosk.measure.friction import MATERIAL, more_wanted
from kiosk.measure.keep import cut_row
from kiosk.measure.questions import Question
from kiosk.measure.session import (
    WHO,
    ShopSession,
    common_arguments,
    shop_arguments,
    shop_session_of,
)
from kiosk.shop import CutTest
from kiosk.shop.cutting import GRAINS, check_geometry, grained
from kiosk.shop.repeats import up

CAUTIONS = (
    "Operating aid, not a safety device. The machine maker's instructions and local rules come "
    "first.",
    "This is a cut like any other: check the job, prove the hold, close the guard, nobody in "
    "line with the table.",
    "Read the power at the operator's place. Do not open or reach in to read it. When something "
    "sounds or looks wrong: feed hold.",
)
STEPS = (
    "Let the spindle turn in air at the speed you named until the power is steady; note it.",
    "Cut the width and depth you named in a straight line, long enough for the power to settle.",
    "Note the power in W in the middle of the cut. Per cent of current is not power.",
    "Cut again beside it, in the same stuff, with the same tool.",
)
GRAIN = Question("grain", "Grain: across for a slot, along only for a narrow side cut along it",
                 "choice", GRAINS)  # fmt: skip
EDGE = Question("edge", "Edge of the tool", "choice", tuple(WEAR))
DIAMETER = Question("diameter_mm", "Diameter of the tool, mm", "number", low=0.1, high=400.0)
FLUTES = Question("flutes", "Flutes", "whole", low=1, high=24)
DEPTH = Question("depth_mm", "Depth of the cut, mm", "number", low=0.05, high=200.0)
WIDTH = Question("width_mm", "Width of the cut, mm (a slot: the diameter)", "number", low=0.05,
                 high=400.0)  # fmt: skip
FEED = Question("feed_mm_min", "Feed as run, mm/min", "number", low=10.0, high=100_000.0)
SPEED = Question("spindle_rpm", "Spindle speed as run, 1/min", "number", low=100.0, high=100_000.0)
EFFICIENCY = Question("efficiency", "Share of the power read that reaches the cutter", "number",
                      low=0.5, high=1.0, default=1.0)  # fmt: skip
IDLE = Question("idle_w", "Power in air, W", "numbers", low=1.0, high=200_000.0)
POWERS = Question("power_w", "Power in the cut, W", "numbers", low=1.0, high=200_000.0)
QUESTIONS = (MATERIAL, GRAIN, EDGE, DIAMETER, FLUTES, DEPTH, WIDTH, FEED, SPEED, EFFICIENCY, IDLE,
             POWERS)  # fmt: skip
_OPTION_OF = {"width_mm": WIDTH, "grain": GRAIN, "idle_w": IDLE, "feed_mm_min": FEED}


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of ``measure cutting``."""
    common_arguments(parser, QUESTIONS)
    shop_arguments(parser)


def main(args: argparse.Namespace) -> int:
    """Measure; 0 when there is a number, 1 when not.  Raises ``BadInput``."""
    session = shop_session_of(args)
    if not session.cautions("Cutting force of a material, from the spindle's power.", CAUTIONS):
        return 1
    test = _set_up(session)
    if session.asker.talks:
        session.asker.settle()
    material = session.shop.materials.by_key[test.material]
    test = _read(session, test, material)
    _check(session, test)
    return _conclude(session, test, material)


def _set_up(session: ShopSession) -> CutTest:
    """Everything but the readings."""
    asker = session.asker
    key = asker.word(replace(MATERIAL, allowed=tuple(session.shop.materials.by_key)))
    material = session.shop.materials.by_key[key]
    return CutTest(
        material=key,
        grain=_grain(session, material),
        edge=asker.word(EDGE),
        date=session.day,
        person="-",
        conditions="-",
        diameter_mm=asker.number(DIAMETER),
        flutes=int(asker.number(FLUTES)),
        depth_mm=asker.number(DEPTH),
        width_mm=asker.number(WIDTH),
        feed_mm_min=asker.number(FEED),
        spindle_rpm=asker.number(SPEED),
        powers_w=(),
        idle_w=(1.0,),
        efficiency=asker.number(EFFICIENCY),
    )


def _grain(session: ShopSession, material: Material) -> str | None:
    if grained(material):
        return session.asker.word(GRAIN)
    if session.asker.args.grain is not None:
        words = f"{material.name} cuts the same all ways: leave it out"
        session.asker.wrong(GRAIN.option, words)
    return None


def _check(session: ShopSession, test: CutTest) -> None:
    """Refuse a cut that cannot have been so."""
    for key, words in check_geometry(test):
        session.asker.wrong(_OPTION_OF[key].option, words)
    session.asker.settle()


def _read(session: ShopSession, test: CutTest, material: Material) -> CutTest:
    if session.asker.talks:
        _check(session, test)
    session.steps(STEPS)
    _expect(session, test, material)
    asker = session.asker
    idle = asker.readings(
        IDLE, lambda value: f"{value:.0f} W in air", lambda values: 1 - len(values)
    )
    test = replace(test, idle_w=tuple(idle))

    def told(value: float) -> str:
        cut = replace(test, idle_w=test.idle_w[:1], powers_w=(value,))
        return f"{cut.cutting_w[0]:.0f} W of cutting, {cut.repeats.mean:.1f} N/mm2"

    def wanted(values: list[float]) -> int:
        return more_wanted(replace(test, powers_w=tuple(values)).repeats if values else None)

    powers = asker.readings(POWERS, told, wanted)
    asker.settle()  # before any of them is reckoned with
    return replace(test, powers_w=tuple(powers))


def _expect(session: ShopSession, test: CutTest, material: Material) -> None:
    """What the table would have the cut take, so that a slip shows before the cut."""
    if not session.asker.talks:
        return
    row = test.row_of(material)
    of_one = test.at_reference(1.0, row)  # N/mm2 at 0.1 mm for each N/mm2 of this cut
    low, high = (
        k_pa / 1e6 / of_one * test.removal_mm3_s / 1e3 / test.efficiency
        for k_pa in (row.k_ref_pa.low, row.k_ref_pa.high * WEAR[test.edge])
    )
    session.say(
        f"Mean chip {test.chip_mm:.3f} mm, {test.removal_mm3_s / 1e3:.2f} cm3/s. The table expects "
        f"{low:.0f} to {high:.0f} W more than in air."
    )


def _conclude(session: ShopSession, test: CutTest, material: Material) -> int:
    """Show what came out and keep it when it may be kept and is wanted."""
    trouble, row = test.trouble(), test.row_of(material)
    session.say(_result(test, row, trouble))
    if trouble is not None:
        session.say(f"No number: {trouble}.")
        return 1
    if not session.wants_to_keep(_unusual(test, row)):
        return session.not_kept
    person, conditions = (session.asker.word(question) for question in WHO)
    session.asker.settle()
    test = replace(test, person=person, conditions=conditions)
    session.keep(cut_row(test, test.used(row)))
    return 0


def _result(test: CutTest, row: Kienzle, trouble: str | None) -> str:
    grain = f" {test.grain} the grain" if test.grain else ""
    head = f"\nCutting force of {test.material}{grain}, {test.edge} edge, N/mm2"
    each = " ".join(f"{value:.1f}" for value in test.repeats.values)
    rows = [head, f"  repeats    {each} at a mean chip of {test.chip_mm:.3f} mm"]
    found = test.repeats
    if trouble is None:
        rows += [
            f"  mean       {found.mean:.1f}, spread {100 * found.spread:.0f} %",
            f"  high end   {found.high_end:.1f} (95 % limit of the mean, or the greatest)",
            f"  counts as  {up(test.used(row)):.1f} at a chip of 0.1 mm",
        ]
    table = row.k_ref_pa.scaled(1e-6)
    rows.append(f"  the table  {table.low:.1f} low, {table.typical:.1f} typical, {table.high:.1f} "
                f"high, grade {table.grade}, sharp edge, at 0.1 mm")  # fmt: skip
    return "\n".join(rows)


def _unusual(test: CutTest, row: Kienzle) -> str | None:
    mean, low = test.kienzle(row).k_ref_pa.typical / 1e6, row.k_ref_pa.low / 1e6
    if mean >= low:
        return None
    return (
        f"the mean {mean:.1f} N/mm2 is below all that the table knows ({low:.1f}). Look at depth, "
        "width, feed and the power's unit first."
    )
