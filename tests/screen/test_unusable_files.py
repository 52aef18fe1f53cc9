"""Job files that cannot be used, on the Ready board: every one with its whole reason."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
import screen_scenes as scenes
from screen_window import WORDS, Screen, walk

from kiosk.interlock.snapshot import JobShown, Snapshot
from kiosk.screen.show import ready, show
from kiosk.screen.show.shown import ReadyShown, Shown

REASON = '5: cups_up is an empty list: write "auto" or name the seats'


def bad(count: int, reason: str = REASON) -> tuple[JobShown, ...]:
    names = (f"panel-{number}.job.toml" for number in range(count))
    return tuple(JobShown(name, "", "", "", f"{name}:{reason}") for name in names)


def board(count: int, refusal: str | None = None) -> Snapshot:
    return scenes.no_plan("SELECT JOB", jobs=(*scenes.JOBS, *bad(count)), refusal=refusal)


def shown(snapshot: Snapshot, **desk: object) -> Shown:
    return show(WORDS, snapshot, None, replace(scenes.DESK, **desk))  # type: ignore[arg-type]


@pytest.mark.parametrize("size", ["1280x800", "1024x600"])
@pytest.mark.parametrize(("count", "told"), [(1, 1), (2, 2), (3, 1), (13, 1)])
def test_reasons_are_told_to_their_ends_and_the_rest_is_counted(
    screens: Callable[[str], Screen], size: str, count: int, told: int
) -> None:
    screen = screens(size)
    screen.show(shown(board(count)))
    texts = [w for w in walk(screen.board) if getattr(w, "words", "")]
    reasons = [text for text in texts if text.words.endswith("or name the seats")]
    assert len(reasons) == told
    assert not [text.words for text in reasons if text.clipped]
    rest = [text.words for text in texts if "more unusable files" in text.words]
    assert rest == ([f"{count - told} more unusable files"] if count > told else [])


def test_a_touch_on_any_place_opens_all_files_with_their_whole_reasons(
    screens: Callable[[str], Screen],
) -> None:
    screen = screens("1024x600")
    screen.show(shown(board(13)))
    for place in screen.board.view.ids.bad.buttons:
        screen.advance(0.5)
        screen.press(place)
    assert [act.opens for act in screen.acts] == ["unusable", "unusable"]
    pages = [shown(board(13), overlay="unusable", page=page).overlay for page in range(5)]
    told = [line for page in pages for line in page.lines]  # type: ignore[union-attr]
    assert told == [(f"panel-{n}.job.toml", f"line {REASON}") for n in range(13)]
    assert {page.buttons[0].opens for page in pages} == {"page"}  # type: ignore[union-attr]


@pytest.mark.parametrize("size", ["1280x800", "1024x600"])
def test_long_reasons_stand_whole_on_the_sheet(screens: Callable[[str], Screen], size: str) -> None:
    screen = screens(size)
    long = f"7: {'no surface is said and none can be guessed; ' * 4}write clean, dusty or wet"
    assert len(long) > 200
    snapshot = scenes.no_plan("SELECT JOB", jobs=bad(ready.BAD_PAGE, long))
    screen.show(shown(snapshot, overlay="unusable"))
    texts = [w for w in walk(screen.board.sheet) if getattr(w, "words", "").endswith("or wet")]
    assert len(texts) == ready.BAD_PAGE
    assert not [text.words for text in texts if text.clipped]


def test_beside_a_refusal_one_place_among_the_jobs_leads_to_them() -> None:
    body = shown(board(2, "no cups")).body
    assert isinstance(body, ReadyShown)
    assert body.unusable == ()
    assert [row.words for row in body.jobs] == ["BF-118", "CP-044", "SR-210",
                                                "2 unusable files"]  # fmt: skip
    assert body.jobs[-1].button is not None
    assert body.jobs[-1].button.opens == "unusable"


def test_when_the_last_is_mended_the_open_sheet_says_so() -> None:
    sheet = shown(board(0), overlay="unusable").overlay
    assert sheet is not None
    assert (sheet.title, sheet.lines) == ("No file is left to mend", ())
