"""What is remarked on about a program's text alone: what a machine may take otherwise than here."""

from __future__ import annotations

from kiosk.job.findings import finding
from kiosk.job.plan import Finding
from kiosk.job.program import Program


def program_findings(program: Program | None) -> list[Finding]:
    """A spindle that the program never starts, and lines that block delete passes over."""
    return [] if program is None else [*_spindle(program), *_optional(program)]


def _spindle(program: Program) -> list[Finding]:
    first = next((move for move in program.moves if move.cuts), None)
    if first is None or not program.never_turned:
        return []
    text = (
        f"Line {first.line} cuts, and no M3 or M4 in the program starts the spindle. The push of a "
        "cutter that stands still is not worked out: write M3, or see that it turns first."
    )
    return [finding("spindle_not_started", text)]


def _optional(program: Program) -> list[Finding]:
    lines = program.optional_lines
    if not lines:
        return []
    which = f"Line {lines[0]} starts" if len(lines) == 1 else f"Line {lines[0]} and others start"
    text = (
        f"{which} with /: carried out here, passed over where the control's block delete is on. "
        "Only the first reading was checked: set block delete off, or take the / or the line away."
    )
    return [finding("block_delete", text)]
