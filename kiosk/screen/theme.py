"""Colours, sizes and the font: the only place for them.  Lengths are millimetres on the panel.

Colours and their contrasts: grey paper and ink; a saturated colour means something is not normal
(high-performance HMI practice, ISA-101).  Contrast by the WCAG 2 formula is checked in a test.
"""

from __future__ import annotations

from dataclasses import dataclass

Rgba = tuple[float, float, float, float]

CAP_SHARE = 0.711  # capital height of Roboto over its size: 1456 of 2048 units per em
ASCENT_SHARE = 0.927  # ascender over size: 1900 of 2048 units per em
SMALL_MM = 3.3  # smallest capital height anywhere
BODY_MM = 4.1  # 20 minutes of arc at 0.7 m
FAR_MM = 17.5  # 20 minutes of arc at 3 m
TOUCH_MM = 25.0  # least side of a touch place
MATTER_MM = 40.0  # least width of a touch place with consequence
GAP_MM = 6.0  # least gap between touch places


def rgba(text: str) -> Rgba:
    """``#RRGGBB`` as shares of one."""
    red, green, blue = (int(text[at : at + 2], 16) / 255.0 for at in (1, 3, 5))
    return (red, green, blue, 1.0)


GROUND = rgba("#D6D8DA")
PAPER = rgba("#ECEEEF")
WHITE = rgba("#FBFCFC")
INK = rgba("#16191C")
SOFT = rgba("#43484D")  # secondary words
EDGE = rgba("#6B7075")  # outlines of what is not active
SLATE = rgba("#2B3136")  # the strip, the instrument's column
BELOW = rgba("#B9BFC4")  # instrument: below the minimum
BETWEEN = rgba("#DADEE1")  # instrument: minimum to start level
CUT = rgba("#C3C9CE")  # a cutter's width
SHADES = (CUT, rgba("#9AA1A8"), rgba("#666D74"), rgba("#2B3136"))  # the nearer, the darker
FIRST = rgba("#A80F14")  # priority 1, used for nothing else
SECOND = rgba("#F2C200")  # priority 2, always with an ink edge
THIRD = rgba("#8A1C7C")  # priority 3
ASK = rgba("#0B4F8A")  # what is to be done now

PRIORITY = {1: FIRST, 2: SECOND, 3: THIRD}
ON_PRIORITY = {1: WHITE, 2: INK, 3: WHITE}


@dataclass(slots=True)
class _Panel:
    px_per_mm: float = 5.88


_panel = _Panel()
LEAST_MM = (216.0, 127.0)  # the smallest panel on which every size above is kept


def use(px_per_mm: float, width_px: float, height_px: float) -> bool:
    """Set the panel's scale; views made afterwards follow it.

    A panel smaller than ``LEAST_MM`` gets the same picture made smaller as a whole, and
    the answer is False: words and touch places are then below the sizes of this file.
    """
    least = min(width_px / LEAST_MM[0], height_px / LEAST_MM[1])
    _panel.px_per_mm = min(px_per_mm, least)
    return px_per_mm <= least


def mm(length_mm: float) -> float:
    """A length in whole pixels."""
    return float(round(length_mm * _panel.px_per_mm))


def scale() -> float:
    """Pixels for a millimetre of the layout."""
    return _panel.px_per_mm


def font_px(cap_mm: float) -> int:
    """Font size in pixels for a capital height in mm."""
    return max(1, round(cap_mm * _panel.px_per_mm / CAP_SHARE))


def thin() -> float:
    """A thin line: about 0.3 mm, at least one pixel."""
    return max(1.0, mm(0.3))


def thick() -> float:
    """A thick line: about 0.7 mm, at least two pixels."""
    return max(2.0, mm(0.7))
