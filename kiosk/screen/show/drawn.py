"""What is drawn rather than written: the cup map, the scale of the hold, the record of a cycle.

Positions on a map are mm in the grid frame; levels of an instrument are shares of its height.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class SeatMark:
    """A seat on the map.  ``mark``: up | turn | down | blocked."""

    x_mm: float
    y_mm: float
    mark: str
    current: bool = False


@dataclass(frozen=True, slots=True)
class Label:
    """A row or column name beside the grid."""

    words: str
    x_mm: float
    y_mm: float
    current: bool = False


@dataclass(frozen=True, slots=True)
class PathShown:
    """Where the cutter's centre goes; ``width_mm`` of the cutter.

    ``shade``: how close it comes to what sets the minimum, 0 far or nothing known, 3 nearest.
    """

    points: tuple[Point, ...]
    width_mm: float
    through: bool
    shade: int = 0


@dataclass(frozen=True, slots=True)
class Push:
    """Where the part would go first: a point and a direction, None when straight up."""

    at: Point
    along: Point | None


@dataclass(frozen=True, slots=True)
class CupMapShown:
    """The map.  ``extent``: left, bottom, right, top in mm.  ``band``: the row being set."""

    extent: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0)
    seat_mm: float = 1.0
    seats: tuple[SeatMark, ...] = ()
    labels: tuple[Label, ...] = ()
    outline: tuple[Point, ...] = ()
    openings: tuple[tuple[Point, ...], ...] = ()
    paths: tuple[PathShown, ...] = ()
    pins: tuple[Point, ...] = ()
    band: tuple[float, float, float, float] | None = None
    push: Push | None = None
    # pieces that nothing holds: the outline of each, then those of kept pieces inside it
    loose: tuple[tuple[tuple[Point, ...], ...], ...] = ()
    loose_word: str = ""
    empty: str = ""  # words instead of a map


@dataclass(frozen=True, slots=True)
class Mark:
    """A level on an instrument.  ``weight``: limit (thick) | level (thin) | hint (dashed)."""

    level: float
    left: str
    right: str
    weight: str


@dataclass(frozen=True, slots=True)
class Scale:
    """The instrument: a column of fixed scale, and the last minute as a trace beside it.

    ``trace`` has (low, high) levels per column of pixels, None where nothing was known.
    ``tone``: plain | low | lost | none.
    """

    level: float | None = None
    marks: tuple[Mark, ...] = ()
    top: str = ""
    tone: str = "plain"
    trace: tuple[tuple[float, float] | None, ...] = ()
    window: str = ""  # how long the trace is, where its axis has no room for words
    ago: str = ""  # words of the axis: its left end, its middle, its right end
    half: str = ""
    now: str = ""


@dataclass(frozen=True, slots=True)
class Record:
    """The trace of a past cycle, (low, high) levels as shares of the scale, oldest first.

    ``unknown``: parts of the time in which no sample was valid.  ``top`` empty: nothing is drawn.
    """

    trace: tuple[tuple[float, float] | None, ...] = ()
    unknown: tuple[bool, ...] = ()
    marks: tuple[Mark, ...] = ()
    top: str = ""
    gauge: str = ""
    long: str = ""
