"""People for tests: one of each role, with PINs and badges."""

from __future__ import annotations

from functools import cache

from kiosk.people import secret
from kiosk.people.person import People, Person

SALT = "5a" * 16
PINS = {"Ada": "7391", "Ben": "73914628", "Cy": "739146", "Dot": "284617"}
BADGES = {"Ada": "B-0001", "Ben": "B-0002", "Cy": "B-0003", "Dot": "B-0004"}
ROLES = {"Ada": "operator", "Ben": "setter", "Cy": "maintenance", "Dot": "supervisor"}


def person(name: str) -> Person:
    salt = name.encode().hex().ljust(32, "0")
    return Person(
        name=name,
        role=ROLES[name],
        salt=salt,
        pin=secret.digest(PINS[name], salt),
        badge=secret.digest(BADGES[name], SALT),
        mark=f"mark of {name}",
    )


@cache
def everyone() -> People:
    """The same for every test of a process: eight digests take most of a second."""
    return People(SALT, tuple(map(person, ROLES)))
