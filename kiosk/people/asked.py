"""A sign-on judged: who it is, or the code of why not.  Pure but for the time that scrypt takes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.people import secret
from kiosk.people.person import People, Person
from kiosk.people.tries import Tries


@dataclass(frozen=True, slots=True)
class Asked:
    """What a sign-on carries: a name or a badge's code, and a PIN."""

    name: str | None
    badge: str | None
    pin: str | None

    @property
    def way(self) -> str:
        """What was shown of oneself: pin | badge | badge and pin."""
        return " and ".join(
            word for word, there in (("badge", self.badge), ("pin", self.pin)) if there
        )


def from_arguments(arguments: Mapping[str, object]) -> Asked | None:
    """The sign-on of a command's arguments; None when they are not as they must be."""
    name, badge, pin = (arguments.get(key) for key in ("name", "badge", "pin"))
    for value in (name, badge, pin):
        if not isinstance(value, str | None):
            return None
    asked = Asked(*(None if value is None else str(value) for value in (name, badge, pin)))
    if (asked.name is None) == (asked.badge is None) or (asked.badge is None and asked.pin is None):
        return None
    if asked.badge is not None and not _is_badge(asked.badge):
        return None
    return asked if asked.pin is None or secret.is_pin(asked.pin) else None


def _is_badge(code: str) -> bool:
    return len(code) <= secret.BADGE_MOST and code.isprintable() and bool(code)


@dataclass(frozen=True, slots=True)
class Verdict:
    """``refused`` None: ``person`` is signed on.  ``tries``: as they are after it."""

    person: Person | None  # whom it is about, if known
    refused: str | None
    tries: Tries


def judge(people: People, tries: Tries, asked: Asked, now_s: float) -> Verdict:
    """The verdict on one sign-on; takes up to two scrypt digests of time.  Raises NotDigested.

    refused: unknown_badge wrong_pin person_locked wait badge_needed pin_needed
    """
    person = _person(people, asked)
    if person is None:
        unknown = "unknown_badge" if asked.badge is not None else "wrong_pin"
        return Verdict(None, unknown, tries)
    code = _before_pin(person, tries, asked, now_s)
    if code is not None or asked.pin is None:
        return Verdict(person, code, tries)
    if person.pin is None or not secret.same(secret.digest(asked.pin, person.salt), person.pin):
        after = tries.failed(person.mark, now_s)
        locked = after.is_locked(person.mark)
        return Verdict(person, "person_locked" if locked else "wrong_pin", after)
    return Verdict(person, None, tries.forgiven(person.mark))


def _before_pin(person: Person, tries: Tries, asked: Asked, now_s: float) -> str | None:
    """What refuses a sign-on before its PIN is looked at."""
    if tries.is_locked(person.mark):
        return "person_locked"
    if asked.pin is None:
        return "pin_needed" if person.has_rights else None
    if tries.left_s(person.mark, now_s) > 0.0:
        return "wait"
    return "badge_needed" if person.has_rights and asked.badge is None else None


def _person(people: People, asked: Asked) -> Person | None:
    if asked.badge is not None:
        return people.with_badge(secret.digest(asked.badge, people.salt)) if people.salt else None
    return people.named(asked.name or "")
