"""Who is signed on: the guard's thread with a clock of the test, on real files."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from guard_clients import eventually

from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell
from kiosk.guard.sign_on import SignOn
from kiosk.guard.worker import Shared
from kiosk.interlock.commands import Command, Name
from kiosk.interlock.facts import PeopleFacts
from kiosk.people import secret, store
from kiosk.people.person import IDLE_S, ROLES, People

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "people"))
from people_made import BADGES, PINS, everyone

SCREEN = "screen-1"
NOBODY = PeopleFacts(True)


class Desk:
    """A SignOn whose rounds are made by hand, so that no test waits."""

    def __init__(self, data: Path) -> None:
        self.data, self.now_s, self.rung = data, 100.0, Bell()
        self.notes: list[dict[str, object]] = []
        self.begin()

    def begin(self) -> None:
        """The guard starts."""
        shared = Shared(self.rung, lambda: self.now_s, Failure(self.rung.ring))
        self.desk = SignOn(self.data, shared)
        self.facts()

    def facts(self, client: str | None = SCREEN) -> PeopleFacts:
        return self.desk.facts(client)

    def round(self) -> None:
        """One round of the thread."""
        self.desk.round()
        self.notes += self.desk.notes()

    def ask(self, asked: Name, client: str = SCREEN, **arguments: object) -> str | None:
        assert self.desk.ask(Command(asked, "x", "e", None, client, arguments))
        self.round()
        (reply,) = self.desk.replies()
        return reply.refused

    def sign_on(self, name: str) -> str | None:
        return self.ask(Name.SIGN_ON, badge=BADGES[name], pin=PINS[name])


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    store.write(store.people_file(tmp_path), everyone())
    return Desk(tmp_path)


def test_without_a_people_file_everything_is_as_without_people(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    assert desk.facts() == PeopleFacts(False)
    assert desk.ask(Name.SIGN_ON, name="Ada", pin="7391") == "no_people"
    assert desk.desk.listed() == ()
    assert desk.notes == []


def test_at_the_start_the_file_is_told_once_and_nobody_as_new(desk: Desk) -> None:
    desk.round()
    desk.round()
    (note,) = desk.notes
    assert (note["change"], note["why"], note["count"]) == ("file", "read", len(PINS))


@pytest.mark.parametrize("name", list(PINS))
def test_who_signs_on_is_a_fact_with_the_role_and_a_row_of_the_log(desk: Desk, name: str) -> None:
    assert desk.facts() == NOBODY
    assert desk.sign_on(name) is None
    person = everyone().named(name)
    assert person is not None
    assert desk.facts() == PeopleFacts(True, person.role, name)
    assert {"change": "signed_on", "name": name, "role": person.role, "way": "badge and pin",
            "refused": None} in desk.notes  # fmt: skip


def test_no_note_and_no_list_holds_a_pin_a_badge_or_a_digest(desk: Desk) -> None:
    desk.ask(Name.SIGN_ON, name="Ada", pin=PINS["Ada"])
    desk.ask(Name.SIGN_ON, name="Ada", pin="8264")
    desk.ask(Name.SIGN_ON, name="739146", pin="8264")
    desk.ask(Name.SIGN_ON, badge="B-9999")
    desk.sign_on("Dot")
    told = repr(desk.notes) + repr(desk.desk.listed())
    assert len(desk.notes) > 5
    for person in everyone().persons:
        hidden = [person.pin, person.badge, person.salt, PINS[person.name], BADGES[person.name]]
        assert not [word for word in (*hidden, "8264", "B-9999") if word in told]


def test_signing_off(desk: Desk) -> None:
    assert desk.ask(Name.SIGN_OFF) == "not_signed_on"
    desk.sign_on("Cy")
    assert desk.ask(Name.SIGN_OFF) is None
    assert desk.facts() == NOBODY
    assert desk.notes[-1]["why"] == "asked"


def test_the_next_one_takes_the_place_of_the_last(desk: Desk) -> None:
    desk.sign_on("Ada")
    desk.sign_on("Dot")
    assert desk.facts().name == "Dot"
    assert [note["change"] for note in desk.notes][-3:] == ["signed_on", "signed_on", "signed_off"]


def test_a_wrong_pin_leaves_the_one_who_is_signed_on(desk: Desk) -> None:
    desk.sign_on("Ada")
    assert desk.ask(Name.SIGN_ON, badge=BADGES["Dot"], pin="826413") == "wrong_pin"
    assert desk.facts().name == "Ada"


@pytest.mark.parametrize("role", ROLES)
def test_after_its_idle_time_and_not_before_a_session_ends(desk: Desk, role: str) -> None:
    name = next(person.name for person in everyone().persons if person.role == role)
    desk.sign_on(name)
    desk.now_s += IDLE_S[role]
    desk.round()
    assert desk.facts().role == role
    desk.now_s += 0.1
    desk.round()
    assert desk.facts() == NOBODY
    assert (desk.notes[-1]["change"], desk.notes[-1]["why"]) == ("signed_off", "idle")


def test_a_touch_of_that_screen_and_of_no_other_begins_the_idle_time_anew(desk: Desk) -> None:
    for client, there in (("screen-2", False), (SCREEN, True)):
        desk.sign_on("Dot")
        desk.now_s += 200.0
        desk.desk.touched(client)
        desk.now_s += 200.0
        desk.round()
        assert (desk.facts().name == "Dot") is there


def test_another_screen_does_not_inherit_who_was_signed_on(desk: Desk) -> None:
    desk.sign_on("Dot")
    assert desk.facts("screen-2") == NOBODY
    desk.round()
    assert desk.facts(SCREEN) == NOBODY
    assert desk.notes[-1]["why"] == "screen_gone"


def test_wrong_tries_outlive_a_restart_and_the_wait_begins_anew(desk: Desk) -> None:
    for _ in range(3):
        assert desk.ask(Name.SIGN_ON, name="Ada", pin="8264") == "wrong_pin"
    desk.now_s += 29.0
    assert desk.ask(Name.SIGN_ON, name="Ada", pin=PINS["Ada"]) == "wait"
    desk.begin()
    desk.now_s += 29.0
    assert desk.ask(Name.SIGN_ON, name="Ada", pin=PINS["Ada"]) == "wait"
    desk.now_s += 1.0
    assert desk.ask(Name.SIGN_ON, name="Ada", pin=PINS["Ada"]) is None
    assert store.read_tries(store.tries_file(desk.data)) == {}


def locked(desk: Desk, name: str) -> None:
    for _ in range(10):
        desk.ask(Name.SIGN_ON, badge=BADGES[name], pin="826493")
        desk.now_s += 3600.0
    assert desk.sign_on(name) == "person_locked"


def test_a_locked_person_is_let_in_by_a_supervisor_alone(desk: Desk) -> None:
    locked(desk, "Ben")
    row = next(row for row in desk.desk.listed() if row["name"] == "Ben")
    assert row == {"name": "Ben", "role": "setter", "needs_badge": True, "wait_s": 0.0,
                   "locked": True}  # fmt: skip
    for name in (None, "Ada", "Cy"):
        if name:
            desk.sign_on(name)
        assert desk.ask(Name.UNLOCK_PERSON, name="Ben") == "needs_supervisor"
    desk.sign_on("Dot")
    assert desk.ask(Name.UNLOCK_PERSON, client="screen-2", name="Ben") == "needs_supervisor"
    assert desk.ask(Name.UNLOCK_PERSON, name="Eve") == "bad_arguments"
    assert desk.ask(Name.UNLOCK_PERSON, name="Ben") is None
    assert desk.notes[-1] == {"change": "unlocked", "name": "Ben", "role": "setter", "by": "Dot"}
    assert desk.sign_on("Ben") is None


def changed(desk: Desk, change: Callable[[People], People]) -> None:
    store.write(store.people_file(desk.data), change(everyone()))
    desk.round()


def test_a_new_mark_from_the_command_unlocks_too(desk: Desk) -> None:
    locked(desk, "Dot")
    changed(desk, lambda people: replace(people, persons=tuple(
        replace(p, mark="new") if p.name == "Dot" else p for p in people.persons)))  # fmt: skip
    assert desk.notes[-1]["what"] == ["lock"]
    assert desk.sign_on("Dot") is None


def test_who_is_removed_or_given_another_role_is_signed_off_at_once(desk: Desk) -> None:
    for change, what in (
        (lambda people: replace(people, persons=people.persons[:3]), "removed"),
        (lambda people: replace(people, persons=tuple(replace(p, role="operator")
                                                      for p in people.persons)), "changed"),
    ):  # fmt: skip
        changed(desk, lambda people: people)
        desk.sign_on("Dot")
        changed(desk, change)
        assert desk.facts() == NOBODY
        assert what in [note["change"] for note in desk.notes]


def test_while_the_people_file_is_damaged_nobody_is_signed_on_and_people_count_as_set_up(
    desk: Desk, capsys: pytest.CaptureFixture[str]
) -> None:
    store.people_file(desk.data).write_text("{")
    desk.round()
    assert desk.facts() == NOBODY
    assert desk.sign_on("Dot") == "people_unreadable"
    assert "people.json: is damaged" in capsys.readouterr().err
    desk.begin()
    assert desk.facts() == NOBODY
    changed(desk, lambda people: people)
    assert desk.sign_on("Dot") is None


def damaged(desk: Desk) -> None:
    store.people_file(desk.data).write_text("{}")


def opened(desk: Desk) -> None:
    store.people_file(desk.data).chmod(0o644)


@pytest.mark.parametrize("spoil", [damaged, opened])
def test_a_file_that_gives_no_rights_takes_them_from_who_has_them_at_the_next_look(
    desk: Desk, spoil: Callable[[Desk], None]
) -> None:
    desk.sign_on("Dot")
    spoil(desk)
    desk.desk.touched(SCREEN)
    desk.round()
    assert desk.facts() == NOBODY
    assert desk.notes[-1] == {"change": "signed_off", "name": "Dot", "role": "supervisor",
                              "why": "file"}  # fmt: skip
    assert desk.desk.listed() is None
    assert desk.ask(Name.UNLOCK_PERSON, name="Ben") == "people_unreadable"
    changed(desk, lambda people: people)
    assert desk.facts() == NOBODY
    assert desk.sign_on("Dot") is None


@pytest.mark.parametrize("spoil", [damaged, opened, lambda desk: (
    store.people_file(desk.data).unlink())])  # fmt: skip
def test_signing_off_needs_no_file(desk: Desk, spoil: Callable[[Desk], None]) -> None:
    desk.sign_on("Dot")
    spoil(desk)
    assert desk.ask(Name.SIGN_OFF) is None
    assert desk.facts().role is None
    assert [note["name"] for note in desk.notes if note["change"] == "signed_off"] == ["Dot"]


@pytest.mark.parametrize("how", [{"badge": BADGES["Dot"]}, {"name": "Ada"}])
def test_without_memory_for_a_digest_a_sign_on_is_refused_and_the_guard_goes_on(
    desk: Desk, how: dict[str, str], monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    desk.sign_on("Cy")
    with monkeypatch.context() as patch:
        patch.setattr(secret, "_MEMORY", 1024)  # the library then refuses for want of memory
        for _ in range(4):
            assert desk.ask(Name.SIGN_ON, pin="7391", **how) == "not_judged"
    assert "cannot be judged (ValueError" in capsys.readouterr().err
    assert (desk.notes[-1]["change"], desk.notes[-1]["refused"]) == ("refused", "not_judged")
    assert desk.facts().name == "Cy"
    assert desk.ask(Name.SIGN_ON, name="Ada", pin=PINS["Ada"]) is None  # no try was counted


def test_too_many_at_once_are_refused(desk: Desk) -> None:
    ask = Command(Name.SIGN_ON, "x", "e", None, SCREEN, {"badge": "B-9999"})
    taken = [desk.desk.ask(ask) for _ in range(6)]
    assert taken == [True] * 4 + [False] * 2


def test_its_thread_answers_by_itself_and_ends_when_asked(desk: Desk) -> None:
    desk.desk.start()
    assert desk.desk.ask(Command(Name.SIGN_ON, "x", "e", None, SCREEN, {"badge": BADGES["Ada"]}))
    assert eventually(lambda: desk.facts().name == "Ada", 20.0)
    assert desk.rung.wait(20.0)
    desk.desk.stop()
    desk.desk.join(20.0)
    assert not desk.desk.is_alive()
