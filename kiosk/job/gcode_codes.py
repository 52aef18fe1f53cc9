"""The codes that are read, as rows: what each sets, which exclude each other, which are refused.

Meanings: RS274/NGC (NISTIR 6556) tables 4, 5 and 7; ISO 6983-1 for G70 and G71 (inch, metric; from
memory).  Codes in tenths: G17 is 170.  Anything in no table here is refused by number.
"""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.job.program import Plane
from kiosk.units import MM_PER_INCH

# Code -> field of the modal state and its value.
SETS: dict[int, tuple[str, object]] = {
    170: ("plane", Plane.XY),
    180: ("plane", Plane.ZX),
    190: ("plane", Plane.YZ),
    200: ("unit_mm", MM_PER_INCH),
    210: ("unit_mm", 1.0),
    700: ("unit_mm", MM_PER_INCH),
    710: ("unit_mm", 1.0),
    900: ("absolute", True),
    910: ("absolute", False),
    901: ("absolute_centres", True),
    911: ("absolute_centres", False),
    930: ("inverse_time", True),
    940: ("inverse_time", False),
    980: ("return_to_initial", True),
    990: ("return_to_initial", False),
    540: ("work", 54),
    550: ("work", 55),
    560: ("work", 56),
    570: ("work", 57),
    580: ("work", 58),
    590: ("work", 59),
}

RADIUS_OFF = 400

PATH_BLENDING = 640
# Change nothing that is worked out here: path control (G9, G60: ISO 6983-1, from memory), and
# cancels of what is refused when on.
IDLE = frozenset({RADIUS_OFF, 90, 600, 610, 611, PATH_BLENDING, 150, 500, 690, 970})
# As IDLE, each with its letter and nothing else on the line: look-ahead, and more cancels.  With
# axis words the same numbers mean other things on other controls.  Common practice, no source.
ALONE = {50: "P", 51: "Q", 80: "P", 131: "", 401: "", 501: "", 670: ""}

MOTION = {0: 0, 10: 1, 20: 2, 30: 3, 730: 73} | {code * 10: code for code in range(81, 90)}
CANCEL_MOTION = 800
DWELL, MACHINE, LOCAL = 40, 530, 520
HOME, SECOND_HOME = frozenset({280, 300}), 300
ORIGINS = frozenset({920, 921, 922, 923, LOCAL})
LENGTH_ON, LENGTH_OFF = 430, 490
RADIUS = frozenset({410, 420})
AXES_TAKEN = HOME | ORIGINS  # non-modal codes that use the axis words of their line

KNOWN_G = (
    frozenset(SETS)
    | IDLE
    | frozenset(MOTION)
    | AXES_TAKEN
    | RADIUS
    | {CANCEL_MOTION, DWELL, MACHINE, LENGTH_ON, LENGTH_OFF}
    | frozenset(ALONE)
)

# No two of a row on one line.  G80 may stand with a motion code, as program headers have it.
GROUPS: tuple[frozenset[int], ...] = (
    frozenset(MOTION),
    frozenset({170, 180, 190}),
    frozenset({900, 910}),
    frozenset({901, 911}),
    frozenset({930, 940}),
    frozenset({200, 210, 700, 710}),
    RADIUS | {RADIUS_OFF},
    frozenset({430, 490}),
    frozenset({980, 990}),
    frozenset({540, 550, 560, 570, 580, 590}),
    frozenset({610, 611, PATH_BLENDING}),
    AXES_TAKEN | {DWELL, MACHINE},
)

SAID_WHY: dict[int, str] = {
    100: "G10 sets offsets that belong in the job: give them under [program.offsets], take it out",
    160: "G16 polar coordinates are not worked out: post plain coordinates",
    510: "G51 scaling is not worked out: post plain coordinates",
    680: "G68 rotation is not worked out: post plain coordinates, or turn the part in the job",
    440: "G44 is not worked out: use G43, or set the tool's length at the machine",
    950: "G95 feed per revolution is not worked out: post in feed per minute, G94",
    960: "G96 constant surface speed is not for milling: give S in rev/min",
    382: "probing is not part of a cut: take it out of the program",
    650: "macro calls are not read: post plain moves",
    660: "macro calls are not read: post plain moves",
    591: "G59.1 is not read: use G54 to G59",
    592: "G59.2 is not read: use G54 to G59",
    593: "G59.3 is not read: use G54 to G59",
}

STOPS = frozenset({0, 1})
ENDS = frozenset({2, 30})
TOOL_CHANGE, CALL, RETURN = 6, 98, 99
# The spindle, seen from above: RS274/NGC (NISTIR 6556), 3.6.2.  M13, M14 with coolant: ISO 6983-1,
# from memory.
CLOCKWISE, REVERSED = frozenset({3, 13}), frozenset({4, 14})
STANDS = frozenset({5, 19})  # M19 holds it at one angle: common practice, no source
IDLE_M = STOPS | {7, 8, 9, 48, 49}  # coolant, and whether overrides act
KNOWN_M = IDLE_M | ENDS | STANDS | CLOCKWISE | REVERSED | {TOOL_CHANGE, CALL, RETURN}
M_GROUPS: tuple[frozenset[int], ...] = (
    STOPS | ENDS | {CALL, RETURN},
    STANDS | CLOCKWISE | REVERSED,
    frozenset({48, 49}),
)


@dataclass(frozen=True, slots=True)
class OtherCodes:
    """Codes to pass over: G codes in tenths, M codes as they are."""

    g: frozenset[int] = frozenset()
    m: frozenset[int] = frozenset()


NO_OTHERS = OtherCodes()


def g_name(tenths: int) -> str:
    """``G91.1`` for 911."""
    return f"G{tenths // 10}" if tenths % 10 == 0 else f"G{tenths // 10}.{tenths % 10}"
