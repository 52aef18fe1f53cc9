"""A sign-on judged."""

from __future__ import annotations

import pytest
from people_made import BADGES, PINS, ROLES, everyone

from kiosk.people.asked import Asked, Verdict, from_arguments, judge
from kiosk.people.person import People
from kiosk.people.tries import Tries

PEOPLE = everyone()


def said(name: str | None = None, badge: str | None = None, pin: str | None = None,
         tries: Tries | None = None, now_s: float = 0.0) -> Verdict:  # fmt: skip
    return judge(PEOPLE, tries or Tries(), Asked(name, badge, pin), now_s)


def wrong(name: str, count: int) -> Tries:
    tries = Tries()
    for _ in range(count):
        tries = tries.failed(f"mark of {name}", 0.0)
    return tries


def test_an_operator_signs_on_with_name_and_pin_or_with_the_badge_alone() -> None:
    for verdict in (said("Ada", pin=PINS["Ada"]), said(badge=BADGES["Ada"]),
                    said(badge=BADGES["Ada"], pin=PINS["Ada"])):  # fmt: skip
        assert verdict.refused is None
        assert verdict.person is not None
        assert verdict.person.name == "Ada"


@pytest.mark.parametrize("name", [name for name, role in ROLES.items() if role != "operator"])
def test_every_other_role_takes_badge_and_pin(name: str) -> None:
    assert said(name, pin=PINS[name]).refused == "badge_needed"
    assert said(badge=BADGES[name]).refused == "pin_needed"
    assert said(badge=BADGES[name], pin=PINS["Ada"]).refused == "wrong_pin"
    good = said(badge=BADGES[name], pin=PINS[name])
    assert good.refused is None
    assert good.person is not None
    assert good.person.name == name


def test_a_wrong_pin_counts_and_a_right_one_forgives() -> None:
    first = said("Ada", pin="8264")
    assert (first.refused, first.tries.wrong) == ("wrong_pin", {"mark of Ada": 1})
    assert said("Ada", pin=PINS["Ada"], tries=first.tries).tries.wrong == {}


def test_without_the_badge_nobody_can_lock_a_supervisor_out_by_wrong_pins() -> None:
    verdict = said("Dot", pin="826413")
    assert (verdict.refused, verdict.tries) == ("badge_needed", Tries())


def test_in_the_wait_even_the_right_pin_is_not_looked_at() -> None:
    tries = wrong("Ada", 3)
    assert said("Ada", pin=PINS["Ada"], tries=tries, now_s=29.9) == Verdict(
        PEOPLE.named("Ada"), "wait", tries
    )
    assert said("Ada", pin=PINS["Ada"], tries=tries, now_s=30.0).refused is None


def test_the_tenth_wrong_pin_locks_badge_and_all() -> None:
    verdict = said("Ada", pin="8264", tries=wrong("Ada", 9), now_s=1e6)
    assert verdict.refused == "person_locked"
    for again in (said("Ada", pin=PINS["Ada"], tries=verdict.tries, now_s=1e9),
                  said(badge=BADGES["Ada"], tries=verdict.tries, now_s=1e9)):  # fmt: skip
        assert again.refused == "person_locked"
    assert said("Dot", badge=None, pin="826413", tries=verdict.tries).refused == "badge_needed"


def test_an_unknown_badge_and_an_unknown_name() -> None:
    assert said(badge="B-9999") == Verdict(None, "unknown_badge", Tries())
    assert said("Eve", pin="7391") == Verdict(None, "wrong_pin", Tries())
    assert judge(People(), Tries(), Asked(None, "B-0001", None), 0.0).refused == "unknown_badge"


@pytest.mark.parametrize(
    ("arguments", "good"),
    [
        ({"name": "Ada", "pin": "7391"}, True),
        ({"badge": "B-0001"}, True),
        ({"badge": "B-0001", "pin": "7391", "name": None}, True),
        ({"name": "Ada"}, False),
        ({"name": "Ada", "badge": "B-0001"}, False),
        ({"pin": "7391"}, False),
        ({}, False),
        ({"name": "Ada", "pin": 7391}, False),
        ({"name": ["Ada"], "pin": "7391"}, False),
        ({"name": "Ada", "pin": "73x1"}, False),
        ({"badge": ""}, False),
        ({"badge": "x" * 65}, False),
        ({"badge": "a\nb"}, False),
    ],
)
def test_what_is_a_sign_on_at_all(arguments: dict[str, object], good: bool) -> None:
    assert (from_arguments(arguments) is not None) is good


def test_how_one_signed_on_is_said_without_what_was_typed() -> None:
    assert Asked("Ada", None, "7391").way == "pin"
    assert Asked(None, "B-0001", "7391").way == "badge and pin"
