"""Who is signed on: a thread of its own, because a PIN's digest takes a tenth of a second.

The loop asks for facts and audit notes and never waits.  A PIN or a badge's code goes no further
than this thread: not into a step, not into the log, not onto a terminal.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from kiosk.guard.failure import say
from kiosk.guard.mailbox import Tray
from kiosk.guard.worker import Shared, Worker, mark_of
from kiosk.interlock.commands import Command, Name, Reply
from kiosk.interlock.facts import PeopleFacts
from kiosk.mistakes import BadInput
from kiosk.people import secret, store
from kiosk.people.asked import Asked, Verdict, from_arguments, judge
from kiosk.people.person import IDLE_S, SUPERVISOR, People, Person
from kiosk.people.tries import Tries, after_restart

OWN = frozenset({Name.SIGN_ON, Name.SIGN_OFF, Name.UNLOCK_PERSON})
LOOK_S = 1.0  # how often the file is looked at, and the idle time
ASKED_KEPT = 4  # more than one finger can ask
NOTES_KEPT = 256
Data = dict[str, object]


@dataclass(frozen=True, slots=True)
class _Session:
    """One person at one screen."""

    person: Person
    client: str
    used_s: float


class SignOn(Worker):
    """Judges sign-ons against the people file in ``data``, and ends sessions."""

    def __init__(self, data: Path, shared: Shared) -> None:
        super().__init__("people", shared)
        self._file, self._tries_file = store.people_file(data), store.tries_file(data)
        self._asked: Tray[Command] = Tray(ASKED_KEPT)
        self._replies: Tray[Reply] = Tray(4 * ASKED_KEPT)
        self._notes: Tray[Data] = Tray(NOTES_KEPT)
        self._wake = threading.Event()
        self._lock = threading.Lock()
        self._people: People | None = None  # None: nobody is set up
        self._usable = True  # False: there is a file that cannot be read, so nobody may sign on
        self._seen: tuple[int, ...] | None = ()
        self._tries = Tries()
        self._session: _Session | None = None
        self._client: str | None = None  # of the screen with the right to command
        self._look()
        self._recall()

    # What others call; each returns at once.
    def ask(self, command: Command) -> bool:
        """Take a command of ``OWN``; False when too many wait."""
        taken = self._asked.put(command)
        self._wake.set()
        return taken

    def facts(self, client: str | None) -> PeopleFacts:
        """Who is signed on at the screen that holds the right to command."""
        with self._lock:
            if client != self._client:
                self._client = client
                self._wake.set()
            session, set_up = self._session, self._people is not None or not self._usable
            if session is None or session.client != client or not set_up:
                return PeopleFacts(set_up)
            return PeopleFacts(True, session.person.role, session.person.name)

    def touched(self, client: str) -> None:
        """Somebody uses this screen."""
        with self._lock:
            if self._session is not None and self._session.client == client:
                self._session = replace(self._session, used_s=self.shared.clock())

    def replies(self) -> tuple[Reply, ...]:
        """Answers since the last call."""
        return self._replies.take_all()

    def notes(self) -> tuple[Data, ...]:
        """Data of the log's ``person`` notes since the last call."""
        return self._notes.take_all()

    def listed(self) -> tuple[dict[str, Any], ...] | None:
        """Everyone, for a screen to choose from: name, role, badge, wait_s, locked.

        None while the people file cannot be used.
        """
        now_s = self.shared.clock()
        with self._lock:
            people, tries = self._people or People(), self._tries
            if not self._usable:
                return None
        return tuple(
            {
                "name": person.name, "role": person.role, "needs_badge": person.has_rights,
                "wait_s": round(tries.left_s(person.mark, now_s), 1),
                "locked": tries.is_locked(person.mark),
            }
            for person in sorted(people.persons, key=lambda person: person.name.casefold())
        )  # fmt: skip

    def stop(self) -> None:
        """Ask the thread to end."""
        super().stop()
        self._wake.set()

    # The thread.
    def work(self) -> None:
        """Judge and watch until stopped."""
        while not self.stopping.is_set():
            self.round()
            self._wake.wait(LOOK_S)
            self._wake.clear()

    def round(self) -> None:
        """Look at the file, judge what was asked, end what is over."""
        self._look()
        for command in self._asked.take_all():
            self._answer(command, self._judged(command))
        self._watch()

    def _answer(self, command: Command, refused: str | None) -> None:
        self._replies.put(Reply(command.id, command.client, refused))
        self.shared.bell.ring()

    def _judged(self, command: Command) -> str | None:
        if command.name is Name.SIGN_OFF and (self._end("asked") or not self._usable):
            return None  # nobody is signed on any more, and that needs no file
        if not self._usable:
            return "people_unreadable"
        if self._people is None:
            return "no_people"
        if command.name is Name.SIGN_OFF:
            return "not_signed_on"
        if command.name is Name.UNLOCK_PERSON:
            return self._unlock(self._people, command)
        return self._sign_on(self._people, command)

    def _sign_on(self, people: People, command: Command) -> str | None:
        asked = from_arguments(command.arguments)
        if asked is None:
            return "bad_arguments"
        try:
            verdict = judge(people, self._tries, asked, self.shared.clock())
        except secret.NotDigested as trouble:
            say(f"a sign-on cannot be judged ({trouble})")
            verdict = Verdict(people.named(asked.name or ""), "not_judged", self._tries)
        self._keep(verdict.tries)
        self._note_try(asked, verdict.person, verdict.refused)
        if verdict.refused is not None or verdict.person is None:
            return verdict.refused
        self._end("another")
        with self._lock:
            self._session = _Session(verdict.person, command.client, self.shared.clock())
        return None

    def _note_try(self, asked: Asked, person: Person | None, refused: str | None) -> None:
        """A name that nobody has is left out: a finger may have typed a PIN for it."""
        self._note(
            "signed_on" if refused is None else "refused",
            person, way=asked.way, refused=refused,
        )  # fmt: skip

    def _unlock(self, people: People, command: Command) -> str | None:
        session = self._session
        if session is None or session.person.role != SUPERVISOR or session.client != command.client:
            return "needs_supervisor"
        person = people.named(str(command.arguments.get("name")))
        if person is None:
            return "bad_arguments"
        self._keep(self._tries.forgiven(person.mark))
        self._note("unlocked", person, by=session.person.name)
        return None

    def _end(self, why: str) -> bool:
        """Sign off whoever is signed on; whether anybody was."""
        with self._lock:
            ended, self._session = self._session, None
        if ended is not None:
            self._note("signed_off", ended.person, why=why)
            self.shared.bell.ring()
        return ended is not None

    def _watch(self) -> None:
        """End a session that nobody uses, whose screen is gone, or whose person is no more."""
        with self._lock:
            session, client = self._session, self._client
        if session is None:
            return
        if self.shared.clock() - session.used_s > IDLE_S[session.person.role]:
            self._end("idle")
        elif client is not None and client != session.client:
            self._end("screen_gone")
        elif self._people is None or session.person not in self._people.persons:
            self._end("changed")

    # The files.
    def _look(self) -> None:
        """Read the people file again when it is another one."""
        seen = mark_of(self._file)
        if seen == self._seen:
            return
        first, self._seen = self._seen == (), seen
        try:
            people = store.read(self._file)
        except BadInput as bad:
            say(str(bad))
            with self._lock:
                self._usable = False
            self._note("file", None, why="unreadable")
            self._end("file")  # a damaged file gives no rights, and leaves none
            return
        before = self._people
        with self._lock:
            self._people, self._usable = people, True
        if first and people is not None:
            self._note("file", None, why="read", count=len(people.persons))
        elif not first:
            self._note_changes(before or People(), people or People())

    def _note_changes(self, before: People, after: People) -> None:
        for person in after.persons:
            was = before.named(person.name)
            if was is None:
                self._note("added", person)
            elif was != person:
                self._note("changed", person, what=_changed(was, person))
        for person in before.persons:
            if after.named(person.name) is None:
                self._note("removed", person)

    def _recall(self) -> None:
        try:
            wrong = store.read_tries(self._tries_file)
        except (OSError, ValueError) as trouble:
            say(f"{self._tries_file} cannot be read ({trouble}): wrong tries count anew")
            self._note("file", None, why="tries_unreadable")
            wrong = {}
        self._tries = after_restart(wrong, self.shared.clock())

    def _keep(self, tries: Tries) -> None:
        """Remember the tries, and of those who are still set up in the file too."""
        if tries is self._tries or tries == self._tries:
            return
        marks = {person.mark for person in (self._people or People()).persons}
        wrong = {mark: count for mark, count in tries.wrong.items() if mark in marks}
        with self._lock:
            self._tries = replace(tries, wrong=wrong)
        try:
            store.write_tries(self._tries_file, wrong)
        except OSError as trouble:
            say(f"{self._tries_file} cannot be written ({trouble.strerror})")

    def _note(self, change: str, person: Person | None, **more: object) -> None:
        name, role = (None, None) if person is None else (person.name, person.role)
        self._notes.put({"change": change, "name": name, "role": role, **more})


def _changed(was: Person, now: Person) -> list[str]:
    """What of a person is another: role, pin, badge, lock."""
    pairs: tuple[tuple[str, Callable[[Person], object]], ...] = (
        ("role", lambda p: p.role),
        ("pin", lambda p: (p.pin, p.salt)),
        ("badge", lambda p: p.badge),
    )
    found = [name for name, part in pairs if part(was) != part(now)]
    return found or ["lock"]
