"""What any interface to the machine's signals must do, in words and types.

It writes the contacts that the machine reads and reads the signals that the machine gives.  One
thread owns it.  Trouble is a value, never an exception.  What a module reports about its own
outputs is what it was told, not what the wire does: only a feedback input proves a contact.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Protocol

from kiosk.interlock.reading import Fault, SignalSample


class MachineIO(Protocol):
    """Contacts to the machine and signals from it."""

    def write(self, contacts: Mapping[str, bool], until_s: float = math.inf) -> Fault | None:
        """Write every wired contact; a contact that is not in ``contacts`` is opened.

        After ``until_s`` on the clock no contact is closed any more: what is still to be written
        opens.  Returns None when the module acknowledged all of them.
        """

    def read_inputs(self) -> SignalSample:
        """The machine's inputs by name.  Apart from the contacts, so that a write waits less."""

    def read_contacts(self) -> SignalSample:
        """The contacts by name, as the module reports them."""

    def close(self) -> None:
        """Let the line go.  May be called twice.  Opens nothing: the module's own watch does."""
