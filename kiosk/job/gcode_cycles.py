"""Drilling cycles G73, G81 to G89 as moves.

RS274/NGC (NISTIR 6556), section 3.5.16, for every plane; G73 as G83 without leaving the hole
(common practice, no source).  How far a control backs off between pecks is its own setting: none
is counted, so the strokes of a peck cycle add up to the depth.  G88 leaves the way out to a person;
it is counted as a rapid move to the return level.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from kiosk.job.gcode_lexer import Block, Refused, whole
from kiosk.job.gcode_state import State, begin_cut, feed_for, go, target
from kiosk.job.program import PLANE_AXES, MoveKind

CYCLES = frozenset({73, *range(81, 90)})
PECKING = frozenset({73, 83})
DWELLING = frozenset({73, 82, 83, 84, 86, 88, 89})
FEED_OUT = frozenset({84, 85, 89})
BACK_BORING = 87
LONG_DWELL_S = 10.0  # in a hole; so long a P may mean ms: common practice, no source
SAME_LEVEL_MM = 1e-6
MOST_REPEATS = 999
MOST_PECKS = 1000


def letters_of(code: int) -> frozenset[str]:
    """Letters that a cycle uses besides the axis words."""
    more = "IJK" if code == BACK_BORING else "K"
    more += "Q" if code in PECKING else ""
    more += "P" if code in DWELLING else ""
    return frozenset("RL" + more)


def enter(state: State, code: int | None) -> None:
    """A motion code takes over, None for G80.  From cycle to cycle R and the initial level stay."""
    if code != state.motion:
        state.cycle_words = {k: v for k, v in state.cycle_words.items() if k == "R"}
    if code not in CYCLES or state.motion not in CYCLES:
        state.cycle_words, state.initial_mm = {}, None
    state.motion = code


def drill(state: State, block: Block) -> None:
    """Add the moves of one line of the cycle in force.  Raises Refused."""
    code, words = state.motion or 0, block.words
    first, second, normal = PLANE_AXES[state.plane]
    if state.inverse_time:
        raise Refused("a drilling cycle does not go with inverse time: write G94 before it")
    repeats = _repeats(code, words)
    _keep_words(state, code, block, normal)
    _refuse_other_count(state, words, normal)
    named = {axis for axis in (first, second) if "XYZ"[axis] in words and state.absolute}
    begin_cut(state, block.line, frozenset(named))
    feed = feed_for(state, block, 0.0)
    _holes(state, block, repeats, feed)


def _repeats(code: int, words: dict[str, float]) -> int:
    """How often the hole is drilled: L, or K as other controls have it.  Raises Refused."""
    counting = "L" if code == BACK_BORING else "LK"
    letters = [letter for letter in counting if letter in words]
    if len(letters) > 1:
        raise Refused("L and K both count the holes: keep one")
    letter = letters[0] if letters else "L"
    repeats = whole(words.get(letter, 1.0), letter)
    if not 1 <= repeats <= MOST_REPEATS:
        raise Refused(f"{letter}{repeats} is no count of holes: write 1 to {MOST_REPEATS}")
    return repeats


def _keep_words(state: State, code: int, block: Block, normal: int) -> None:
    """Hold depth, R, Q for the lines that follow, mm.  Raises Refused when one is missing."""
    depth, words = "XYZ"[normal], block.words
    for letter in (depth, "R", "Q"):
        if letter in words:
            state.cycle_words[letter] = words[letter] * state.unit_mm
            state.cycle_absolute[letter] = state.absolute
    if "P" in words:
        state.cycle_words["P"] = words["P"]
        if words["P"] >= LONG_DWELL_S:
            state.assume(f"P{words['P']:g} on line {block.line} in seconds")
    wanted = (depth, "R", "Q") if code in PECKING else (depth, "R")
    for letter in wanted:
        if letter not in state.cycle_words:
            raise Refused(f"G{code} needs {letter}: add it")
    if code in PECKING and state.cycle_words["Q"] <= 0.0:
        raise Refused("Q, the depth of a peck, must be more than 0")
    if state.cycle_words.get("P", 0.0) < 0.0:
        raise Refused("P, the dwell in seconds, must not be negative")


def _refuse_other_count(state: State, words: dict[str, float], normal: int) -> None:
    """Where RS274/NGC counts anew from the tip and other controls hold to the first line's levels.

    Raises Refused.  Common practice, no source.
    """
    depth, here = "XYZ"[normal], state.at_mm[normal]
    held = [letter for letter in (depth, "R") if letter not in words]
    if any(state.cycle_absolute[letter] != state.absolute for letter in held):
        code = "G90 and hold in G91" if not state.absolute else "G91 and hold in G90"
        names = " and ".join(held)
        raise Refused(
            f"{names} of the cycle stand in {code}, which differs between controls: "
            "post the places of the holes in the mode of the first one"
        )
    initial = state.initial_mm
    if not state.absolute and initial is not None and abs(here - initial) > SAME_LEVEL_MM:
        raise Refused(
            "in G91 the next R counts from the tip, which is no longer where the cycle began, or "
            "from there, which differs between controls: post the places of the holes in G90"
        )


def _levels(state: State, normal: int) -> tuple[float, float, float]:
    """R level, bottom and return level along the normal, mm.  Raises Refused."""
    kept, here = state.cycle_words, state.at_mm[normal]
    if state.absolute:
        level = kept["R"] + state.origin_mm[normal]
        bottom = kept["XYZ"[normal]] + state.origin_mm[normal]
    else:
        level = kept["R"] + here
        bottom = level + kept["XYZ"[normal]]
    if bottom > level:
        raise Refused("the bottom of the hole is above R: check R and the depth")
    if state.initial_mm is None:
        state.initial_mm = here
    back = max(level, state.initial_mm) if state.return_to_initial else level
    return level, bottom, back


def _holes(state: State, block: Block, repeats: int, feed: float) -> None:
    first, second, normal = PLANE_AXES[state.plane]
    level, bottom, back = _levels(state, normal)
    if state.at_mm[normal] < level:
        _rapid(state, block.line, {normal: level})
    step = [0.0, 0.0, 0.0]
    if not state.absolute:
        step = [new - old for new, old in zip(target(state, block.words), state.at_mm, strict=True)]
    place = target(state, block.words)
    for _ in range(repeats):
        _rapid(state, block.line, {first: place[first], second: place[second]})
        _rapid(state, block.line, {normal: level})
        _hole(state, block, (level, bottom, back), feed)
        place = [old + more for old, more in zip(place, step, strict=True)]


def _hole(state: State, block: Block, levels: tuple[float, float, float], feed: float) -> None:
    """One hole at the tip's place, from R level to return level."""
    code, (_, _, normal) = state.motion or 0, PLANE_AXES[state.plane]
    level, bottom, back = levels
    if code == BACK_BORING:
        _bore_back(state, block, bottom, back, feed)
        return
    depths = [bottom]
    if code in PECKING:
        depths = list(_pecks(level, bottom, state.cycle_words["Q"]))
    for count, depth in enumerate(depths):
        if count and code == 83:
            _rapid(state, block.line, {normal: back})
            _rapid(state, block.line, {normal: depths[count - 1]})
        _stroke(state, block.line, normal, depth, feed)
    if code in DWELLING:
        state.dwell_s += state.cycle_words.get("P", 0.0)
    if code in FEED_OUT:
        _stroke(state, block.line, normal, back, feed)
    _rapid(state, block.line, {normal: back})


