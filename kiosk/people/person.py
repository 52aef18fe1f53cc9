"""A person, the four roles, and how long each may leave the screen alone."""

from __future__ import annotations

from dataclasses import dataclass

OPERATOR = "operator"
SUPERVISOR = "supervisor"
# role: s without a touch until the person is signed off.  Own choice; NIST SP 800-63B has an hour
# for its middle level of assurance and a quarter of an hour for the highest (from memory).
IDLE_S = {OPERATOR: 1800.0, "setter": 900.0, "maintenance": 900.0, SUPERVISOR: 300.0}
ROLES = tuple(IDLE_S)
NAME_CAP = 24  # letters: a name stands in the strip of the screen


@dataclass(frozen=True, slots=True)
class Person:
    """One who may sign on.  Digests are hex of scrypt; None: has no such thing."""

    name: str
    role: str
    salt: str  # hex, of this person's PIN
    pin: str | None
    badge: str | None
    mark: str  # new with every PIN and every unlocking: wrong tries are counted for a mark

    @property
    def has_rights(self) -> bool:
        """Whether the role may do more than an operator's; it then takes badge and PIN."""
        return self.role != OPERATOR


@dataclass(frozen=True, slots=True)
class People:
    """Everyone of one machine.  ``salt``: hex, of all badges, so that one digest finds a person."""

    salt: str = ""
    persons: tuple[Person, ...] = ()

    def named(self, name: str) -> Person | None:
        """The person of that name."""
        return next((person for person in self.persons if person.name == name), None)

    def with_badge(self, badge: str) -> Person | None:
        """The person with the badge of that digest."""
        return next((person for person in self.persons if person.badge == badge), None)
