"""A bar-code reader that types: real key events in the window, bytes on a real socket."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import screen_scenes as scenes
from screen_plan import plan
from screen_scenes import snapshot
from screen_server import Server, await_true
from screen_window import WORDS, KivyWindow, Screen

from kiosk.interlock.snapshot import JobShown, Snapshot
from kiosk.link import Link
from kiosk.screen import safely
from kiosk.screen.app import ScreenApp
from kiosk.screen.front import Front
from kiosk.screen.scanner import FAST_S, FORGET_S, QUIET_S, Scanner
from kiosk.screen.show.ready import bad, older

ENTER, TAB, LINE_FEED, ESCAPE, F1 = 13, 9, 10, 27, 282
OLD = JobShown(
    "shelf-rail-b.job.toml", "SR-210", "Shelf rail, beech", "B",
    'shelf-rail-b.job.toml: id "SR-210", revision "B", is superseded by id "SR-210", '
    'revision "C", in shelf-rail.job.toml: take it',
)  # fmt: skip
CHOOSING = scenes.no_plan("SELECT JOB", jobs=(OLD, *scenes.JOBS, scenes.BAD_JOB))


class Wedge:
    """A reader at the window, with a clock of its own: time passes only between its keys."""

    def __init__(self, got: Callable[[str], None]) -> None:
        self.now_s = 100.0
        self.scanner = Scanner(got, lambda: self.now_s)
        KivyWindow.bind(on_key_down=self.scanner.on_key)

    def close(self) -> None:
        KivyWindow.unbind(on_key_down=self.scanner.on_key)

    def key(self, key: int, modifiers: tuple[str, ...] = (), after_s: float = 0.004) -> bool:
        self.now_s += after_s
        return bool(KivyWindow.dispatch("on_key_down", key, 0, None, list(modifiers)))

    def type(self, text: str, after_s: float = 0.004) -> None:
        """Capitals with shift, as a reader sends them."""
        for letter in text:
            shift = ("shift",) if letter.isupper() else ()
            self.key(ord(letter.lower()), shift, after_s)

    def wait(self, seconds: float) -> None:
        self.now_s += seconds
        self.scanner.look()


@pytest.fixture
def codes() -> list[str]:
    return []


@pytest.fixture
def wedge(screens: Callable[..., Screen], codes: list[str]) -> Iterator[Wedge]:
    screens()
    made = Wedge(codes.append)
    yield made
    made.close()


@pytest.mark.parametrize("before", [(), (ENTER,), (LINE_FEED,), (TAB,), (ENTER, LINE_FEED)])
@pytest.mark.parametrize("after", [(ENTER,), (271,), (TAB,), (LINE_FEED,), (ENTER, LINE_FEED)])
def test_a_code_comes_out_whole_whatever_stands_round_it(
    wedge: Wedge, codes: list[str], before: tuple[int, ...], after: tuple[int, ...]
) -> None:
    for key in before:
        wedge.key(key)
    wedge.type("SR-210")
    for key in after:
        wedge.key(key)
    assert codes == ["SR-210"]


def test_a_reader_that_sends_no_end_is_heard_after_a_silence(
    wedge: Wedge, codes: list[str]
) -> None:
    wedge.type("SR-210")
    wedge.wait(QUIET_S * 0.9)
    assert codes == []
    wedge.wait(QUIET_S * 0.2)
    assert codes == ["SR-210"]


def test_slow_keys_count_only_when_enter_ends_them(wedge: Wedge, codes: list[str]) -> None:
    wedge.type("SR-210", after_s=FAST_S * 2)
    wedge.wait(QUIET_S * 2)
    wedge.key(TAB)
    assert codes == []
    wedge.type("SR-210", after_s=FAST_S * 2)
    wedge.key(ENTER, after_s=FAST_S * 2)
    assert codes == ["SR-210"]


def test_keys_long_ago_do_not_belong_to_a_code(wedge: Wedge, codes: list[str]) -> None:
    wedge.type("X")
    wedge.key(ord("y"), after_s=FAST_S * 2)
    wedge.key(ord("s"), ("shift",), after_s=FORGET_S * 1.1)
    wedge.type("R-210")
    wedge.key(ENTER)
    assert codes == ["SR-210"]


def test_signs_that_need_shift_and_digits_of_the_number_pad(wedge: Wedge, codes: list[str]) -> None:
    wedge.type("rail")
    wedge.key(ord("-"), ("shift",))  # underscore on a keyboard of the United States
    for key in (256 + 2, 256 + 1, 256 + 0):
        wedge.key(key)
    wedge.key(ENTER)
    assert codes == ["rail_210"]


@pytest.mark.parametrize("key", [ESCAPE, F1, 284, 292, 276, 8, 127])
def test_other_keys_do_nothing_and_go_no_further(wedge: Wedge, codes: list[str], key: int) -> None:
    assert wedge.key(key) is True
    wedge.wait(QUIET_S * 2)
    wedge.key(ENTER)
    assert codes == []


# -- from the key to the bytes


class Reading:
    """A front on a link to a server, and the reader of its window."""

    def __init__(self, server: Server) -> None:
        self.server = server
        self.link = Link(server.path)
        self.front = Front(self.link, WORDS)
        self.wedge = Wedge(lambda code: self.front.scanned(code, self.now_s()))
        self.link.start()
        await_true(lambda: self.link.view().snapshot, "no snapshot came")

    def now_s(self) -> float:
        return self.link.view().received_s or 0.0

    def scan(self, code: str) -> str:
        """The line on the screen after it."""
        self.wedge.type(code)
        self.wedge.key(ENTER)
        return self.front.shown(self.now_s(), "10:42", 0, 0).strip.notice

    def chosen(self) -> list[object]:
        return [row["job"] for row in self.server.commands() if row["command"] == "select_job"]

    def close(self) -> None:
        self.wedge.close()
        self.link.close()
        self.server.close()


@pytest.fixture
def reading(screens: Callable[..., Screen], tmp_path: Path) -> Iterator[Callable[..., Reading]]:
    made: list[Reading] = []
    screens()

    def make(snap: Snapshot) -> Reading:
        made.append(Reading(Server(tmp_path / "g.sock", snap, plan())))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.mark.parametrize("code", ["SR-210", "sr-210"])
def test_a_scanned_job_is_chosen_and_said(reading: Callable[..., Reading], code: str) -> None:
    """Two revisions lie in the folder: the one on offer is meant."""
    one = reading(CHOOSING)
    assert one.scan(code) == "Scanned SR-210"
    await_true(one.chosen, "nothing was sent")
    assert one.chosen() == ["shelf-rail.job.toml"]


def test_an_unknown_id_is_said_and_nothing_is_sent(reading: Callable[..., Reading]) -> None:
    one = reading(CHOOSING)
    assert one.scan("XYZ-9") == "No job XYZ-9 in the folder"
    assert one.scan("CP-044") == "Scanned CP-044"  # marks that lines do arrive
    await_true(one.chosen, "nothing was sent")
    assert one.chosen() == ["cover-plate.job.toml"]


def test_a_job_that_only_stands_in_a_bad_file_is_said_so(reading: Callable[..., Reading]) -> None:
    twin = JobShown(
        "a.job.toml", "TW-1", "Twin", "A", 'a.job.toml: id "TW-1" is also in b.job.toml'
    )
    one = reading(scenes.no_plan("SELECT JOB", jobs=(*scenes.JOBS, twin)))
    assert one.scan("TW-1") == "Job TW-1 cannot be used: see the list"


@pytest.mark.parametrize(
    "snap",
    [
        scenes.no_plan("SELECT JOB", planning="SR-210", allowed=("cancel_job",)),
        scenes.no_plan("STARTING", allowed=()),
        snapshot("SET UP", allowed=("confirm_zone", "select_job")),
        snapshot("CUTTING"),
    ],
    ids=lambda snap: snap.planning or snap.state,
)
def test_a_scan_counts_on_the_ready_board_only(
    reading: Callable[..., Reading], snap: Snapshot
) -> None:
    one = reading(snap)
    assert one.scan("CP-044") == ""
    one.server.publish(CHOOSING)
    await_true(lambda: (one.link.view().snapshot or snap).jobs == CHOOSING.jobs, "not published")
    assert one.scan("BF-118") == "Scanned BF-118"
    await_true(one.chosen, "nothing was sent")
    assert one.chosen() == ["base-flange.job.toml"]


def test_the_screen_itself_listens_to_the_keys_of_its_window(
    screens: Callable[..., Screen], tmp_path: Path
) -> None:
    screens()
    server = Server(tmp_path / "g.sock", CHOOSING)
    app = ScreenApp(server.path, 5.88)
    app.build()
    app.on_start()
    try:
        await_true(lambda: app.link.view().snapshot, "no snapshot came")
        assert KivyWindow.dispatch("on_key_down", ESCAPE, 41, None, []) is True
        for letter in "cp-044\r":
            KivyWindow.dispatch("on_key_down", ord(letter), 0, letter, [])
        await_true(lambda: [r for r in server.commands() if r["command"] == "select_job"], "none")
        app.tick()
        assert app.board.shown.strip.notice == "Scanned CP-044"
    finally:
        app.on_stop()
        safely.forget()
        server.close()
    assert not KivyWindow.dispatch("on_key_down", F1, 58, None, [])


def test_an_older_revision_is_no_bad_file() -> None:
    assert older(CHOOSING) == [OLD]
    assert bad(CHOOSING) == [scenes.BAD_JOB]
