"""Circular arcs and helices: centre and sweep from I J K or from R.

Plane geometry only.  RS274/NGC (NISTIR 6556), sections 3.5.3.1 and 3.5.3.2.
"""

from __future__ import annotations

import math

from kiosk.job.gcode_lexer import Block, Refused
from kiosk.job.gcode_state import FAR_MM, State, begin_cut, feed_for, go, target
from kiosk.job.program import PLANE_AXES, MoveKind

Xy = tuple[float, float]

SAME_MM = 1e-6  # ends closer than this are one point: a full circle
# Start and end may lie this far from one circle.  RS274/NGC says 0.002 mm; twice the rounding of
# a file with two decimals, 0.005 sqrt(2), asks for 0.0142 mm, and 0.02 mm moves no cut that counts.
OFF_CIRCLE_MM = 0.02


def centre_from_radius(start: Xy, end: Xy, radius_mm: float, clockwise: bool) -> Xy:
    """Centre of the arc of R: at most half a turn when R is positive, else at least half.

    Raises Refused when the ends are one point, or further apart than the diameter.
    """
    across, up = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(across, up)
    if chord < SAME_MM:
        raise Refused("an arc with R must end elsewhere: give I J K for a full circle")
    if 0.5 * chord - abs(radius_mm) > OFF_CIRCLE_MM:
        raise Refused(f"R{radius_mm:g} mm does not reach: the ends are {chord:.4f} mm apart")
    height = math.sqrt(max(0.0, radius_mm * radius_mm - 0.25 * chord * chord))
    left = height if (radius_mm > 0.0) != clockwise else -height
    middle = 0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])
    return middle[0] - left * up / chord, middle[1] + left * across / chord


def sweep_rad(start: Xy, end: Xy, centre: Xy, clockwise: bool) -> float:
    """Signed angle from start to end about the centre, counter-clockwise positive, never 0.

    Raises Refused when start and end are not on one circle about the centre.
    """
    u = start[0] - centre[0], start[1] - centre[1]
    v = end[0] - centre[0], end[1] - centre[1]
    out, back = math.hypot(*u), math.hypot(*v)
    if min(out, back) < SAME_MM:
        raise Refused("the arc has no radius: check I J K")
    if out > FAR_MM:
        raise Refused("the arc's radius is more than 100 m: check I J K or R, or write G1")
    if abs(out - back) > OFF_CIRCLE_MM:
        raise Refused(
            f"the arc starts {out:.4f} mm from its centre and ends {back:.4f} mm from it: "
            "check I J K and the end point"
        )
    turn = -2.0 * math.pi if clockwise else 2.0 * math.pi
    if math.dist(start, end) < SAME_MM:
        return turn
    angle = math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])
    wrong_way = angle >= 0.0 if clockwise else angle <= 0.0
    return angle + turn if wrong_way else angle


def arc(state: State, block: Block, clockwise: bool) -> None:
    """Add the arc or helix of a line.  Raises Refused."""
    first, second, normal = PLANE_AXES[state.plane]
    end = target(state, block.words)
    start_2, end_2 = _flat(state.at_mm, first, second), _flat(end, first, second)
    centre_2 = _centre(state, block, start_2, end_2, clockwise)
    sweep = sweep_rad(start_2, end_2, centre_2, clockwise)
    begin_cut(state, block.line)
    centre = [0.0, 0.0, 0.0]
    centre[first], centre[second], centre[normal] = *centre_2, state.at_mm[normal]
    around = math.hypot(math.dist(start_2, centre_2) * sweep, end[normal] - state.at_mm[normal])
    feed = feed_for(state, block, around)
    middle = (centre[0], centre[1], centre[2])
    go(state, MoveKind.ARC, end, block.line, feed, centre=middle, sweep_rad=sweep)


def _flat(point: list[float] | tuple[float, float, float], first: int, second: int) -> Xy:
    return point[first], point[second]


def _centre(state: State, block: Block, start: Xy, end: Xy, clockwise: bool) -> Xy:
    words, (first, second, normal) = block.words, PLANE_AXES[state.plane]
    letters = "IJK"[first], "IJK"[second]
    if words.get("IJK"[normal], 0.0):
        raise Refused(f"{'IJK'[normal]} does not lie in plane {state.plane}: choose G17 G18 G19")
    given = [letter in words for letter in letters]
    if "R" in words:
        if any(given):
            raise Refused("an arc has R or I J K, not both: keep one")
        return centre_from_radius(start, end, words["R"] * state.unit_mm, clockwise)
    if not any(given) or (state.absolute_centres and not all(given)):
        raise Refused(f"the arc has no centre: give {letters[0]} and {letters[1]}, or R")
    offset = [words.get(letter, 0.0) * state.unit_mm for letter in letters]
    base = start
    if state.absolute_centres:
        base = state.origin_mm[first], state.origin_mm[second]
    return base[0] + offset[0], base[1] + offset[1]
