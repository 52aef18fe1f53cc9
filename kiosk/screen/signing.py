"""What is typed to sign on: whom, the badge that the PIN is for, and the PIN.  No Kivy.

The PIN is forgotten when it was sent; all of it when the sheet closes, and after a while without a
touch.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from kiosk.screen.show.people import MOST_DIGITS

SHEETS = ("people", "keypad")
FORGET_S = 30.0  # without a touch, a sheet for signing on closes
NO_FILE = "people_unreadable"  # refuses the list as well: nobody can sign on
LIST_AGAIN_S = 2.0  # while it is open, waits and locks are asked for again


@dataclass(slots=True)
class Signing:
    """One person's attempt."""

    name: str = ""
    badge: str = ""
    typed: str = ""
    listed: tuple[dict[str, Any], ...] = ()
    listed_s: float | None = None  # when the list was asked for
    used_s: float = field(default=0.0)
    person: str | None = None  # who was signed on at the last look

    def begin(self, *, name: str = "", badge: str = "") -> None:
        """Somebody was picked, or showed a badge."""
        self.name, self.badge, self.typed = name, badge, ""

    def forget(self) -> None:
        """Nothing typed stays."""
        self.begin()

    def digit(self, key: str) -> None:
        """One more digit; more than a PIN can have are dropped."""
        if len(self.typed) < MOST_DIGITS:
            self.typed += key

    def erase(self) -> None:
        """Take the last digit back."""
        self.typed = self.typed[:-1]

    def arguments(self) -> dict[str, str]:
        """The arguments of the command to sign on; the PIN is no longer kept afterwards."""
        whom = {"badge": self.badge} if self.badge else {"name": self.name}
        pin, self.typed = {"pin": self.typed} if self.typed else {}, ""
        return {**whom, **pin}

    def is_over(self, person: str | None) -> bool:
        """Whether somebody was signed on at the last look, and now nobody is."""
        before, self.person = self.person, person
        return before is not None and person is None

    def due(self, now_s: float) -> bool:
        """Whether to ask for the list now."""
        return self.listed_s is None or now_s - self.listed_s >= LIST_AGAIN_S