def _pecks(level: float, bottom: float, peck: float) -> Iterator[float]:
    """Depths of the pecks, each Q below the last, the last at the bottom.  Raises Refused."""
    count = math.ceil((level - bottom) / peck - 1e-9)
    if count > MOST_PECKS:
        raise Refused(f"Q makes {count} pecks: make it larger, at most {MOST_PECKS} are read")
    yield from (level - step * peck for step in range(1, count))
    yield bottom


def _bore_back(state: State, block: Block, bottom: float, back: float, feed: float) -> None:
    """G87: in beside the hole's axis, up at feed to K, down again and out the same way."""
    first, second, normal = PLANE_AXES[state.plane]
    words = block.words
    if "IJK"[first] not in words or "IJK"[second] not in words or "IJK"[normal] not in words:
        raise Refused("G87 needs I, J and K on every line: add them")
    base = state.origin_mm[normal] if state.absolute else bottom
    top = base + words["IJK"[normal]] * state.unit_mm
    on = {axis: state.at_mm[axis] for axis in (first, second)}
    beside = {axis: on[axis] + words["IJK"[axis]] * state.unit_mm for axis in on}
    for place in (beside, {normal: bottom}, on):
        _rapid(state, block.line, place)
    _stroke(state, block.line, normal, top, feed)
    _stroke(state, block.line, normal, bottom, feed)
    for place in (beside, {normal: back}, on):
        _rapid(state, block.line, place)


def _rapid(state: State, line: int, to: dict[int, float]) -> None:
    end = list(state.at_mm)
    for axis, value in to.items():
        end[axis] = value
    go(state, MoveKind.RAPID, end, line)


def _stroke(state: State, line: int, normal: int, to_mm: float, feed: float) -> None:
    end = list(state.at_mm)
    end[normal] = to_mm
    go(state, MoveKind.DRILL, end, line, feed)
