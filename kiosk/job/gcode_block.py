"""One block carried out on the modal state, in the order of RS274/NGC table 8.

Units, plane and modes of a line hold for the whole line.  A letter that nothing on the line uses
is refused, so that no word is passed over.
"""

from __future__ import annotations

import math

from kiosk.job import gcode_codes as codes
from kiosk.job.gcode_arcs import arc
from kiosk.job.gcode_cycles import CYCLES, drill, enter, letters_of
from kiosk.job.gcode_frames import move_machine, move_origin, use_length, use_work
from kiosk.job.gcode_lexer import Block, Refused, whole
from kiosk.job.gcode_state import State, begin_cut, feed_for, go, place_rapid, target, turn
from kiosk.job.program import MoveKind

EVERYWHERE = frozenset("FSTDH")  # D and H number offsets that are the machine's own
AXES = frozenset("XYZ")
STRAIGHT = EVERYWHERE | AXES
ROUND = STRAIGHT | frozenset("IJKR")
PLACES = AXES | frozenset("IJKR")
BESIDE = frozenset("ELPQ")
_CUT_WORDS = AXES | frozenset("SFTIJKR")
ROTARY = frozenset("ABCUVW")
UNSAID = (("unit_mm", "G21"), ("plane", "G17"), ("absolute", "G90"))
_MEND = "post without it, or name it in other_codes of the site file if it changes no cut"
LONG_DWELL_S = 100.0  # a P this long may have been meant in ms; common practice, no source


def carry_out(state: State, block: Block) -> None:
    """Change the state and add the moves of a block, save its calls and ends.  Raises Refused."""
    if block.g:
        _set_modes(state, block)
    if block.m:
        _check_m(block.m)
    if "D" in block.words and state.compensating:
        raise Refused("D sets the radius of G41 or G42, which is not worked out: write G40 first")
    _speeds_and_tools(state, block)
    allowed = EVERYWHERE | _called_letters(state, block) if block.m else EVERYWHERE
    if codes.PATH_BLENDING in block.g:
        allowed |= frozenset("PQ")  # its tolerances: common practice, no source
    if block.other:
        allowed |= _letters_beside(block)
    taken = _special(state, block) if block.g else None
    allowed = allowed | (_motion(state, block) if taken is None else taken)
    for letter in block.words.keys() - allowed:
        raise Refused(_why_unused(letter))


def changes_cut(block: Block) -> bool:
    """True when the cut would be another one without this line."""
    return (
        not _CUT_WORDS.isdisjoint(block.words)
        or not (codes.IDLE | {codes.DWELL}).union(codes.ALONE).issuperset(block.g)
        or not codes.IDLE_M.issuperset(block.m)
    )


def _set_modes(state: State, block: Block) -> None:
    _check(block.g, codes.GROUPS, "G")
    if codes.CANCEL_MOTION in block.g:  # before a motion code of the same line
        enter(state, None)
    for code in block.g:
        _set(state, code)


def _letters_beside(block: Block) -> frozenset[str]:
    """Letters that a code to be passed over may bring.  Raises Refused for those that move."""
    if block.other.startswith("G") and not PLACES.isdisjoint(block.words):
        raise Refused(f"{block.other} beside a place cannot be passed over: part them")
    return BESIDE


def _called_letters(state: State, block: Block) -> frozenset[str]:
    """Letters of a call on this line; nothing else on it may want the same ones."""
    if codes.CALL not in block.m:
        return frozenset()
    drills = state.motion in CYCLES and not AXES.isdisjoint(block.words)
    if drills or codes.DWELL in block.g:
        raise Refused("M98 needs P and L for itself: write the call on a line of its own")
    return frozenset("PL")


def _check(found: tuple[int, ...], groups: tuple[frozenset[int], ...], letter: str) -> None:
    for code in found:
        if letter == "G" and code not in codes.KNOWN_G:
            raise Refused(_not_known(code))
    if len(found) > 1:
        for group in groups:
            both = [code for code in found if code in group]
            if len(both) > 1:
                names = [codes.g_name(c) if letter == "G" else f"M{c}" for c in both[:2]]
                raise Refused(f"{names[0]} and {names[1]} exclude each other on one line: keep one")


def _not_known(code: int) -> str:
    return codes.SAID_WHY.get(code, f"{codes.g_name(code)} is not known: {_MEND}")


def _check_m(found: tuple[int, ...]) -> None:
    for code in found:
        if code not in codes.KNOWN_M:
            raise Refused(f"M{code} is not known: {_MEND}")
    _check(found, codes.M_GROUPS, "M")


