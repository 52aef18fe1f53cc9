"""Job files that cannot be used, on the Ready board: the reason to its end, the mend included."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import screen_scenes as scenes
from screen_window import WORDS, Screen, walk

from kiosk.interlock.snapshot import JobShown
from kiosk.screen.show import show

REASON = '5: cups_up is an empty list: write "auto" or name the seats'


def bad(count: int) -> tuple[JobShown, ...]:
    names = (f"panel-{number}.job.toml" for number in range(count))
    return tuple(JobShown(name, "", "", "", f"{name}:{REASON}") for name in names)


@pytest.mark.parametrize("size", ["1280x800", "1024x600"])
@pytest.mark.parametrize(("count", "told"), [(1, 1), (3, 3), (4, 2), (13, 2)])
def test_reasons_are_told_to_their_ends_and_the_rest_is_counted(
    screens: Callable[[str], Screen], size: str, count: int, told: int
) -> None:
    screen = screens(size)
    jobs = (*scenes.JOBS, *bad(count))
    screen.show(show(WORDS, scenes.no_plan("SELECT JOB", jobs=jobs), None, scenes.DESK))
    screen.frame(3)
    texts = [w for w in walk(screen.board) if getattr(w, "words", "")]
    reasons = [text for text in texts if text.words.endswith("or name the seats")]
    assert len(reasons) == told
    assert not [text.words for text in reasons if text.clipped]
    rest = [text.words for text in texts if "more that cannot be used" in text.words]
    assert rest == ([f"and {count - told} more that cannot be used"] if count > told else [])
