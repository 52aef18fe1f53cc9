"""The Cycle book: read beside the drawing, listed newest first, one cycle opened and left again."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import book_scenes
import pytest
import screen_scenes as scenes
from screen_desk import FreshDesk as Desk
from screen_desk import tap
from screen_plan import plan
from screen_scenes import DESK
from screen_server import Server, await_true
from screen_window import WORDS, Screen

from kiosk.interlock.codes import RESULTS
from kiosk.interlock.decision import Note
from kiosk.records.writer import Writer
from kiosk.screen.book import COLUMNS, MOST, Book, Found, look_up
from kiosk.screen.front import Front
from kiosk.screen.show import show
from kiosk.screen.show.shown import Overlay, Shown

Make = Callable[..., Screen]
SCENES = book_scenes.book_scenes()
UTC = "2026-11-27T09:00:00.000Z"
CLOSED = {"change": "closed", "result": "hold_lost", "minimum_kpa": 42.0, "start_kpa": 50.0,
          "start_vacuum_kpa": 61.5, "lowest_ratio": 0.92, "lowest_vacuum_kpa": 40.1,
          "cutting_s": 12.0, "alarms": ["A01"]}  # fmt: skip


def written(path: Path, count: int) -> Path:
    """A log with so many cycles, and two seconds of a gauge in each."""
    writer = Writer(path, "epoch")
    writer.start()
    a_plan = plan()
    writer.plan(a_plan.digest, a_plan.to_json())
    adopted = {"change": "adopted", "digest": a_plan.digest, "job_id": "SR-210", "words": ""}
    asked = {"name": "request_permit", "arguments": {}, "refused": None, "user": "Operator 2"}
    reset = {"name": "reset", "arguments": {"cause": "other"}, "refused": "cycle_running"}
    done = {"name": "reset", "arguments": {"cause": "leak_at_edge"}, "refused": None}
    at_s = time.monotonic()
    for n in range(count):
        notes = (Note("plan", None, adopted), Note("cycle", f"c-{n}", {"change": "opened"}),
                 Note("command", f"c-{n}", asked),
                 Note("command", f"c-{n}", reset), Note("command", f"c-{n}", done),
                 Note("cycle", f"c-{n}", CLOSED))  # fmt: skip
        for k, note in enumerate(notes):
            writer.note(note, at_s + n * 60 + k / 2, UTC)
        for k in range(20):
            writer.sample("table", at_s + n * 60 + 0.5 + k / 10, 60.0 - k)
    assert writer.close(30.0), writer.status
    return path


def sheet(name: str) -> Overlay:
    snap, desk = SCENES[name]
    overlay = show(WORDS, snap, plan(), desk).overlay
    assert overlay is not None
    return overlay


# -- reading


def test_the_list_is_bounded_and_newest_first(tmp_path: Path) -> None:
    found = look_up(written(tmp_path / "log.db", MOST + 4), "")
    assert len(found.cycles) == MOST
    assert [row.id for row in found.cycles[:2]] == [f"c-{MOST + 3}", f"c-{MOST + 2}"]


def test_one_cycle_has_who_asked_the_plan_and_a_bounded_trace_of_its_own(tmp_path: Path) -> None:
    opened = look_up(written(tmp_path / "log.db", 2), "c-1").opened
    assert opened is not None
    assert (opened.row.result, opened.who, opened.gauge) == ("hold_lost", ("Operator 2",), "table")
    assert opened.plan is not None
    assert opened.plan["start_kpa"] == plan().start_kpa
    assert len(opened.columns) == COLUMNS
    known = [column for column in opened.columns if column.n]
    assert sum(column.n for column in known) == 20  # the other cycle's lie outside
    assert (max(column.high_kpa or 0 for column in known),
            min(column.low_kpa or 0 for column in known)) == (60.0, 41.0)  # fmt: skip


def test_the_cause_that_was_picked_is_read_and_said_a_refused_reset_is_not(tmp_path: Path) -> None:
    opened = look_up(written(tmp_path / "log.db", 1), "c-0").opened
    assert opened is not None
    assert opened.causes == ("leak_at_edge",)
    said = {row.words: row.detail for row in sheet("cycle-lost").rows}
    assert said["Cause picked"] == "Leak at the part's edge"
    assert "Cause picked" not in {row.words for row in sheet("cycle-done").rows}


def test_a_log_that_is_not_there_is_said(tmp_path: Path) -> None:
    book = Book(tmp_path / "log.db")
    book.ask()
    await_true(book.found, "no answer")
    found = book.found()
    assert found is not None
    assert "there is no log here" in found.trouble


def test_nothing_waits_for_a_slow_disk_and_only_the_newest_question_is_answered(
    tmp_path: Path,
) -> None:
    gate, begun, asked = threading.Event(), threading.Event(), []

    def slow(_: Path, key: str) -> Found:
        asked.append(key)
        begun.set()
        assert gate.wait(30.0)
        return Found(key)

    book = Book(tmp_path, slow)
    book.ask("c-1")
    assert begun.wait(30.0)
    book.ask("c-2")  # returns though the thread still reads: else this test would never end
    book.ask("c-3")
    assert book.found() is None
    gate.set()
    await_true(book.found, "no answer")
    assert (asked, book.found()) == (["c-1", "c-3"], Found("c-3"))


def test_a_mistake_while_reading_is_said_and_the_next_question_is_answered(tmp_path: Path) -> None:
    def once(_: Path, key: str) -> Found:
        if not key:
            raise KeyError("air")
        return Found(key)

    book = Book(tmp_path, once)
    book.ask()
    await_true(book.found, "no answer")
    assert book.found() == Found("", trouble="KeyError: 'air'")
    book.ask("c-1")
    await_true(book.found, "no second answer")
    assert book.found() == Found("c-1")


# -- what is shown


@pytest.mark.parametrize("result", [*RESULTS, "open"])
def test_every_outcome_has_words(result: str) -> None:
    assert f"result.{result}" in WORDS


def test_where_no_log_can_be_read_the_board_does_not_offer_the_book() -> None:
    for has_book in (True, False):
        snap = scenes.no_plan("SELECT JOB")
        shown = show(WORDS, snap, None, replace(DESK, has_book=has_book))
        assert ("cycles" in [button.opens for button in shown.rail.buttons]) is has_book


def test_a_lost_hold_stands_out_in_the_list_by_its_sign() -> None:
    marks = {row.button.detail.split("\n")[1].split(",")[0]: row.mark
             for row in sheet("cycles").rows if row.button}  # fmt: skip
    assert marks == {"Hold lost": "bad", "No permit": "bad", "Done": "", "Unconfirmed": "",
                     "Cancelled": "", "Not run": ""}  # fmt: skip


def test_an_opened_cycle_tells_what_it_needed_what_it_had_and_who() -> None:
    """Levels to reach are rounded up and measured values down, as on every view."""
    said = {row.words: row.detail for row in sheet("cycle-lost").rows}
    said = {words: detail.replace("\u00a0", " ") for words, detail in said.items()}
    assert said["Minimum at the cups"] == "52 kPa"
    assert said["Start level"] == "61 kPa"
    assert said["At the start"] == "66 kPa"
    assert said["Lowest R in the cut"] == "93 %"
    assert said["Signed on"] == "Operator 2, Supervisor 1"
    assert (said[WORDS.say("alarm.A01.title")], "and 2 more" in said) == ("A01", True)


def test_the_trace_is_drawn_on_the_scale_of_the_air_against_the_plans_levels() -> None:
    record = sheet("cycle-lost").record
    assert [mark.level for mark in record.marks] == [52.7 / 100.4, 60.4 / 100.4]
    assert record.trace[0] is None
    high, low = record.trace[179], record.trace[239]
    assert high is not None
    assert low is not None
    assert high[1] == pytest.approx(66.6 / 100.4, abs=1e-3)
    assert low[0] == pytest.approx((66.0 - 59 * 0.35 - 0.6) / 100.4, abs=1e-3)
    assert [at for at, unknown in enumerate(record.unknown) if unknown] == list(range(100, 108))


def test_what_was_steep_is_one_line_and_what_was_unknown_stays_a_gap() -> None:
    trace = sheet("cycle-lost").record.trace
    for before, here in pairwise(trace):
        if before is not None and here is not None:
            assert here[0] <= before[1]
            assert here[1] >= before[0]
    assert trace[100:108] == (None,) * 8


# -- with real touches


@pytest.fixture
def desk(screens: Make, tmp_path: Path) -> Iterator[Desk]:
    server = Server(tmp_path / "g.sock", scenes.no_plan("SELECT JOB"))
    one = Desk(screens(), server)
    one.front = Front(one.link, WORDS, Book(written(tmp_path / "log.db", 8)))
    yield one
    one.link.close()
    server.close()


def cycles_shown(shown: Shown) -> list[str]:
    tiles = shown.overlay.rows if shown.overlay else ()
    return [tile.button.opens for tile in tiles if tile.button]


def test_the_book_is_opened_paged_read_and_left_by_finger(desk: Desk) -> None:
    desk.draw()
    desk.press(seconds=0.05)
    first = desk.until(cycles_shown, "no list")
    assert cycles_shown(first) == [f"cycle:c-{n}" for n in (7, 6, 5, 4, 3, 2)]
    board = desk.screen.board.sheet
    tap(desk, board._buttons[0])
    assert cycles_shown(desk.draw()) == ["cycle:c-1", "cycle:c-0"]
    tap(desk, board._grid.buttons[1])
    opened = desk.until(lambda s: s.overlay is not None and s.overlay.rows, "no record").overlay
    assert opened is not None
    assert (opened.kind, any(opened.record.trace)) == ("cycle", True)
    tap(desk, board._back)
    again = desk.until(cycles_shown, "the list did not come back")
    assert cycles_shown(again) == ["cycle:c-1", "cycle:c-0"]
    tap(desk, board._back)
    assert desk.draw().overlay is None


def test_a_start_without_permit_takes_the_screen_from_the_book(desk: Desk) -> None:
    desk.draw()
    desk.press(seconds=0.05)
    desk.until(cycles_shown, "no list")
    desk.server.publish(scenes.snapshot("NO PERMIT"))
    desk.until(lambda s: s.view == "stop" and s.overlay is None, "the book hides the stop card")
