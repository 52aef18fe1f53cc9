"""``holdpoint measure leak``: how fast the vacuum of one zone falls with the valve closed."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from kiosk.hold.airflow import CRITICAL_RATIO
from kiosk.interlock.delays import LEAK_RATIO
from kiosk.leaks import (
    LEAST_KPA,
    LONGEST_S,
    MOST_KPA,
    SHORTEST_S,
    USUAL_S,
    Found,
    LeakTest,
    found,
    leaks_from,
    load_leaks,
    of_zone,
)
from kiosk.measure.keep import put, toml_row
from kiosk.measure.questions import Question
from kiosk.measure.session import WHO, Session, common_arguments, session_of
from kiosk.places import data_path, is_there, leaks_file
from kiosk.site import Site, load_site
from kiosk.toml_lines import TomlFile
from kiosk.units import air_pressure_kpa

CAUTIONS = (
    "Operating aid, not a safety device. The machine maker's instructions and local rules come "
    "first.",
    "Spindle stopped, and kept from starting in the way the machine maker gives. No job chosen "
    "at the panel.",
    "Hands clear of open ports. The blank is held while there is vacuum and can come free when "
    "air enters.",
    "The valve between pump and table must close. A table without one cannot be tested so.",
)
STEPS = (
    "Raise the cups of the zone under a blank that lets no air through and covers them all; all "
    "other seats down. The same cups and the same blank each time.",
    "Draw the vacuum of work, then close the valve between pump and table.",
    "Wait a few seconds until the gauge falls evenly. It must be a gauge at the table.",
    "Note the vacuum, wait a minute, note it again, and the seconds between.",
)
ZONE = Question("zone", "Zone: the letter of the row or ring", "choice")
BEGIN = Question("begin_kpa", "Vacuum at first, kPa", "number", low=LEAST_KPA, high=MOST_KPA)
END = Question("end_kpa", "Vacuum at the end, kPa", "number", low=0.0, high=MOST_KPA)
SECONDS = Question("seconds", "Seconds between", "number", low=SHORTEST_S, high=LONGEST_S,
                   default=USUAL_S)  # fmt: skip
QUESTIONS = (ZONE, BEGIN, END, SECONDS)
LEAKS_HEAD = """\
# Leak tests of the zones; every row is one test, as read.  The newest of a zone is compared with
# its newest baseline before it.
format = 1
"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of ``measure leak``."""
    common_arguments(parser, QUESTIONS)
    parser.add_argument("--site", metavar="FILE", type=Path, required=True,
                        help="the site file of the machine")  # fmt: skip
    parser.add_argument("--baseline", action="store_true",
                        help="seals are new or just found good: later tests are compared with "
                        "this one")  # fmt: skip


def main(args: argparse.Namespace) -> int:
    """Measure; 0 when there is a number, 1 when not.  Raises ``BadInput``."""
    site, path = load_site(args.site), leaks_file(data_path(args.data))
    zones, session = _zones(site), session_of(args)
    kept = load_leaks(path, site.name, zones, session.today) if is_there(path) else ()
    if not session.cautions("Leak of one zone, from the fall of its vacuum.", CAUTIONS):
        return 1
    zone = session.asker.word(replace(ZONE, allowed=zones))
    if session.asker.talks:
        session.asker.settle()
    session.steps(STEPS)
    test = _read(session, site, zone)
    before = of_zone(kept, site.name, zone)
    _refuse_earlier(session, before)
    test = replace(test, baseline=args.baseline or not before)
    return _conclude(session, site, before, test)


def _zones(site: Site) -> tuple[str, ...]:
    return tuple(dict.fromkeys(seat.zone for seat in site.seats))


