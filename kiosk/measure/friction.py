"""``holdpoint measure friction``: a pull or a tilt, walked through."""

from __future__ import annotations

import argparse
import math
from dataclasses import replace
from pathlib import Path

from kiosk.hold.materials import CONTACTS, LIPS, SURFACES, UNDERSIDES, Value
from kiosk.measure.keep import friction_row
from kiosk.measure.questions import Question
from kiosk.measure.session import (
    WHO,
    ShopSession,
    common_arguments,
    shop_arguments,
    shop_session_of,
)
from kiosk.shop import FrictionTest, Repeats, Surroundings
from kiosk.shop.friction import METHODS
from kiosk.shop.repeats import LEAST, down
from kiosk.shop.use import table_friction
from kiosk.site import Site, load_site

CAUTIONS = (
    "Operating aid, not a safety device. The machine maker's instructions and local rules come "
    "first.",
    "Spindle stopped, and kept from starting in the way the machine maker gives. Never pull "
    "under a turning spindle. No job chosen at the panel.",
    "Nobody in line with the pull. The piece can come free at once: keep it low and supported, "
    "hands clear of its edges and of open ports.",
    "Hold the balance by its handle on a strap, stand firm, pull away from your face.",
)
STEPS = {
    "pull": (
        "Lips and underside as in work. Raise the cups you named under a piece that covers them; "
        "all other seats down.",
        "Draw the vacuum you named and wait half a minute.",
        "Strap round the piece at the height of the cups. Pull flat and slowly, over a few "
        "seconds; note the greatest reading before the piece moves.",
        "Put the piece back and do it again.",
    ),
    "weight": (
        "Lips and underside as in work. Lay the piece on the raised cups, pump off.",
        "Strap round the piece at the height of the lips. Pull flat and slowly; note the "
        "greatest reading before it moves.",
        "Put the piece back and do it again.",
    ),
    "tilt": (
        "Lips and underside as in work. Lay the piece on a plate with the lips, a stop below it.",
        "Tilt the plate slowly; note the angle at which the piece begins to slide.",
        "Put the piece back and do it again.",
    ),
}
MATERIAL = Question("material", "Material, a key of the materials", "choice")
UNDERSIDE = Question("underside", "Underside of the piece", "choice", UNDERSIDES)
SURFACE = Question("surface", "State of lips and underside", "choice", SURFACES)
CONTACT = Question("contact", "What carries the friction", "choice", CONTACTS)
LIP = Question("lip", "Lip", "choice", LIPS)
METHOD = Question("method", "Way of measuring", "choice", METHODS)
MASS = Question("mass_kg", "Mass of the piece, kg", "number", low=0.001, high=5000.0)
CUPS = Question("cups", "Cups under the piece", "whole", low=1, high=400)
SEAL = Question("seal_mm", "Diameter inside a seal, mm", "number", low=5.0, high=400.0)
VACUUM = Question("vacuum_kpa", "Vacuum at the gauge, kPa", "number", low=5.0, high=101.0)
ERROR = Question("gauge_error_kpa", "Error of the gauge, kPa", "number", low=0.0, high=20.0,
                 default=1.0)  # fmt: skip
PULLS = Question("pull_n", "Greatest reading before it moved, N", "numbers", low=0.1, high=20_000.0)
ANGLES = Question("angle_deg", "Angle at which it slid, degrees", "numbers", low=1.0, high=75.0)
QUESTIONS = (MATERIAL, UNDERSIDE, SURFACE, CONTACT, LIP, METHOD, MASS, CUPS, SEAL, VACUUM, ERROR,
             PULLS, ANGLES)  # fmt: skip


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of ``measure friction``."""
    common_arguments(parser, QUESTIONS)
    shop_arguments(parser)
    parser.add_argument("--site", metavar="FILE", type=Path,
                        help="a site file: gives lip, contact, seal and gauge error")  # fmt: skip


def main(args: argparse.Namespace) -> int:
    """Measure; 0 when there is a number, 1 when not.  Raises ``BadInput``."""
    site = None if args.site is None else load_site(args.site)
    session = shop_session_of(args)
    if not session.cautions("Friction between a part and what carries it.", CAUTIONS):
        return 1
    test = _set_up(session, site)
    _refuse_strangers(session, test)
    if session.asker.talks:
        session.asker.settle()
    test = _read(session, test)
    session.asker.settle()
    return _conclude(session, test)


def _set_up(session: ShopSession, site: Site | None) -> FrictionTest:
    """Everything but the readings; what the site says unless an option says otherwise."""
    asker, cup = session.asker, None if site is None else site.cup
    material = replace(MATERIAL, allowed=tuple(session.shop.materials.by_key))
    key = asker.word(material)
    underside, surface = asker.word(UNDERSIDE), asker.word(SURFACE)
    contact = asker.word(CONTACT, cup.contact if cup else None)
    lip = asker.word(LIP, cup.lip if cup else None) if contact == "lip" else None
    method = asker.word(METHOD)
    test = FrictionTest(key, underside, surface, contact, lip, method, session.day, "-", "-")
    if method != "tilt":
        test = replace(test, mass_kg=asker.number(MASS))
    return _held(session, site, test) if method == "pull" else test


def _held(session: ShopSession, site: Site | None, test: FrictionTest) -> FrictionTest:
    """With cups and vacuum."""
    asker, errors = session.asker, () if site is None else site.gauges
    return replace(
        test,
        cups=int(asker.number(CUPS)),
        seal_diameter_mm=asker.number(SEAL, site.cup.seal_diameter_mm if site else None),
        vacuum_kpa=asker.number(VACUUM),
        gauge_error_kpa=asker.number(ERROR, max((g.error_kpa for g in errors), default=None)),
    )


def _refuse_strangers(session: ShopSession, test: FrictionTest) -> None:
    """Options that do not go with the method or the contact are a misunderstanding."""
    asker = session.asker
    own = {"pull": (MASS, CUPS, SEAL, VACUUM, ERROR, PULLS), "weight": (MASS, PULLS),
           "tilt": (ANGLES,)}[test.method]  # fmt: skip
    for question in (MASS, CUPS, SEAL, VACUUM, ERROR, PULLS, ANGLES):
        if question not in own and getattr(asker.args, question.key) is not None:
            asker.wrong(question.option, f"does not go with the method {test.method}: leave it out")
    if test.contact == "stop" and asker.args.lip is not None:
        asker.wrong(LIP.option, "does not go with a stop: leave it out")


def _table(session: ShopSession, test: FrictionTest) -> Value | None:
    """The table's value for the same pair, without anything measured."""
    around = Surroundings(test.underside, test.surface, test.lip or LIPS[0], test.contact)
    return table_friction(session.shop.materials.by_key[test.material], around)


