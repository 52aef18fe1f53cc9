"""The size of a window, as it is typed."""

from __future__ import annotations

import argparse

import pytest

from kiosk.window_size import window_size


def test_it_is_width_and_height_in_pixels() -> None:
    assert window_size("1024x600") == (1024, 600)
    assert window_size("480x480") == (480, 480)


@pytest.mark.parametrize("text", ["", "x", "1280", "1280x", "x800", "1280*800", "-600x800",
                                  "1280x479", "479x800", "1280x800x2", "12.5x800"])  # fmt: skip
def test_anything_else_is_told_with_its_mend(text: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match="like 1280x800, each 480 or more"):
        window_size(text)