def _refuse_earlier(session: Session, before: tuple[LeakTest, ...]) -> None:
    """Only the newest test says something.  Raises ``BadInput`` for an older one."""
    newest = max((test.date for test in before), default=session.day)
    if session.day < newest:
        words = f"zone {before[0].zone} has a newer test, of {newest}: an older one says nothing"
        session.asker.wrong("--date", f"{words}; leave it out, or give the day of the test")
        session.asker.settle()


def _read(session: Session, site: Site, zone: str) -> LeakTest:
    """The readings, once they are a test.  Raises ``BadInput``."""
    asker = session.asker
    begin, end, seconds = (asker.number(question) for question in (BEGIN, END, SECONDS))
    asker.settle()
    test = LeakTest(site.name, zone, session.day, "-", "-", begin, end, seconds)
    if test.trouble is not None:
        asker.wrong(END.option, test.trouble)
    least_kpa = (1.0 - CRITICAL_RATIO) * air_pressure_kpa(site.altitude_m)
    if end < least_kpa:
        asker.wrong(
            END.option,
            f"under {least_kpa:.1f} kPa the air comes in slower as the vacuum falls, and the rise "
            "says nothing: take a shorter time, or begin at more vacuum",
        )
    asker.settle()
    return test


def _conclude(session: Session, site: Site, before: tuple[LeakTest, ...], test: LeakTest) -> int:
    """Show what came out and keep it when that is wanted."""
    now = found((*before, test))
    assert now is not None
    session.say(_result(site, now, test))
    if not session.wants_to_keep(_unusual(before, test)):
        return session.not_kept
    person, conditions = (session.asker.word(question) for question in WHO)
    session.asker.settle()
    path = leaks_file(data_path(session.asker.args.data))

    def check(file: TomlFile) -> object:
        return leaks_from(file, site.name, _zones(site))

    put(path, leak_row(replace(test, person=person, conditions=conditions)), LEAKS_HEAD, check)
    session.asker.say(f"Kept in {path}")
    session.say("A guard of this data folder reads it within 15 s; over twice the baseline is A15.")
    return 0


def _result(site: Site, now: Found, test: LeakTest) -> str:
    rows = [
        f"\nLeak of zone {test.zone} of {site.name}",
        f"  rise       {test.rise_kpa_min:.2f} kPa/min, {test.begin_kpa:g} to {test.end_kpa:g} kPa "
        f"in {test.seconds:g} s",
    ]
    if now.base is test:
        return "\n".join([*rows, "  baseline   this test: later ones are compared with it"])
    rows += [
        f"  baseline   {now.base.rise_kpa_min:.2f} kPa/min of {now.base.date}, counts as "
        f"{max(now.base.rise_kpa_min, now.floor_kpa_min):.2f}",
        f"  ratio      {now.ratio:.2f} times the baseline; over {LEAK_RATIO:g} is too much",
    ]
    if now.ratio > LEAK_RATIO:
        rows.append(f"Look at lips, seals, check ball and seat of zone {test.zone}; then test "
                    "again.")  # fmt: skip
    return "\n".join(rows)


def _unusual(before: tuple[LeakTest, ...], test: LeakTest) -> str | None:
    """A baseline that would be an alarm without that word needs a second thought."""
    last = found((*before, replace(test, baseline=False))) if before else None
    if not test.baseline or last is None or last.ratio <= LEAK_RATIO:
        return None
    return (
        f"this baseline is {last.ratio:.2f} times the one before. Look at lips, seals, check ball "
        "and seat first."
    )


def leak_row(test: LeakTest) -> str:
    """The ``[[leak]]`` row of a test."""
    return toml_row(
        "leak",
        [
            ("site", test.site),
            ("zone", test.zone),
            ("date", test.date),
            ("person", test.person),
            ("conditions", test.conditions),
            ("begin_kpa", test.begin_kpa),
            ("end_kpa", test.end_kpa),
            ("seconds", test.seconds),
            ("rise_kpa_min", float(f"{test.rise_kpa_min:.4g}")),
            ("baseline", test.baseline),
        ],
    )