def _read(session: ShopSession, test: FrictionTest) -> FrictionTest:
    session.steps(STEPS[test.method])
    _expect(session, test)
    question = ANGLES if test.method == "tilt" else PULLS

    def with_readings(values: list[float]) -> FrictionTest:
        key = "angles_deg" if test.method == "tilt" else "pulls_n"
        return replace(test, **{key: tuple(values)})  # type: ignore[arg-type]

    def told(value: float) -> str:
        return f"friction {with_readings([value]).repeats.mean:.3f}"

    def wanted(values: list[float]) -> int:
        return more_wanted(with_readings(values).repeats if values else None)

    return with_readings(session.asker.readings(question, told, wanted))


def more_wanted(found: Repeats | None) -> int:
    """How many more readings to ask a person for; none once they scatter too much."""
    if found is None:
        return LEAST
    return 0 if found.scattered else found.missing


def _expect(session: ShopSession, test: FrictionTest) -> None:
    """Roughly what the balance or the angle will show, so that the right one is at hand."""
    table = _table(session, test)
    if table is None or not session.asker.talks:
        return
    if test.method == "tilt":
        low, high = (math.degrees(math.atan(mu)) for mu in (table.low, table.high))
        session.say(f"The table expects {low:.0f} to {high:.0f} degrees.")
        return
    low, high = (mu * test.pressing_n() for mu in (table.low, table.high))
    session.say(
        f"The table expects {low:.0f} to {high:.0f} N (10 N are about 1 kg on the balance)."
    )
    if high > 500.0:  # more than one person pulls steadily: common practice, no source
        session.say("That is a hard pull: take fewer cups or less vacuum, or a winch.")


def _conclude(session: ShopSession, test: FrictionTest) -> int:
    """Show what came out and keep it when it may be kept and is wanted."""
    trouble = test.trouble()
    session.say(_result(session, test, trouble))
    if trouble is not None:
        session.say(f"No number: {trouble}.")
        return 1
    if not session.wants_to_keep(_unusual(session, test)):
        return session.not_kept
    person, conditions = (session.asker.word(question) for question in WHO)
    session.asker.settle()
    session.keep(friction_row(replace(test, person=person, conditions=conditions)))
    return 0


def _result(session: ShopSession, test: FrictionTest, trouble: str | None) -> str:
    found, what = test.repeats, f"{test.lip} lip" if test.lip else "stop"
    head = f"\nFriction of {test.material}, {test.underside} underside, {test.surface}, on a {what}"
    if not found.values:
        return head
    each = " ".join(f"{value:.3f}" for value in found.values)
    rows = [head, f"  repeats    {each}",
            f"  mean       {found.mean:.3f}, spread {100 * found.spread:.0f} %"]  # fmt: skip
    if trouble is None:
        rows.append(f"  low end    {found.low_end:.3f} (95 % limit of the mean, or the least)")
        rows += [f"  x {share:.3f}    {reason}" for reason, share in test.shares]
        rows.append(f"  counts as  {down(test.used):.3f}")
    table = _table(session, test)
    if table is not None:
        rows.append(f"  the table  {table.low:.3f} counts, {table.typical:.3f} typical, "
                    f"{table.high:.3f} at most, grade {table.grade}")  # fmt: skip
    return "\n".join(rows)


def _unusual(session: ShopSession, test: FrictionTest) -> str | None:
    table, mean = _table(session, test), test.repeats.mean
    if table is None or mean <= table.high:
        return None
    return (
        f"the mean {mean:.2f} is above all that the table knows ({table.high:.2f}). Look at "
        "units, cups, vacuum and the balance first."
    )
