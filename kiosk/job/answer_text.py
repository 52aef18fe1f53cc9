"""The plain answer of ``holdpoint check``: one screen of 80 columns and 24 lines."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

from kiosk.job.cures import cures_in_words
from kiosk.job.plan import Finding, Input, Plan, SeatState, weakest

_WIDE, _HIGH = 80, 24
_MODES = {"slip": "slide", "lift": "lift off", "floor": "slide or lift"}


def as_text(plan: Plan) -> str:
    """The answer for a person: at most 24 lines of 80 characters."""
    head = [f"{plan.verdict.upper()}: {plan.job_id} {plan.title}"[:_WIDE], ""]
    body = [
        *_levels(plan),
        *_why(plan),
        *cures_in_words(plan.cures, _WIDE),
        *_numbers(plan),
        *_cups(plan),
    ]
    foot = "Operating aid, not a safety device. Follow the machine maker and local rules."
    room = _HIGH - len(head) - len(body) - 2
    lines = [*head, *body, *_findings(plan.findings, room), "", foot]
    return "\n".join(line.rstrip() for line in lines)


def _levels(plan: Plan) -> list[str]:
    if plan.start_kpa is None or plan.required_kpa is None or plan.minimum_kpa is None:
        return ["No vacuum holds this job as it is."]
    taken = f"drop {plan.drop_kpa:.1f}, gauge error {plan.gauge_error_kpa:.1f}"
    most, source = plan.ceiling_kpa, "80 % of the air here"
    if plan.predicted_kpa is not None:
        most, source = plan.predicted_kpa, "expected from pump and pipes"
    start, cut = "To start, the gauge must show", "In the cut, never below"
    if plan.verdict != "holds":  # no number that looks like a way to start
        start, cut = "Asked for at the start", "Asked for in the cut"
    return [
        f"{start:<29}  {plan.start_kpa:6.1f} kPa",
        f"{cut:<29}  {plan.required_kpa:6.1f} kPa  ({taken})",
        f"At the cups, at least          {plan.minimum_kpa:6.1f} kPa",
        f"The gauge can reach            {most:6.1f} kPa  ({source})",
    ]


def _why(plan: Plan) -> list[str]:
    governed = plan.governed_by
    if governed is None:
        return []
    x, y, z = governed.at_mm
    force = math.hypot(*governed.force_n[:2])
    where = (
        "a [[load]] row"
        if governed.line is None
        else (f"program line {governed.line}, tool {governed.tool}")
    )
    first = f"Why: it would {_MODES[governed.mode]} first at {where}:"
    if governed.mode == "floor":
        first = f"Why: loads are light, the site's floor decides. Nearest: {where}:"
    second = (
        f"  {force:.0f} N sideways, {governed.force_n[2]:.0f} N up, at x {x:.1f}, y {y:.1f}, "
        f"z {z:.1f} mm,"
    )
    third = f"  times {governed.factor:g} for the factor of safety; {plan.load_cases} load cases"
    return [line[:_WIDE] for line in (first, second, third)]


def _numbers(plan: Plan) -> list[str]:
    """What the minimum goes with, each with its grade; the weakest named."""
    poorest = weakest(plan.inputs)
    if poorest is None:
        return []
    others = ", ".join(_graded(row) for row in plan.inputs if row.governs and row is not poorest)
    words = f"Weakest number: {_graded(poorest)}" + (f"; also {others}" if others else "")
    return textwrap.wrap(words, _WIDE, subsequent_indent="  ", max_lines=2, placeholder=" ...")


def _graded(row: Input) -> str:
    unit = f" {row.unit}" if row.unit else ""
    own = f", measured here {row.measured}" if row.measured else ""
    return f"{row.name} {float(f'{row.value:.3g}'):g}{unit} ({row.grade}{own})"


def _cups(plan: Plan) -> list[str]:
    up = [seat.name for seat in plan.seats if seat.state is SeatState.UP]
    blocked = [seat for seat in plan.seats if seat.state is SeatState.BLOCKED]
    words = f"Cups up, {len(up)}: {' '.join(up) or 'none'}"
    lines = textwrap.wrap(words, _WIDE, subsequent_indent="  ", max_lines=3, placeholder=" ...")
    if blocked:
        reasons: dict[str, list[str]] = {}
        for seat in blocked:
            reasons.setdefault(seat.why.split(",")[0], []).append(seat.name)
        told = "; ".join(f"{why}: {' '.join(names)}" for why, names in reasons.items())
        lines += textwrap.wrap(
            f"Blocked, {len(blocked)}: {told}",
            _WIDE,
            subsequent_indent="  ",
            max_lines=3,
            placeholder=" ...",
        )
    return lines


def _findings(findings: Sequence[Finding], room: int) -> list[str]:
    """What to change or know, most important first, as far as there is room for."""
    marks = {"refuse": "REFUSED", "warning": "WARNING", "note": "Note"}
    lines: list[str] = []
    for number, row in enumerate(findings):
        words = f"{marks[row.severity]}: {row.text}"
        block = textwrap.wrap(words, _WIDE, subsequent_indent="  ", max_lines=4, placeholder=" ...")
        last = number == len(findings) - 1
        if len(lines) + len(block) + (0 if last else 1) > room:
            return [*lines, f"and {len(findings) - number} more: see --json"]
        lines += block
    return lines
