"""What a person should know about a plan: codes, severities and words.

A code never changes once released.  ``note`` is told, ``warning`` must be acknowledged with the
part, ``refuse`` keeps the job from being adopted.
"""

from __future__ import annotations

from kiosk.job.plan import Finding

SEVERITIES: dict[str, str] = {
    "assumed_gauge_error": "note",
    "assumed_drop": "note",
    "no_pump": "note",
    "no_air_model": "note",
    "no_flex": "note",
    "program_modes_assumed": "note",
    "tool_assumed": "note",
    "drawing_units_assumed": "note",
    "drawing_gaps_closed": "note",
    "spacer_discs": "note",
    "measured_here": "note",
    "measured_long_ago": "note",
    "measured_ahead": "note",
    "own_material": "note",
    "loose_offcut": "warning",
    "outside_blank": "warning",
    "cut_along_edge": "warning",
    "rapid_in_material": "warning",
    "z_zero_doubtful": "warning",
    "milling_not_as_declared": "warning",
    "spindle_reversed": "warning",
    "spindle_not_started": "warning",
    "block_delete": "warning",
    "one_cup_piece": "warning",
    "load_off_part": "warning",
    "flex_over_limit": "warning",
    "fixed_pin_at_cut_edge": "warning",
    "part_off_pins": "warning",
    "roller_lifters": "warning",
    "board_height": "warning",
    "board_porous": "warning",
    "pin_under_cutter": "refuse",
    "blocked_cup_asked": "refuse",
    "no_cups": "refuse",
    "no_load": "refuse",
    "cut_into_table": "refuse",
    "kept_piece_cannot_hold": "refuse",
    "cannot_hold": "refuse",
    "start_above_pump": "refuse",
    "start_above_air": "refuse",
}


def finding(code: str, text: str) -> Finding:
    """A finding with the severity that its code has."""
    return Finding(code, SEVERITIES[code], text)
