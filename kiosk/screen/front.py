"""What the screen itself remembers: open sheet, page, what was touched, what is being asked.

It turns the link's newest view into a ``Shown`` and a touched button into a command.  It holds no
truth: everything here may be lost at any moment without harm.  No Kivy.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass

from kiosk.interlock.snapshot import Snapshot
from kiosk.job import plan as plans
from kiosk.job.plan import Plan
from kiosk.link import Answer, Link, View
from kiosk.screen import signing
from kiosk.screen.book import Book
from kiosk.screen.show import SILENT_S, people, ready, show
from kiosk.screen.show.scale import vacuum_kpa
from kiosk.screen.show.shown import Button, Desk, Shown
from kiosk.screen.trace import Trace
from kiosk.words import Words

NOTICE_S = 6.0
EPOCH_NOTICE_S = 20.0
RAN_OUT_S = 0.5  # a permit that ends no more than this before its time was not withdrawn
RAN_OUT_NOTICE_S = 120.0
# Their sheet is done with.
CLOSES = ("reset", "cancel_job", "bypass", "shelve", "sign_off", "confirm_cautions")
TAKE_OVER = ("LOW HOLD", "HOLD LOST", "NO PERMIT")  # their views come before signing on
ANSWER_S = 3.0  # so long without a reply, and the screen says so
PLAN_AGAIN_S = 2.0  # ask for the plan again when no answer came


@dataclass(slots=True)
class _Asked:
    """A command that waits for its reply."""

    id: str
    since_s: float
    silent: bool = False  # the plan is fetched without a word
    command: str = ""
    badge: str = ""  # that was shown to sign on; forgotten when a sheet is left


class Front:
    """One screen's own state.  ``now_s`` everywhere is the link's clock."""

    def __init__(self, link: Link, words: Words, book: Book | None = None) -> None:
        self._link, self._words, self._book = link, words, book
        self.trace = Trace()
        self._plan: Plan | None = None
        self._asked: list[_Asked] = []
        self._plan_asked: tuple[str, float] | None = None
        self._sheet, self._page, self._cause = "", 0, ""
        self._ticked: frozenset[str] = frozenset()
        self._notice, self._notice_until_s, self._notice_of_sign_on = "", 0.0, False
        self._state, self._restarts, self._seq = "", 0, -1
        self._setup: tuple[str | None, str] = (None, "")
        self._about = ""
        self._signed: str | None = None
        self._signing = signing.Signing()
        self._touched = False
        self._runs_out_s: float | None = None  # when the permit that stood at the last look ends

    def heard(self) -> None:
        """The link has something new; called in its thread."""
        view = self._link.view()
        snapshot = view.snapshot
        if snapshot is None or view.received_s is None or snapshot.seq == self._seq:
            return
        self._seq = snapshot.seq
        self.trace.add(view.received_s, vacuum_kpa(snapshot))

    def shown(self, now_s: float, clock: str, utc_offset_s: int, columns: int) -> Shown:
        """The screen for this moment; ``columns`` is the width of the trace in pixels."""
        view = self._link.view()
        self._follow(view, now_s)
        self._collect(now_s)
        self._fetch(view.snapshot, now_s)
        self._ask_people(view.snapshot, now_s)
        notice = self._notice if now_s < self._notice_until_s else ""
        desk = Desk(
            silent_s=None if view.received_s is None else max(0.0, now_s - view.received_s),
            clock=clock,
            utc_offset_s=utc_offset_s,
            notice=notice,
            sign_on=notice if self._notice_of_sign_on else "",
            reads_only=view.reads_only,
            overlay=self._sheet,
            page=self._page,
            cause=self._cause,
            ticked=self._ticked,
            about=self._about,
            has_book=self._book is not None,
            book=self._book.found() if self._book is not None else None,
            people=self._signing.listed,
            who=self._signing.name,
            typed=len(self._signing.typed),
            trace=self.trace.columns(columns, now_s) if columns else (),
        )
        return show(self._words, view.snapshot, self._plan, desk)

    def say(
        self, words: str, now_s: float, for_s: float = NOTICE_S, *, sign_on: bool = False
    ) -> None:
        """Show a notice for a while; of a sign-on beside the digits too."""
        self._notice, self._notice_until_s = words, now_s + for_s
        self._notice_of_sign_on = sign_on

    def act(self, button: Button, now_s: float) -> None:
        """A button was really meant."""
        self._signing.used_s = now_s
        if button.opens == "enter":
            self._sign_on(self._signing.arguments(), now_s)
        elif button.command:
            self._ask(button, now_s)
        else:
            self._open(button.opens)

    def scanned(self, code: str, now_s: float) -> None:
        """A reader gave a code: of a job on the Ready board, else of a badge."""
        view = self._link.view()
        silent = view.received_s is None or now_s - view.received_s > SILENT_S
        if silent or view.snapshot is None:
            return
        badges = people.set_up(view.snapshot)
        of_job = not self._sheet and ready.chooses(view.snapshot)
        if view.reads_only and (badges or of_job):
            self.say(self._words.say("refused.not_commanding"), now_s, sign_on=badges)
            return
        if of_job:
            words, job = ready.scanned(self._words, view.snapshot, code)
            if job is not None or not badges:
                self.say(words, now_s)
                if job is not None:
                    self._ask(ready.select(job), now_s)
                return
        if badges:
            self.touched()
            self._sign_on({"badge": code}, now_s)

    def touched(self) -> None:
        """A finger came down anywhere, or a badge was shown."""
        self._touched = True

    def was_touched(self) -> bool:
        """Whether somebody used the screen since this was last asked; called by the link."""
        touched, self._touched = self._touched, False
        return touched

    def _sign_on(self, arguments: dict[str, str], now_s: float) -> None:
        """Send what was typed or read; a badge that was read is kept with this question alone."""
        self._signing.used_s = now_s
        ident = self._link.ask("sign_on", **arguments)
        if ident is None:
            self.say(self._words.say("refused.no_answer"), now_s, sign_on=True)
        else:
            badge = arguments.get("badge", "")
            self._asked.append(_Asked(ident, now_s, command="sign_on", badge=badge))

    def _ask_people(self, snapshot: Snapshot | None, now_s: float) -> None:
        """While a sheet to sign on is open: who may, again and again; and close it unused.

        Once more when somebody was signed off: should nobody be able to sign on, that is said.
        """
        over = snapshot is not None and self._signing.is_over(snapshot.person)
        is_open = self._sheet in signing.SHEETS
        if is_open and now_s - self._signing.used_s > signing.FORGET_S:
            self._close()
        elif over or (is_open and self._signing.due(now_s)):
            self._signing.listed_s = now_s
            ident = self._link.ask("get_people")
            if ident is not None:
                self._asked.append(_Asked(ident, now_s, silent=True))

    def _ask(self, button: Button, now_s: float) -> None:
        for arguments in button.commands:
            ident = self._link.ask(button.command, **arguments)
            if ident is None:
                self.say(self._words.say("refused.no_answer"), now_s)
                return
            self._asked.append(_Asked(ident, now_s))
        if button.command in CLOSES:
            self._close()

    def _open(self, name: str) -> None:
        kind, _, value = name.partition(":")
        acts: dict[str, Callable[[str], None]] = {
            "back": lambda _: self._close(),
            "page": self._turn,
            "tick": self._tick,
            "untick": self._untick,
            "cause": self._pick,
            "person": self._person,
            "digit": self._signing.digit,
            "erase": lambda _: self._signing.erase(),
            "bypass_reason": lambda code: self._reason("bypass_reason", code),
            "shelve_reason": lambda code: self._reason("shelve_reason", code),
            "cycles": lambda page: self._past("cycles", page=page),
            "cycle": lambda ident: self._past("cycle", about=ident, page=str(self._page)),
        }
        left = self._sheet
        acts.get(kind, self._sheet_of)(value or kind)
        if left and self._sheet != left:
            self._forget_badges()

    def _sheet_of(self, name: str) -> None:
        self._sheet, self._page, self._cause, self._about = name, 0, "", ""
        self._signing.forget()

    def _person(self, name: str) -> None:
        self._sheet_of("keypad")
        self._signing.begin(name=name)

    def _reason(self, sheet: str, code: str) -> None:
        self._sheet_of(sheet)
        self._about = code

    def _past(self, sheet: str, *, about: str = "", page: str = "") -> None:
        """Past cycles, or one of them; ``page`` of the list stays."""
        self._sheet_of(sheet)
        self._about, self._page = about, int(page) if page.isdigit() else 0
        if self._book is not None:
            self._book.ask(about)

    def _close(self) -> None:
        if self._sheet:
            self._forget_badges()
        self._sheet_of("")

    def _forget_badges(self) -> None:
        """A late answer opens no keypad over what somebody turned to."""
        for asked in self._asked:
            asked.badge = ""

    def _turn(self, page: str) -> None:
        """That page, or the next."""
        self._page = int(page) if page.isdecimal() else self._page + 1

    def _untick(self, _: str) -> None:
        self._ticked = frozenset()

    def _tick(self, code: str) -> None:
        self._ticked ^= {code}

    def _pick(self, cause: str) -> None:
        self._cause = cause

    def _follow(self, view: View, now_s: float) -> None:
        """What changes by itself closes sheets and drops what was touched for it."""
        snapshot = view.snapshot
        if snapshot is None:
            return
        if view.restarts != self._restarts:
            self._restarts = view.restarts
            self._asked.clear()
            self._ticked, self._runs_out_s = frozenset(), None
            self.say(self._words.say("notice.epoch"), now_s, EPOCH_NOTICE_S)
        self._say_ran_out(view, now_s)
        if snapshot.state != self._state:
            self._state = snapshot.state
            if self._state in TAKE_OVER and self._notice == self._words.say("people.done"):
                self._notice = ""  # the stop card says what was first in its place
            if self._state in TAKE_OVER:
                self._forget_badges()
            if self._sheet not in signing.SHEETS or self._state in TAKE_OVER:
                self._close()
        if snapshot.person != self._signed:
            self._signed = snapshot.person
            self._page = 0 if self._sheet == "cautions" else self._page  # each reads all of them
        setup = (snapshot.plan, snapshot.cycle or "")
        if setup != self._setup or snapshot.state != "SET UP":
            self._setup, self._ticked = setup, frozenset()

    def _say_ran_out(self, view: View, now_s: float) -> None:
        """A permit that nobody used is gone: whoever presses start now, presses in vain.

        Judged by when snapshots came: a drawing that took long hides nothing.
        """
        snapshot, came_s, said = view.snapshot, view.received_s, self._words.say("notice.ran_out")
        if snapshot is None or came_s is None:
            return
        over = self._runs_out_s is not None and came_s >= self._runs_out_s - RAN_OUT_S
        if over and snapshot.state == "READY" and not view.reads_only:
            self.say(said, now_s, RAN_OUT_NOTICE_S)
        elif self._notice == said and (snapshot.state != self._state or view.reads_only):
            self._notice = ""
        left_s = snapshot.permit_left_s
        self._runs_out_s = None if left_s is None else came_s + left_s

    def _collect(self, now_s: float) -> None:
        """Take replies; say what was refused or never answered."""
        waiting = []
        for asked in self._asked:
            answer = self._link.answer(asked.id)
            if answer is not None:
                self._take(asked, answer, now_s)
            elif now_s - asked.since_s < ANSWER_S:
                waiting.append(asked)
            elif not asked.silent:
                of_it = asked.command == "sign_on"
                self.say(self._words.say("refused.no_answer"), now_s, sign_on=of_it)
        self._asked = waiting

    def _take(self, asked: _Asked, answer: Answer, now_s: float) -> None:
        if answer.plan is not None:
            self._adopt(answer.plan)
        elif answer.people is not None:
            self._signing.listed = answer.people
        elif asked.command == "sign_on":
            self._signed_on(asked, answer, now_s)
        elif answer.refused is not None and (not asked.silent or answer.refused == signing.NO_FILE):
            self.say(self._words.say(f"refused.{answer.refused}"), now_s)

    def _signed_on(self, asked: _Asked, answer: Answer, now_s: float) -> None:
        """Signed on: the sheet is done with.  A badge that needs its PIN opens the keypad."""
        if answer.refused is None:
            if self._sheet in signing.SHEETS:
                self._sheet_of("")
            self.say(self._words.say("people.done"), now_s)
            return
        if answer.refused == "pin_needed" and not asked.badge:
            return  # somebody turned to something else
        self.say(self._words.say(f"refused.{answer.refused}"), now_s, sign_on=True)
        if asked.badge and answer.refused in ("pin_needed", "wrong_pin"):
            self._sheet_of("keypad")
            self._signing.begin(badge=asked.badge)
        elif self._sheet in signing.SHEETS and answer.refused != "wrong_pin":
            self._sheet_of("people")
        self._signing.listed_s = None

    def _adopt(self, row: dict[str, object]) -> None:
        try:
            self._plan = plans.from_json(json.dumps(row))
        except (ValueError, KeyError, TypeError):
            self._plan = None  # the map stays empty and says so; the zones are in the snapshot

    def _fetch(self, snapshot: Snapshot | None, now_s: float) -> None:
        """Ask for the plan once for each digest, and again when no answer came."""
        if snapshot is None or snapshot.plan is None:
            return
        if self._plan is not None and self._plan.digest == snapshot.plan:
            return
        if self._plan_asked is not None:
            digest, since_s = self._plan_asked
            if digest == snapshot.plan and now_s - since_s < PLAN_AGAIN_S:
                return
        ident = self._link.ask("get_plan", plan=snapshot.plan)
        self._plan_asked = (snapshot.plan, now_s)
        if ident is not None:
            self._asked.append(_Asked(ident, now_s, silent=True))
