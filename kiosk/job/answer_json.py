"""The one JSON object that ``holdpoint check --json`` prints."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kiosk.job.plan import Flex, Governed, Input, Plan, ProgramFacts, SeatState
from kiosk.job.table import governing

_DIGITS = 6


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
