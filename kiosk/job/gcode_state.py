"""What holds from line to line while a program is read, and the moves made so far.

Knows where the tip is, as far as the program has said; knows nothing of text or of codes.
Coordinates are mm from the zero of G54.  An axis is *placed* once the program has named its
coordinate; it is *off* while it stands at a place that only the machine knows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from kiosk.job.gcode_lexer import Block, Refused
from kiosk.job.program import Move, MoveKind, Plane, Xyz

MOST_MOVES = 1_000_000  # keeps memory under about 400 MB; common practice, no source
NO_LENGTH_MM = 1e-9  # what sums of increments leave over
FAR_MM = 100_000.0  # no router is larger; common practice, no source


class TooMuch(Exception):
    """The program grows past what can be read; reading stops at this line."""


@dataclass(slots=True)
class State:
    """The modal state.  ``motion`` is None before the first motion code and after G80."""

    work_mm: dict[int, Xyz]
    motion: int | None = None
    plane: Plane = Plane.XY
    unit_mm: float = 1.0
    absolute: bool = True
    absolute_centres: bool = False
    inverse_time: bool = False
    return_to_initial: bool = True
    work: int = 54
    feed_mm_min: float | None = None
    rpm: float | None = None
    reversed_spindle: bool = False
    turning: bool = False  # the spindle, since M3 or M4
    stood: bool = False  # a cut was met since it stands
    turned: bool = False  # an M3 or M4 was met
    standing: list[int] = field(default_factory=list)  # first cut after each time it stood still
    compensating: bool = False  # since a G41 or G42, which is refused
    tool: int | None = None
    next_tool: int | None = None
    changed: bool = False  # an M6 was met
    selected: list[tuple[int, int]] = field(default_factory=list)  # moves before a T, its number
    length_on: bool = False
    length_gone: bool = False
    at_mm: Xyz = (0.0, 0.0, 0.0)
    origin_mm: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    shift_mm: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])  # G92
    kept_shift_mm: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    local_mm: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])  # G52
    placed: list[bool] = field(default_factory=lambda: [False, False, False])
    off: set[int] = field(default_factory=set)
    cycle_words: dict[str, float] = field(default_factory=dict)
    cycle_absolute: dict[str, bool] = field(default_factory=dict)  # the mode of each word's line
    initial_mm: float | None = None
    dwell_s: float = 0.0
    said: set[str] = field(default_factory=set)
    begun: bool = False
    assumed: dict[str, None] = field(default_factory=dict)
    optional: dict[int, None] = field(default_factory=dict)  # lines with / that change the cut
    moves: list[Move] = field(default_factory=list)

    def assume(self, words: str) -> None:
        """Keep, once, what the file left open and how it was taken."""
        self.assumed.setdefault(words)


def set_origin(state: State) -> None:
    """Work out where the program's numbers count from: work offset, G92 and G52 together."""
    work = state.work_mm[state.work]
    state.origin_mm = [
        work[axis] + state.shift_mm[axis] + state.local_mm[axis] for axis in range(3)
    ]


def target(state: State, words: dict[str, float]) -> list[float]:
    """Where the axis words lead, mm.  Raises Refused beyond ``FAR_MM``."""
    end = list(state.at_mm)
    for axis, letter in enumerate("XYZ"):
        if letter in words:
            base = state.origin_mm[axis] if state.absolute else end[axis]
            end[axis] = base + words[letter] * state.unit_mm
            if not -FAR_MM <= end[axis] <= FAR_MM:
                raise Refused(f"{letter} leads further than 100 m away: check it, and G20 or G21")
    return end


def go(
    state: State,
    kind: MoveKind,
    end: list[float],
    line: int,
    feed_mm_min: float | None = None,
    *,
    centre: Xyz | None = None,
    sweep_rad: float | None = None,
    start_known: bool = True,
) -> None:
    """Add one move and stand at its end; a straight move of no length adds nothing."""
    there = (end[0], end[1], end[2])
    straight = centre is None and kind is not MoveKind.RETRACT_OFF
    if straight and math.dist(there, state.at_mm) < NO_LENGTH_MM:
        return
    state.moves.append(
        Move(
            kind,
            state.at_mm,
            there,
            line,
            state.tool,
            feed_mm_min,
            state.rpm,
            state.plane,
            centre,
            sweep_rad,
            start_known,
            state.reversed_spindle,
        )
    )
    state.at_mm = there
    if len(state.moves) > MOST_MOVES:
        raise TooMuch(f"the program makes more than {MOST_MOVES} moves: split it")


def feed_for(state: State, block: Block, length_mm: float) -> float:
    """The feed of a cutting move, mm/min.  Raises Refused when the program gives none."""
    if state.inverse_time:
        if "F" not in block.words:
            raise Refused("inverse time, G93, needs an F on every cutting line: add it")
        return max(block.words["F"] * length_mm, math.ulp(0.0))
    if state.feed_mm_min is None:
        state.feed_mm_min = 1.0  # the program is refused: say it once, not for every cut
        raise Refused("a cut before any feed: add F, such as F3000")
    return state.feed_mm_min


def begin_cut(state: State, line: int, named: frozenset[int] = frozenset()) -> None:
    """Make sure of the place where a cut starts; ``named`` axes are placed before it starts.

    Raises Refused after G28, G30, G53 or G49; notes a start that the program never gave, and a
    spindle that stands.
    """
    if not state.turning and not state.stood:
        state.stood = True
        state.standing.append(line)
    if state.off:
        raise Refused(
            "the cut starts where only the machine knows, after G28, G30, G53 or G49: "
            "bring the axes back with G0 (and G43) first"
        )
    if all(state.placed):
        return
    missing = [axis for axis in range(3) if not state.placed[axis] and axis not in named]
    if missing:
        axes = " ".join("XYZ"[axis] for axis in missing)
        state.assume(f"{axes} at program zero when the cut on line {line} starts")
    state.placed = [True, True, True]


def turn(state: State, turns: bool) -> None:
    """The spindle begins to turn, or stops."""
    state.turning, state.stood = turns, False
    state.turned = state.turned or turns


def place_rapid(state: State, words: dict[str, float]) -> bool:
    """Note which axes a rapid move brings to known places.  True when it starts off the map."""
    was_off = bool(state.off)
    if not state.absolute:
        return was_off
    for axis, letter in enumerate("XYZ"):
        if letter in words:
            state.placed[axis] = True
            if not (axis == 2 and state.length_gone):
                state.off.discard(axis)
    return was_off


def send_off(state: State, axes: set[int], line: int) -> None:
    """Axes leave for a place that only the machine knows."""
    state.off |= axes
    for axis in axes:
        state.placed[axis] = True
    go(state, MoveKind.RETRACT_OFF, list(state.at_mm), line)
