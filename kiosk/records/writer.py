"""The one thread that writes the log.

It commits at once when there are notes and once a second in any case, so the age of the last
commit says whether the log really is written.  When the disk is full, locked or gone it keeps
everything, says so and tries again every second.
"""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from kiosk.interlock.decision import Note
from kiosk.records.book import Book, Trouble
from kiosk.records.inbox import MOST_SAMPLES, Batch, Inbox
from kiosk.records.open import library_words
from kiosk.records.store import Moment, RunItem, SampleItem
from kiosk.thread_name import tell_name

COMMIT_S = 1.0
RETRY_S = 1.0
_LAST_RETRY_S = 0.05

_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")  # random(4)


def utc_now() -> str:
    """RFC 3339, UTC, ms."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _boot_id(epoch: str) -> str:
    """The computer's boot; where the system has no such number each run counts as a boot."""
    with suppress(OSError):
        return _BOOT_ID.read_text("ascii").strip()
    return f"run {epoch}"


def _raise(bug: BaseException) -> None:
    raise bug


def _encodable(text: str) -> str:
    """Text that SQLite can hold: a lone surrogate becomes a question mark."""
    return text.encode("utf-8", "replace").decode("utf-8")


@dataclass(frozen=True, slots=True)
class WriterStatus:
    """How the log is doing.  ``last_commit_s``: the clock's seconds; None before the first."""

    last_commit_s: float | None
    writable: bool
    free_share: float | None  # of the disk
    queued: int
    dropped: int  # samples, since the start
    words: str  # what is wrong or worth knowing, else empty


class Writer:
    """Owns the log of one run of a guard.  ``clock`` gives monotonic seconds.

    ``note``, ``plan`` and ``sample`` never wait for the disk and may be called from any thread,
    before ``start`` too.  ``acknowledged`` is the highest number of a committed note,
    ``acknowledged_s`` the time of the newest committed sample by channel: these survive a kill
    or a power cut.  ``died`` is called in the writer's thread with the bug that ends it.
    """

    def __init__(
        self,
        path: Path,
        epoch: str,
        clock: Callable[[], float] = time.monotonic,
        utc: Callable[[], str] = utc_now,
        most_samples: int = MOST_SAMPLES,
        *,
        died: Callable[[BaseException], None] = _raise,
    ) -> None:
        self._folder, self._clock, self._utc = path.parent, clock, utc
        self._died = died
        self._book = Book(path, RunItem(_encodable(epoch), _boot_id(epoch), library_words()))
        self._inbox = Inbox(most_samples)
        self._thread = threading.Thread(target=self._write, name="log writer", daemon=True)
        self._stopping = threading.Event()
        self._give_up_s = float("inf")
        self._due_s = float("-inf")  # when the next commit is due
        self._trouble: tuple[str, str] | None = None  # since when, what
        self._told_dropped = 0
        self._clean = False
        self._status = WriterStatus(None, False, None, 0, 0, "the log is not open yet")
        self.acknowledged = 0
        self.acknowledged_s: dict[str, float] = {}

    def start(self) -> None:
        """Start writing; the thread opens the file."""
        self._thread.start()

    def note(self, note: Note, at_s: float, utc: str) -> int:
        """Queue a note; returns its number, to compare with ``acknowledged``."""
        at = Moment(round(at_s * 1000), _encodable(utc))
        cycle = None if note.cycle is None else _encodable(note.cycle)
        return self._inbox.add_note(at, _encodable(note.kind), cycle, note.data)

    def plan(self, digest: str, json_text: str) -> int:
        """Queue a plan to be kept with the cycles that use it; numbered with the notes."""
        return self._inbox.add_plan(_encodable(digest), _encodable(json_text))

    def sample(self, channel: str, at_s: float, value_kpa: float | None) -> None:
        """Queue one sample; None says that there was no valid value."""
        self._inbox.add_sample(SampleItem(_encodable(channel), round(at_s * 1000), value_kpa))

    @property
    def status(self) -> WriterStatus:
        """How the log is doing now."""
        was = self._status
        return WriterStatus(was.last_commit_s, was.writable, was.free_share, self._inbox.queued,
                            self._inbox.dropped, was.words)  # fmt: skip

    def close(self, timeout_s: float) -> bool:
        """Commit what waits and close the file; True when that was done in time."""
        if not self._stopping.is_set():
            self._give_up_s = self._clock() + timeout_s
            self._stopping.set()
        self._inbox.stop()
        if self._thread.ident is not None:
            self._thread.join(timeout_s)
        return self._clean

    # What follows runs in the thread.

    def _write(self) -> None:
        tell_name()
        try:
            while not self._turn():
                pass
        except Exception as error:
            self._fail(error)
            self._died(error)
        finally:
            self._book.close()

    def _turn(self) -> bool:
        """Wait, then one commit; True at the end."""
        self._wait()
        last, now_s = self._stopping.is_set(), self._clock()
        due = last or now_s >= self._due_s
        batch = self._inbox.peek(with_samples=due)
        if not due and not batch.notes:
            return False
        end = last and self._inbox.queued == len(batch.notes) + len(batch.samples)
        try:
            self._commit(batch, now_s, end)
        except Trouble as error:
            self._fail(error)
            return last and now_s >= self._give_up_s
        if due:
            self._due_s = now_s + COMMIT_S
        self._clean = end
        return end

    def _wait(self) -> None:
        if self._trouble is None:
            self._inbox.wait(min(self._due_s - self._clock(), COMMIT_S))
        elif self._stopping.is_set():
            time.sleep(_LAST_RETRY_S)
        else:
            self._stopping.wait(RETRY_S)

    def _commit(self, batch: Batch, now_s: float, end: bool) -> None:
        dropped = self._inbox.dropped
        at = Moment(round(now_s * 1000), self._utc())
        self._book.commit(batch, self._own_events(dropped, end), at)
        self._inbox.done(batch)
        self._trouble, self._told_dropped = None, dropped
        self._acknowledge(batch)
        aside = self._book.put_aside
        words = "" if aside is None else f"the log could not be read and was put aside as {aside}"
        self._status = WriterStatus(self._clock(), True, self._free(), 0, 0, words)

    def _own_events(self, dropped: int, end: bool) -> list[Mapping[str, object]]:
        events: list[Mapping[str, object]] = []
        if self._trouble is not None:
            since, words = self._trouble
            events.append({"change": "back", "since": since, "words": words})
        if dropped > self._told_dropped:
            events.append({"change": "dropped", "samples": dropped - self._told_dropped})
        if end:
            events.append({"change": "closed"})
        return events

    def _acknowledge(self, batch: Batch) -> None:
        if batch.notes:
            self.acknowledged = batch.notes[-1].number
        newest = {item.channel: item.mono_ms / 1000 for item in batch.samples}
        self.acknowledged_s = {**self.acknowledged_s, **newest}

    def _fail(self, error: BaseException) -> None:
        words = f"the log cannot be written: {error}"
        since = self._utc() if self._trouble is None else self._trouble[0]
        self._trouble = (since, words)
        self._status = WriterStatus(self._status.last_commit_s, False, self._free(), 0, 0, words)

    def _free(self) -> float | None:
        with suppress(OSError):
            usage = shutil.disk_usage(self._folder)
            return usage.free / usage.total
        return None
