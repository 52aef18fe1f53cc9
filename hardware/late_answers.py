"""Which devices of a serial line may still owe an answer, and the question that ends the doubt.

An RTU answer says its unit, its function and how many bytes it brings, but not which question it
answers.  A device answers in the order in which it was asked.  So after a question that was not
answered in time the device is asked for a block of another size: when that answer comes, every
answer before it has come, or never will.  Only then is the device asked for what is wanted.

A refusal (exception) does not say the size of the block it refuses.  So it takes ``_REFUSALS`` of
them, each to another size, and the doubt stays until what is wanted was answered and not refused.
"""

from __future__ import annotations

from dataclasses import dataclass

from hardware.modbus_link import Answer, Request
from kiosk.interlock.reading import Fault, Why

_REFUSALS = 3
_SIZES = {1: (1, 9, 17, 25), 2: (1, 9, 17, 25), 3: (1, 2, 3, 4), 4: (1, 2, 3, 4)}


@dataclass(slots=True)
class _Owing:
    """A question that may still be answered; ``asked`` and ``refused``: others since."""

    question: Request
    asked: int = 0
    refused: int = 0


def _bytes(function: int, count: int) -> int:
    return 2 * count if function in (3, 4) else (count + 7) // 8


def others(lost: Request) -> tuple[Request, ...]:
    """Reads, each of another size, whose answers cannot be one to ``lost``."""
    reads = lost.function in _SIZES
    function = lost.function if reads else 1  # a write is told by its function
    size = _bytes(function, lost.count) if reads else None
    counts = [count for count in _SIZES[function] if _bytes(function, count) != size]
    return tuple(
        Request(function, min(lost.address, 65536 - count), count) for count in counts[:_REFUSALS]
    )


class LateAnswers:
    """By unit, what it may still owe."""

    def __init__(self) -> None:
        self._owing: dict[int, _Owing] = {}

    def lost(self, unit: int, request: Request) -> None:
        """What was wanted was asked and not answered as it should be."""
        owing = self._owing.get(unit)
        self._owing[unit] = _Owing(request, 0 if owing is None else owing.asked)

    def question(self, unit: int) -> Request | None:
        """What must be asked first, each time another; None when nothing is owed."""
        owing = self._owing.get(unit)
        if owing is None:
            return None
        ready = others(owing.question)
        owing.asked += 1
        return ready[owing.asked % len(ready)]

    def ended(self, unit: int, answer: Answer | Fault) -> bool:
        """True when the answer to ``question`` shows that none from before it can still come."""
        if isinstance(answer, Answer):
            return True
        owing = self._owing[unit]
        owing.refused = owing.refused + 1 if answer.why is Why.REFUSED else 0
        return owing.refused >= _REFUSALS

    def answered(self, unit: int) -> None:
        """What was wanted was asked and answered."""
        self._owing.pop(unit, None)
