"""``holdpoint people``, as it is typed."""

from __future__ import annotations

import io
import re
import stat
from pathlib import Path

import pytest

from kiosk.cli import main
from kiosk.people import secret, store
from kiosk.people.asked import Asked, judge
from kiosk.people.person import ROLES, People
from kiosk.people.tries import Tries


class Terminal:
    """Types a command line and what it asks for."""

    def __init__(
        self, data: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        self.data, self._patch, self._capsys = data, monkeypatch, capsys
        self.out = self.err = ""

    def type(self, *words: str, lines: tuple[str, ...] = ()) -> int:
        self._patch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        status = main(["people", "--data", str(self.data), *words])
        self.out, self.err = self._capsys.readouterr()
        return status

    @property
    def people(self) -> People:
        people = store.read(store.people_file(self.data))
        assert people is not None
        return people

    def signs_on(self, *, name: str | None = None, badge: str | None = None,
                 pin: str | None = None) -> str | None:  # fmt: skip
        return judge(self.people, Tries(), Asked(name, badge, pin), 0.0).refused


@pytest.fixture
def terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Terminal:
    return Terminal(tmp_path, monkeypatch, capsys)


def test_nobody_is_there_at_first(terminal: Terminal) -> None:
    assert terminal.type("list") == 0
    assert "no people are set up" in terminal.out
    assert not store.people_file(terminal.data).exists()


def test_an_operator_is_added_with_a_pin_and_no_badge(terminal: Terminal) -> None:
    assert terminal.type("add", "Supervisor 1", "--role", "operator", lines=("7391", "")) == 0
    assert terminal.signs_on(name="Supervisor 1", pin="7391") is None
    assert stat.S_IMODE(store.people_file(terminal.data).stat().st_mode) == 0o600
    terminal.type("list")
    assert re.search(r"Supervisor 1 +operator +PIN$", terminal.out, re.M)


def test_a_supervisor_gets_a_drawn_pin_that_is_shown_once_and_a_badge(terminal: Terminal) -> None:
    assert terminal.type("add", "Dot", "--role", "supervisor", "--issue", lines=("B-0004",)) == 0
    (pin,) = re.findall(r"PIN of Dot: (\d{6}) ", terminal.out)
    assert terminal.signs_on(badge="B-0004", pin=pin) is None
    assert pin not in store.people_file(terminal.data).read_text()
    assert "B-0004" not in store.people_file(terminal.data).read_text()


def test_drawn_pins_differ_and_none_is_easy(terminal: Terminal) -> None:
    terminal.type("add", "Ada", "--role", "operator", lines=("7391", ""))
    pins = []
    for _ in range(5):
        terminal.type("pin", "Ada", "--issue")
        pins += re.findall(r"\d{6}", terminal.out)
    assert len(set(pins)) == 5
    assert [pin for pin in pins if secret.against_pin(pin, has_rights=True, issued=True)] == []


def test_role_pin_badge_unlock_and_remove(terminal: Terminal) -> None:
    terminal.type("add", "Ada", "--role", "operator", lines=("7391", ""))
    before = terminal.people.persons[0]
    assert terminal.type("role", "Ada", "--role", "setter", lines=("73914628",)) == 0
    assert terminal.signs_on(name="Ada", pin="73914628") == "badge_needed"
    terminal.type("list")
    assert "cannot sign on: needs both" in terminal.out
    assert terminal.type("badge", "Ada", lines=("B-0001",)) == 0
    assert terminal.signs_on(badge="B-0001", pin="73914628") is None
    assert terminal.type("pin", "Ada", lines=("82640517",)) == 0
    assert terminal.signs_on(badge="B-0001", pin="73914628") == "wrong_pin"
    mark = terminal.people.persons[0].mark
    assert mark != before.mark
    assert terminal.type("unlock", "Ada") == 0
    assert terminal.people.persons[0].mark != mark
    assert terminal.type("remove", "Ada") == 0
    assert terminal.people.persons == ()


@pytest.mark.parametrize(
    ("words", "lines", "told"),
    [
        (("add", "Ada", "--role", "setter"), ("1", "2"), "nobody|there already"),
        (("add", "Eve", "--role", "setter"), ("7391",), "take 8 to 12 .or let one be drawn"),
        (("add", "Eve", "--role", "operator"), ("1234",), "easily guessed: take another"),
        (("add", "Eve", "--role", "operator"), (), "a PIN has digits only"),
        (("add", "Eve", "--role", "setter", "--issue"), ("",), "4 to 64 characters: scan it again"),
        (("add", "Eve", "--role", "operator"), ("8264", "B-0001"), "badge of Ada: take another"),
        (("add", "x" * 25, "--role", "operator"), ("8264", ""), "1 to 24 letters"),
        (("add", " ", "--role", "operator"), ("8264", ""), "1 to 24 letters"),
        (("pin", "Eve"), ("8264",), "nobody is named Eve: see"),
        (("remove", "Eve"), (), "nobody is named Eve: see"),
    ],
)
def test_what_cannot_be_done_is_one_message_and_changes_nothing(
    terminal: Terminal, words: tuple[str, ...], lines: tuple[str, ...], told: str
) -> None:
    terminal.type("add", "Ada", "--role", "operator", lines=("7391", "B-0001"))
    before = store.people_file(terminal.data).read_bytes()
    assert terminal.type(*words, lines=lines) == 2
    assert re.search(told, terminal.err)
    assert terminal.err.count("\n") == 1
    assert store.people_file(terminal.data).read_bytes() == before


def test_without_memory_for_a_digest_nothing_is_changed(
    terminal: Terminal, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(secret, "_MEMORY", 1024)  # the library then refuses for want of memory
    assert terminal.type("add", "Ada", "--role", "operator", lines=("7391", "")) == 2
    assert "no PIN or badge can be kept" in terminal.err
    assert terminal.err.count("\n") == 1
    assert not store.people_file(terminal.data).exists()


def test_a_damaged_file_is_told_and_left_as_it_is(terminal: Terminal) -> None:
    path = store.people_file(terminal.data)
    path.write_text("{")
    path.chmod(0o600)
    for words in (("list",), ("add", "Ada", "--role", "operator")):
        assert terminal.type(*words, lines=("7391", "")) == 2
        assert "is damaged" in terminal.err
    assert path.read_text() == "{"


def test_every_role_of_the_page_is_one_that_can_be_given() -> None:
    page = (Path(__file__).resolve().parents[2] / "docs" / "people.md").read_text()
    assert tuple(re.findall(r"^\| `(\w+)` \| (?:name|badge)", page, re.M)) == ROLES