def _set(state: State, code: int) -> None:
    """Set what one G code sets until another one does."""
    if code in codes.SETS:
        name, value = codes.SETS[code]
        state.said.add(name)
        if name == "work":
            use_work(state, code // 10)
        else:
            setattr(state, name, value)
    elif code in codes.MOTION:
        enter(state, codes.MOTION[code])
    elif code in {codes.LENGTH_ON, codes.LENGTH_OFF}:
        use_length(state, code)
    elif code == codes.RADIUS_OFF:
        state.compensating = False
    elif code in codes.RADIUS:  # with D0 too, which some controls take for the tool in the spindle
        state.compensating = True
        raise Refused(
            f"{codes.g_name(code)} cutter compensation is not worked out: "
            "post the path of the tool's centre, with G40"
        )


def _speeds_and_tools(state: State, block: Block) -> None:
    words = block.words
    if _waits_for_f(block):
        pass  # no feed
    elif "F" in words and not state.inverse_time:
        state.feed_mm_min = _more_than_nothing(words["F"], "F") * state.unit_mm
    elif "F" in words:
        _more_than_nothing(words["F"], "F")
    if "S" in words:
        if words["S"] < 0.0:
            raise Refused("S must not be negative: give rev/min, and M4 to turn the other way")
        state.rpm = words["S"] or None
    if not (codes.CLOCKWISE | codes.REVERSED).isdisjoint(block.m):
        state.reversed_spindle = not codes.REVERSED.isdisjoint(block.m)
        turn(state, True)
    elif not codes.STANDS.isdisjoint(block.m):
        turn(state, False)
    if "T" in words:
        state.next_tool = whole(words["T"], "T")
        state.selected.append((len(state.moves), state.next_tool))
    if codes.TOOL_CHANGE in block.m:
        if state.next_tool is None:
            raise Refused("M6 without a tool: name it, such as T1 M6")
        state.tool, state.changed = state.next_tool or None, True


def _more_than_nothing(value: float, letter: str) -> float:
    if value <= 0.0:
        raise Refused(f"{letter} must be more than 0")
    return value


def _special(state: State, block: Block) -> frozenset[str] | None:
    """Carry out a non-modal code.  The letters of the line when no motion is left, else None."""
    for code in block.g:
        if code == codes.DWELL:
            return _dwell(state, block)
        if code in codes.HOME or code == codes.MACHINE:
            _begin(state)
            move_machine(state, block, code)
            return STRAIGHT | {"P"} if code == codes.SECOND_HOME else STRAIGHT  # G30 P3: the third
        if code in codes.ORIGINS:
            _begin(state)
            move_origin(state, block, code)
            return STRAIGHT
        if code in codes.ALONE:
            return _alone(block, code)
    return None


def _alone(block: Block, code: int) -> frozenset[str]:
    """A code that changes nothing as long as its own letter is all that stands beside it."""
    letter = frozenset(codes.ALONE[code])
    if not letter <= block.words.keys() or not block.words.keys() <= EVERYWHERE | letter:
        raise Refused(_not_known(code))
    return EVERYWHERE | letter


def _waits_for_f(block: Block) -> bool:
    """G4 F2: the seconds to wait (common practice, no source)."""
    return codes.DWELL in block.g and block.words.keys().isdisjoint("PX")


def _dwell(state: State, block: Block) -> frozenset[str]:
    """G4: P, or X when there is no P, or F when there is neither, in seconds."""
    letter = next((found for found in "PXF" if found in block.words), "P")
    wait_s = block.words.get(letter)
    if wait_s is None or wait_s < 0.0:
        raise Refused("G4 needs P, the seconds to wait, 0 or more")
    if wait_s >= LONG_DWELL_S or letter == "F":
        state.assume(f"{letter}{wait_s:g} on line {block.line} in seconds")
    state.dwell_s += wait_s
    return EVERYWHERE | {letter}


def _motion(state: State, block: Block) -> frozenset[str]:
    """Carry out the motion in force.  The letters that it uses, none when nothing moves."""
    words, motion = block.words, state.motion
    has_axes = not AXES.isdisjoint(words)
    if motion is None:
        if has_axes:
            raise Refused("axis words without a motion code: write G0, G1, G2 or G3")
        return EVERYWHERE
    if motion in {2, 3}:
        return _turn(state, block, has_axes)
    if not has_axes:
        if motion in CYCLES and any(codes.MOTION.get(code) == motion for code in block.g):
            raise Refused(f"G{motion} needs X, Y or Z: add one")
        return EVERYWHERE
    _begin(state)
    if motion in CYCLES:
        drill(state, block)
        return STRAIGHT | letters_of(motion)
    _straight(state, block, motion)
    return STRAIGHT


def _turn(state: State, block: Block, has_axes: bool) -> frozenset[str]:
    if not has_axes and block.words.keys().isdisjoint("IJKR"):
        return EVERYWHERE
    _begin(state)
    arc(state, block, clockwise=state.motion == 2)
    return ROUND


def _straight(state: State, block: Block, motion: int) -> None:
    end = target(state, block.words)
    if motion == 0:
        known = all(state.placed)
        was_off = place_rapid(state, block.words)
        kind = MoveKind.RETRACT_OFF if was_off else MoveKind.RAPID
        go(state, kind, end, block.line, start_known=known)
        return
    begin_cut(state, block.line)
    feed = feed_for(state, block, math.dist(state.at_mm, end))
    go(state, MoveKind.FEED, end, block.line, feed)


def _begin(state: State) -> None:
    """At the first motion, note the modes that the file has not set by then."""
    if not state.begun:
        state.begun = True
        for name, code in UNSAID:
            if name not in state.said:
                state.assume(code)


def _why_unused(letter: str) -> str:
    if letter in ROTARY:
        return f"axis {letter} is not read: the part lies flat, post for X, Y and Z only"
    return f"nothing on the line uses {letter}: remove it or add the code that it belongs to"
