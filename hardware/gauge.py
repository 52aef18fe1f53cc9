"""What any vacuum gauge must do, in words and types.

A gauge is polled by one thread, its only owner.  A poll gives a ``Reading`` or a ``Fault``; a
silent, garbled, refusing or unplugged gauge is a value here, never an exception.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from kiosk.interlock.reading import Sample

Trace = Callable[[bytes], None]  # is given what came: the bytes of registers, or a line of text


class Gauge(Protocol):
    """One vacuum gauge."""

    @property
    def name(self) -> str:
        """The name of the gauge in the site file."""

    def poll(self) -> Sample:
        """One fresh sample.

        Returns within the gauge's answer timeout plus one attempt to connect, at most 1 s.
        Never raises for anything the gauge or the line to it does.
        """

    def close(self) -> None:
        """Let the line go.  May be called twice."""
