"""The size of a window, as it is typed."""

from __future__ import annotations

import argparse

LEAST_PX = 480


def window_size(text: str) -> tuple[int, int]:
    """``1280x800`` as pixels, for an option.  Raises ArgumentTypeError for anything else."""
    width, _, height = text.partition("x")
    if not (width.isdecimal() and height.isdecimal()) or min(int(width), int(height)) < LEAST_PX:
        words = f"{text}: write width x height in pixels, like 1280x800, each {LEAST_PX} or more"
        raise argparse.ArgumentTypeError(words)
    return int(width), int(height)
