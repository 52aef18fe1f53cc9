"""Site, plan and log as the plain facts that the decision takes.  Pure conversions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from kiosk.interlock.facts import (
    GaugeSetting,
    JobOffer,
    PlanFacts,
    PlannerAnswer,
    SiteFacts,
    ZoneFacts,
)
from kiosk.job.plan import Plan
from kiosk.site import Site
from kiosk.units import air_pressure_kpa

# Boards that air comes through: slow to pull down, and no sign of a pump that ails.
LEAKY = frozenset({"particleboard", "mdf", "softboard"})  # common practice, no source


def site_facts(site: Site) -> SiteFacts:
    """What the decision may know of the site file."""
    io = site.io
    return SiteFacts(
        name=site.name,
        gauges=tuple(
            GaugeSetting(g.name, g.role, g.error_kpa, g.rate_hz, g.frozen_s, g.calibration_due)
            for g in site.gauges
        ),
        inputs=frozenset() if io is None else frozenset(io.inputs),
        outputs=frozenset() if io is None else frozenset(io.outputs),
        limits=site.limits,
        air_kpa=air_pressure_kpa(site.altitude_m),
        advice_only=site.advice_only,
        simulated=site.simulated,
        digest=site.digest,
        pull_down_s=None if site.pump is None else site.pump.pull_down_s,
        lockout_inspected=site.lockout_inspected,
    )


def refusal(plan: Plan, site: Site) -> tuple[str, str] | None:
    """Code and words of what forbids adopting a plan, or None."""
    for finding in plan.findings:
        if finding.severity == "refuse":
            return finding.code, finding.text
    if plan.refused:
        return "does_not_hold", _shortfall(plan)
    if None in (plan.minimum_kpa, plan.required_kpa, plan.start_kpa):
        return "minimum_unknown", "The plan has no minimum: run the check command on this job."
    if {g.name for g in site.gauges} - {row.gauge for row in plan.allowances}:
        return "gauge_unknown", "The plan does not know every gauge: restart the guard."
    if plan.site_digest != site.digest:
        return "site_changed", "The site file was changed: restart the guard to use it."
    return None


def _shortfall(plan: Plan) -> str:
    reach = plan.ceiling_kpa if plan.predicted_kpa is None else plan.predicted_kpa
    if plan.start_kpa is None:
        return "Does not hold: there is no minimum."
    return f"Does not hold: needs {plan.start_kpa:.1f} kPa to start, {reach:.1f} kPa can be had."


def plan_facts(plan: Plan, refused: str | None = None) -> PlanFacts:
    """A plan in plain numbers.  Raises ValueError when its minimum is not known."""
    if plan.minimum_kpa is None or plan.required_kpa is None or plan.start_kpa is None:
        raise ValueError("a plan without a minimum")
    return PlanFacts(
        digest=plan.digest,
        job_id=plan.job_id,
        title=plan.title,
        revision=plan.revision,
        minimum_kpa=plan.minimum_kpa,
        required_kpa=plan.required_kpa,
        start_kpa=plan.start_kpa,
        predicted_kpa=plan.predicted_kpa,
        drops_kpa={row.gauge: row.drop_kpa for row in plan.allowances},
        errors_kpa={row.gauge: row.error_kpa for row in plan.allowances},
        zones=tuple(ZoneFacts(zone.name, zone.up, zone.down) for zone in plan.zones),
        warnings=plan.warnings,
        refused=refused,
        leaks=plan.material in LEAKY,
    )


def planner_answer(command_id: str, plan: Plan, site: Site) -> PlannerAnswer:
    """The answer that hands a plan to the decision, or the words of why it may not be adopted."""
    forbidden = refusal(plan, site)
    if forbidden is not None:
        return PlannerAnswer(command_id, None, forbidden[1])
    return PlannerAnswer(command_id, plan_facts(plan), None)


def job_offers(rows: Iterable[Mapping[str, Any]]) -> tuple[JobOffer, ...]:
    """Rows of the listing as offers."""
    return tuple(
        JobOffer(
            file=str(row["file"]),
            id=str(row["id"] or ""),
            title=str(row["title"] or ""),
            revision=str(row["revision"] or ""),
            error=None if row["error"] is None else str(row["error"]),
        )
        for row in rows
    )
