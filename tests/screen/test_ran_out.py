"""A permit that ran out unused is said; one that was withdrawn is not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from screen_scenes import snapshot
from screen_told import ToldDesk
from screen_window import WORDS

SAID = WORDS.say("notice.ran_out")
READY = snapshot("READY")


def permit(left_s: float) -> object:
    return snapshot("PERMIT", permit_left_s=left_s)


@pytest.mark.parametrize(
    ("left_s", "later_s", "said"),
    [(0.4, 0.1, True), (0.7, 0.7, True), (0.7, 0.3, True), (0.7, 0.1, False), (5.0, 5.0, True),
     (5.0, 1.0, False)],
)  # fmt: skip
def test_it_ran_out_when_its_time_had_passed_however_long_a_drawing_took(
    left_s: float, later_s: float, said: bool
) -> None:
    """Half a second between two looks is one slow drawing."""
    one = ToldDesk()
    one.sees(permit(left_s), 100.0)  # type: ignore[arg-type]
    assert (one.sees(READY, 100.0 + later_s).strip.notice == SAID) is said


def test_when_the_news_came_counts_and_not_when_it_was_drawn() -> None:
    one = ToldDesk()
    one.sees(permit(1.0), 100.0)  # type: ignore[arg-type]
    one.tell(READY, 100.3)  # withdrawn
    assert one.look(101.0).strip.notice == ""
    one.tell(permit(1.0), 110.0)  # type: ignore[arg-type]
    one.look(110.9)
    assert one.sees(READY, 111.0).strip.notice == SAID


def test_it_stands_for_two_minutes() -> None:
    one = ToldDesk()
    one.sees(permit(0.1), 100.0)  # type: ignore[arg-type]
    assert one.sees(READY, 100.1).strip.notice == SAID
    assert one.sees(READY, 100.1 + 119.0).strip.notice == SAID
    assert one.sees(READY, 100.1 + 121.0).strip.notice == ""


def test_it_gives_way_to_the_next_state() -> None:
    one = ToldDesk()
    one.sees(permit(0.1), 100.0)  # type: ignore[arg-type]
    one.sees(READY, 100.1)
    assert one.sees(snapshot("CHECKING"), 101.0).strip.notice == ""
    assert one.sees(READY, 102.0).strip.notice == ""


def test_that_watching_began_again_is_not_hidden_by_it() -> None:
    one = ToldDesk()
    one.sees(permit(0.1), 100.0)  # type: ignore[arg-type]
    one.tell(replace(READY, epoch="e2"), 101.0, restarts=1)
    assert one.look(101.0).strip.notice == WORDS.say("notice.epoch")


def test_whoever_cannot_ask_again_is_not_told_to() -> None:
    reads_only = WORDS.say("notice.reads_only")
    one = ToldDesk()
    one.sees(permit(0.1), 100.0)  # type: ignore[arg-type]
    assert one.sees(replace(READY, commanding="another"), 100.1).strip.notice == reads_only
    one = ToldDesk()
    one.sees(permit(0.1), 100.0)  # type: ignore[arg-type]
    assert one.sees(READY, 100.1).strip.notice == SAID
    assert one.sees(replace(READY, commanding="another"), 101.0).strip.notice == reads_only
