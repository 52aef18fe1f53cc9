"""What waits to be logged.  Handing over never waits for the disk.

Items stay until they are committed, so a failed commit loses nothing.  Samples are bounded and
the surplus is counted; notes are never dropped.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import islice

from kiosk.records.store import Moment, NoteItem, PlanItem, SampleItem

MOST_SAMPLES = 36_000  # two channels at 10 Hz for half an hour
_MOST_AT_ONCE = 5_000  # items in one transaction


@dataclass(frozen=True, slots=True)
class Batch:
    """What one transaction takes."""

    notes: tuple[NoteItem | PlanItem, ...]
    samples: tuple[SampleItem, ...]


class Inbox:
    """Two queues under one lock that is only ever held for an append or a copy."""

    def __init__(self, most_samples: int = MOST_SAMPLES) -> None:
        self._changed = threading.Condition()
        self._notes: deque[NoteItem | PlanItem] = deque()
        self._samples: deque[SampleItem] = deque()
        self._most_samples = most_samples
        self._count = 0
        self._stopped = False
        self.dropped = 0

    def _add(self, make: Callable[[int], NoteItem | PlanItem]) -> int:
        with self._changed:
            self._count += 1
            self._notes.append(make(self._count))
            self._changed.notify()
            return self._count

    def add_note(self, at: Moment, kind: str, cycle: str | None, data: Mapping[str, object]) -> int:
        """Queue a note; returns its number within the run."""
        return self._add(lambda number: NoteItem(number, at, kind, cycle, data))

    def add_plan(self, digest: str, json_text: str) -> int:
        """Queue a plan; it is numbered with the notes."""
        return self._add(lambda number: PlanItem(number, digest, json_text))

    def add_sample(self, item: SampleItem) -> None:
        """Queue a sample, or count it as dropped when there is no room."""
        with self._changed:
            if len(self._samples) < self._most_samples:
                self._samples.append(item)
            else:
                self.dropped += 1

    @property
    def queued(self) -> int:
        """Items that wait."""
        return len(self._notes) + len(self._samples)

    def stop(self) -> None:
        """Wake the writer for the last time."""
        with self._changed:
            self._stopped = True
            self._changed.notify()

    def wait(self, timeout_s: float) -> None:
        """Until there is a note, the end is asked for or the time is over."""
        with self._changed:
            self._changed.wait_for(lambda: self._notes or self._stopped, max(timeout_s, 0.0))

    def peek(self, with_samples: bool) -> Batch:
        """The oldest items; they stay."""
        with self._changed:
            samples = islice(self._samples, _MOST_AT_ONCE if with_samples else 0)
            return Batch(tuple(islice(self._notes, _MOST_AT_ONCE)), tuple(samples))

    def done(self, batch: Batch) -> None:
        """Forget what ``peek`` gave: it is committed."""
        with self._changed:
            for _ in batch.notes:
                self._notes.popleft()
            for _ in batch.samples:
                self._samples.popleft()
