"""Writes a Program as plain NC code of the same motion: metric, absolute, one move a line.

Strokes of drilling cycles become feed moves.  Moves whose ends only the machine knows become one
G28 and a rapid move to the next known place.  The dwells are added up in one G4 at the end.  The
spindle is started before the first move, whether or not the program that was read did so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from kiosk.job.program import PLANE_AXES, Move, MoveKind, Plane, Program, Xyz

PLANE_CODES = {Plane.XY: "G17", Plane.ZX: "G18", Plane.YZ: "G19"}


@dataclass(slots=True)
class _Text:
    """Lines so far, and what they have set."""

    lines: list[str] = field(default_factory=list)
    at_mm: Xyz = (0.0, 0.0, 0.0)
    away: bool = False
    plane: Plane = Plane.XY
    tool: int | None = None
    rpm: float | None = None
    reversed_spindle: bool | None = None  # before M3 and M4


def write_program(program: Program) -> str:
    """NC code that reads back as the same rapid and cutting moves, to 1e-8 mm."""
    text = _Text(["G21 G17 G90 G91.1 G94"])
    for move in program.moves:
        _write(text, move)
    if program.dwell_s:
        text.lines.append(f"G4 P{_exact(program.dwell_s)}")
    return "\n".join([*text.lines, "M30", ""])


def _write(text: _Text, move: Move) -> None:
    if move.kind is MoveKind.RETRACT_OFF:
        if not text.away:
            text.lines.append("G28")
        text.away = True
        return
    if text.away or _xyz(move.start) != _xyz(text.at_mm):
        text.lines.append(f"G0 {_xyz(move.start)}")
        text.away = False
    _write_settings(text, move)
    text.lines.append(_line(move))
    text.at_mm = move.end


def _write_settings(text: _Text, move: Move) -> None:
    if move.tool != text.tool:
        text.lines.append(f"T{move.tool or 0} M6")
    if move.spindle_rpm != text.rpm:
        text.lines.append(f"S{_exact(move.spindle_rpm or 0.0)}")
    if move.reversed_spindle != text.reversed_spindle:
        text.lines.append("M4" if move.reversed_spindle else "M3")
    if move.plane != text.plane:
        text.lines.append(PLANE_CODES[move.plane])
    text.tool, text.rpm, text.plane = move.tool, move.spindle_rpm, move.plane
    text.reversed_spindle = move.reversed_spindle


def _line(move: Move) -> str:
    if move.kind is MoveKind.RAPID:
        return f"G0 {_xyz(move.end)}"
    feed = f"F{_exact(move.feed_mm_min or 0.0)}"
    if move.centre is None or move.sweep_rad is None:
        return f"G1 {_xyz(move.end)} {feed}"
    code = "G3" if move.sweep_rad > 0.0 else "G2"
    axes = sorted(PLANE_AXES[move.plane][:2])
    offsets = " ".join(f"{'IJK'[a]}{_short(move.centre[a] - move.start[a])}" for a in axes)
    return f"{code} {_xyz(move.end)} {offsets} {feed}"


def _xyz(point: Xyz) -> str:
    return f"X{_short(point[0])} Y{_short(point[1])} Z{_short(point[2])}"


def _short(value: float) -> str:
    """Nine decimals at most, without a minus zero."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _exact(value: float) -> str:
    """Every digit of a float, without an exponent."""
    return format(Decimal(repr(value)), "f")
