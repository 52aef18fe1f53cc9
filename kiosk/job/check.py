"""``holdpoint check JOB``: whether a job holds, what the gauge must show, why, what to change.

The plain answer fits one screen of 80 columns and 24 lines.  Exit status: 0 holds, 1 does not
hold, 2 bad input.
"""

from __future__ import annotations

import argparse
import json
import math
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from kiosk.job.plan import Finding, Flex, Governed, Plan, ProgramFacts, SeatState
from kiosk.job.planning import make_plan
from kiosk.mistakes import BadInput, Mistake
from kiosk.site import load_site

_WIDE, _HIGH = 80, 24
_DIGITS = 6
_MODES = {"slip": "slide", "lift": "lift off", "floor": "slide or lift"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """The words that follow ``check``."""
    parser.add_argument("job", metavar="JOB", type=Path, help="a job file, *.job.toml")
    parser.add_argument("--site", metavar="FILE", type=Path, required=True,
                        help="the site file of the machine, *.site.toml")  # fmt: skip
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--data", metavar="DIR", help="not needed here; nothing is written")


def main(args: argparse.Namespace) -> int:
    """Check one job; returns the exit status.  Raises ``BadInput`` for mistakes in the files."""
    plan = plan_of(args.job, args.site)
    text = json.dumps(as_json(plan), allow_nan=False) if args.json else as_text(plan)
    print(text)
    return 0 if plan.verdict == "holds" else 1


def plan_of(job: Path, site: Path) -> Plan:
    """The plan, with the mistakes of both files told together."""
    mistakes: list[Mistake] = []
    try:
        machine = load_site(site)
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    try:
        if not mistakes:
            return make_plan(job, machine)
        from kiosk.job.job_file import load_job

        load_job(job)
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    raise BadInput(mistakes)


# -- one JSON object -----------------------------------------------------------------------


def as_json(plan: Plan) -> dict[str, Any]:
    """The object that ``--json`` prints; numbers that do not exist are None."""
    named = {state: [s.name for s in plan.seats if s.state is state] for state in SeatState}
    return {
        "format": 1,
        "job": {"id": plan.job_id, "title": plan.title, "digest": plan.digest},
        "verdict": plan.verdict,
        "model_kpa": _number(plan.model_kpa),
        "minimum_kpa": _number(plan.minimum_kpa),
        "required_kpa": _number(plan.required_kpa),
        "start_kpa": _number(plan.start_kpa),
        "predicted_kpa": _number(plan.predicted_kpa),
        "ceiling_kpa": _number(plan.ceiling_kpa),
        "allowances_kpa": {
            "drop": _number(plan.drop_kpa),
            "gauge_error": _number(plan.gauge_error_kpa),
        },
        "governed_by": _governed(plan.governed_by),
        "load_cases": plan.load_cases,
        "cups": {
            "up": named[SeatState.UP],
            "down": named[SeatState.DOWN],
            "blocked": {s.name: s.why for s in plan.seats if s.state is SeatState.BLOCKED},
        },
        "program": _program(plan.program),
        "flex": _flex(plan.flex),
        "findings": [
            {"code": f.code, "severity": f.severity, "text": f.text} for f in plan.findings
        ],
    }


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, _DIGITS)


def _vector(values: Sequence[float] | None) -> list[float] | None:
    return None if values is None else [round(value, _DIGITS) for value in values]


def _governed(governed: Governed | None) -> dict[str, Any] | None:
    if governed is None:
        return None
    return {
        "mode": governed.mode,
        "at_mm": _vector(governed.at_mm),
        "tip_mm": _vector(governed.tip_mm),
        "force_n": _vector(governed.force_n),
        "torque_nm": _number(governed.torque_nm),
        "factor": governed.factor,
        "tool": governed.tool,
        "line": governed.line,
    }


def _program(facts: ProgramFacts | None) -> dict[str, Any] | None:
    if facts is None:
        return None
    return {
        "moves": facts.moves,
        "cut_length_mm": _number(facts.cut_length_mm),
        "rapid_length_mm": _number(facts.rapid_length_mm),
        "min_mm": _vector(facts.min_mm),
        "max_mm": _vector(facts.max_mm),
        "tools": list(facts.tools),
        "seconds": _number(facts.seconds),
    }


def _flex(flex: Flex | None) -> dict[str, Any] | None:
    if flex is None:
        return None
    return {
        "deflection_mm": _number(flex.deflection_mm),
        "limit_mm": _number(flex.limit_mm),
        "at_mm": _vector(flex.at_mm),
    }


# -- one screen of text --------------------------------------------------------------------


def as_text(plan: Plan) -> str:
    """The answer for a person: at most 24 lines of 80 characters."""
    head = [f"{plan.verdict.upper()}: {plan.job_id} {plan.title}"[:_WIDE], ""]
    body = [*_levels(plan), *_why(plan), *_cups(plan)]
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
    return [
        f"To start, the gauge must show  {plan.start_kpa:6.1f} kPa",
        f"In the cut, never below        {plan.required_kpa:6.1f} kPa  ({taken})",
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
