"""Codes that move the program's zero, or send the machine to a place of its own.

G92 and G52, work offsets, G28 G30 G53 and the tool length G43 G49.  RS274/NGC (NISTIR 6556),
sections 3.5.8, 3.5.11, 3.5.12 and 3.5.18; G52 shifts every work offset (common practice, no
source).  The tool tip is what the job's zero was set with, so a tool length moves nothing here.
"""

from __future__ import annotations

from kiosk.job.gcode_codes import HOME, LENGTH_ON, LOCAL, MACHINE, g_name
from kiosk.job.gcode_lexer import Block, Refused
from kiosk.job.gcode_state import State, place_rapid, send_off, set_origin, target
from kiosk.job.gcode_state import go as add_move
from kiosk.job.program import MoveKind


def named_axes(words: dict[str, float]) -> set[int]:
    """Axes whose words stand on the line."""
    return {axis for axis, letter in enumerate("XYZ") if letter in words}


def use_work(state: State, work: int) -> None:
    """G54 to G59.  Raises Refused when the job gives no such offset."""
    if work not in state.work_mm:
        raise Refused(f"G{work} is used: give G{work} = [x, y, z] under [program.offsets]")
    state.work = work
    set_origin(state)


def use_length(state: State, code: int) -> None:
    """G43 and G49.  After a length is cancelled the tip's Z is the machine's own affair."""
    if code == LENGTH_ON:
        state.length_on, state.length_gone = True, False
    elif state.length_on:
        state.length_on, state.length_gone = False, True
        state.off.add(2)


def move_machine(state: State, block: Block, code: int) -> None:
    """G28, G30, G53: named axes leave the map; via the named point for G28 and G30."""
    axes = named_axes(block.words)
    if code == MACHINE:
        if not axes:
            raise Refused("G53 needs an axis word: add one, such as Z0")
        if state.motion not in {0, 1}:
            raise Refused("G53 needs G0 or G1: add one")
    elif code in HOME:
        via = target(state, block.words)
        was_off = place_rapid(state, block.words)
        add_move(state, MoveKind.RETRACT_OFF if was_off else MoveKind.RAPID, via, block.line)
    send_off(state, axes or {0, 1, 2}, block.line)


def move_origin(state: State, block: Block, code: int) -> None:
    """G92, G92.1, G92.2, G92.3 and G52.  Raises Refused."""
    axes = named_axes(block.words)
    if code in {920, LOCAL} and not axes:
        raise Refused(f"{g_name(code)} needs an axis word: add one, such as X0")
    if code == LOCAL:
        for axis in axes:
            state.local_mm[axis] = block.words["XYZ"[axis]] * state.unit_mm
    elif code == 920:
        _name_place(state, block, axes)
    elif code == 923:
        state.shift_mm = list(state.kept_shift_mm)
    else:
        state.shift_mm = [0.0, 0.0, 0.0]
        if code == 921:
            state.kept_shift_mm = [0.0, 0.0, 0.0]
    if any(state.local_mm) and any(state.shift_mm):
        raise Refused("G52 together with G92 differs between controls: use one of them")
    set_origin(state)


def _name_place(state: State, block: Block, axes: set[int]) -> None:
    if axes & state.off:
        raise Refused(
            "G92 after G28, G30, G53 or G49 names a place only the machine knows: "
            "bring the axes back with G0 first"
        )
    if not all(state.placed[axis] for axis in axes):
        state.assume(f"the tip at program zero when G92 on line {block.line} names its place")
    for axis in axes:
        value = block.words["XYZ"[axis]] * state.unit_mm
        state.shift_mm[axis] += state.at_mm[axis] - (value + state.origin_mm[axis])
        state.placed[axis] = True
    state.kept_shift_mm = list(state.shift_mm)
