"""``holdpoint check JOB``: whether a job holds, what the gauge must show, why, what to change.

The plain answer fits one screen of 80 columns and 24 lines.  Exit status: 0 holds, 1 does not
hold, 2 bad input.
"""

from __future__ import annotations

import argparse
import datetime
import json
import math
import sys
import textwrap
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from kiosk.job.cures import cures_in_words, explained
from kiosk.job.plan import Finding, Flex, Governed, Input, Plan, ProgramFacts, SeatState, weakest
from kiosk.job.planning import Progress, read_files, silent, work_out
from kiosk.job.resolve import Worked
from kiosk.job.spread import spread_of
from kiosk.job.spread_table import spread_as_json, spread_as_text
from kiosk.job.table import Told, as_table, governing
from kiosk.mistakes import BadInput, Mistake
from kiosk.places import data_path, shop_file_if_any
from kiosk.shop import Shop, load_shop
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
    shop_arguments(parser)
    parser.add_argument("--table", action="store_true",
                        help="print the ten program lines that need most vacuum")  # fmt: skip
    parser.add_argument("--spread", action="store_true",
                        help="print how sure the minimum is, and what moves it most")  # fmt: skip
    parser.add_argument("--why", action="store_true",
                        help="say what would lower the minimum, of a long program too")  # fmt: skip
    parser.add_argument("--data", metavar="DIR",
                        help="the data folder, for its shop.toml; nothing is written")  # fmt: skip


def main(args: argparse.Namespace) -> int:
    """Check one job; returns the exit status.  Raises ``BadInput`` for mistakes in the files."""
    told = Told(sys.stderr, time.monotonic)
    try:
        plan, worked = worked_of(args.job, args.site, lambda: shop_of(args), told)
        told(0.99, "asking it again")
        answer = _answer(args, plan, worked)
    except KeyboardInterrupt:
        told.done()
        print("stopped: nothing was checked", file=sys.stderr)
        return 130  # as a shell tells a program that Ctrl-C ended
    told.done()
    print(answer)
    return 0 if plan.verdict == "holds" else 1


def _answer(args: argparse.Namespace, plan: Plan, worked: Worked) -> str:
    if args.spread:
        spread = spread_of(worked)
        told = json.dumps(spread_as_json(spread), allow_nan=False)
        return told if args.json else spread_as_text(spread)
    if args.table and not args.json:
        return as_table(plan)
    plan = explained(plan, worked, args.why)
    return json.dumps(as_json(plan), allow_nan=False) if args.json else as_text(plan)


def shop_arguments(parser: argparse.ArgumentParser) -> None:
    """Where the shop's own numbers are."""
    parser.add_argument("--shop", metavar="FILE",
                        help="the shop's own numbers (default: shop.toml in the data "
                        "folder, when it is there)")  # fmt: skip
    parser.add_argument("--materials", metavar="FILE", type=Path,
                        help="the shop's own materials, over the shipped ones")  # fmt: skip


def shop_of(args: argparse.Namespace) -> Shop:
    """The shop that the options name.  Raises ``BadInput``."""
    path = shop_file_if_any(data_path(args.data), args.shop)
    return load_shop(path, datetime.date.today(), args.materials)


def plan_of(
    job: Path, site: Path, shop: Callable[[], Shop] | None = None, progress: Progress = silent
) -> Plan:
    """As ``worked_of``, the plan alone."""
    return worked_of(job, site, shop, progress)[0]


def worked_of(
    job: Path, site: Path, shop: Callable[[], Shop] | None = None, progress: Progress = silent
) -> tuple[Plan, Worked]:
    """The plan, with the mistakes of all files told together; ``shop`` reads the shop's own."""
    mistakes: list[Mistake] = []
    machine = own = None
    try:
        machine = load_site(site)
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    try:
        own = None if shop is None else shop()
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    try:
        if machine is not None and not mistakes:
            return work_out(job, machine, progress, shop=own)
        read_files(job, own or load_shop(None, datetime.date.today()))
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
        "governing": [_governing(row) for row in governing(plan)],
        "load_cases": plan.load_cases,
        "cups": {
            "up": named[SeatState.UP],
            "down": named[SeatState.DOWN],
            "blocked": {s.name: s.why for s in plan.seats if s.state is SeatState.BLOCKED},
        },
        "program": _program(plan.program),
        "flex": _flex(plan.flex),
        "cures": [
            {
                "code": row.code,
                "change": row.change,
                "minimum_kpa": _number(row.minimum_kpa),
                "lowers_kpa": _number(row.lowers_kpa),
            }
            for row in plan.cures
        ],
        "inputs": [_input(row) for row in plan.inputs],
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


def _governing(row: Governed) -> dict[str, Any]:
    return {**(_governed(row) or {}), "minimum_kpa": _number(row.minimum_kpa)}


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


def _input(row: Input) -> dict[str, Any]:
    return {
        "name": row.name,
        "value": _number(row.value),
        "low": _number(row.low),
        "typical": _number(row.typical),
        "high": _number(row.high),
        "unit": row.unit,
        "grade": row.grade,
        "source": row.source,
        "measured": row.measured,
        "governs": row.governs,
    }


def _flex(flex: Flex | None) -> dict[str, Any] | None:
    if flex is None:
        return None
    return {
        "deflection_mm": _number(flex.deflection_mm),
        "limit_mm": _number(flex.limit_mm),
        "at_mm": _vector(flex.at_mm),
        "cups": list(flex.cups),
        "places": [list(place) for place in flex.places],
    }


# -- one screen of text --------------------------------------------------------------------


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
    return f"{row.name} {row.value:.3g}{unit} ({row.grade}{own})"


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
