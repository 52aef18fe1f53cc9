"""What one contact did when it was tried."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(slots=True)
class Trial:
    """What one contact did: as the module told it, and as the person saw it."""

    name: str
    told_closed: bool = False
    told_open: bool = False  # afterwards
    seen: str = ""
    trouble: str = ""

    @property
    def good(self) -> bool:
        """True when module and person agree that it closed and opened."""
        return self.told_closed and self.told_open and self.seen == "yes" and not self.trouble

    @property
    def line(self) -> str:
        """One line for the list at the end."""
        told = "closed" if self.told_closed else "did not close"
        after = "opened" if self.told_open else "NOT TOLD OPEN"
        trouble = f"; {self.trouble}" if self.trouble else ""
        return (
            f"{self.name}: module says {told}, then {after}; you saw: {self.seen or '-'}{trouble}"
        )
