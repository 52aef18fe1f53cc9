"""The machine and the plan of the stories about the interlock, by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from kiosk.interlock.facts import GaugeSetting, JobOffer, PlanFacts, SiteFacts, ZoneFacts
from kiosk.limits import Limits

UTC = "2026-11-25T09:00:00.000Z"
EPOCH = "e1"
OFFER = JobOffer("rail.job.toml", "SR-1", "Rail", "A")
INPUTS = frozenset(
    {"cycle_running", "standstill", "valve_open", "stop_healthy", "key_bypass", "contact_feedback"}
)
OUTPUTS = frozenset({"start_permit", "hold_healthy", "alive", "beacon"})
ROLES = (None, "operator", "setter", "maintenance", "supervisor")
DROP_KPA, PUMP_DROP_KPA, ERROR_KPA, MINIMUM_KPA = 2.0, 5.0, 1.0, 40.0


def plan_of(**changes: Any) -> PlanFacts:
    """A plan whose minimum is 40 kPa: R = (v - 3) / 40."""
    plan = PlanFacts(
        digest="d1",
        job_id="SR-1",
        title="Rail",
        revision="A",
        minimum_kpa=MINIMUM_KPA,
        required_kpa=MINIMUM_KPA + DROP_KPA + ERROR_KPA,
        start_kpa=1.15 * MINIMUM_KPA + DROP_KPA + ERROR_KPA,
        predicted_kpa=78.0,
        drops_kpa={"table": DROP_KPA, "pump": PUMP_DROP_KPA},
        errors_kpa={"table": ERROR_KPA, "pump": ERROR_KPA},
        zones=(ZoneFacts("A", ("A1", "A2"), ("A3",)), ZoneFacts("B", ("B2",), ("B1", "B3"))),
        warnings=("loose_offcut",),
        refused=None,
    )
    return replace(plan, **changes)


def site_of(**changes: Any) -> SiteFacts:
    """A site with one gauge at the table and everything wired."""
    site = SiteFacts(
        name="Router 2",
        gauges=(GaugeSetting("table", "table", ERROR_KPA, 20.0),),
        inputs=INPUTS,
        outputs=OUTPUTS,
        limits=Limits(),
        air_kpa=100.0,
        advice_only=False,
        simulated=False,
    )
    return replace(site, **changes)


TWO_GAUGES = (
    GaugeSetting("table", "table", ERROR_KPA, 20.0),
    GaugeSetting("pump", "pump", ERROR_KPA, 20.0),
)


def kpa_of(ratio: float) -> float:
    """What the table's gauge shows at R = ``ratio``."""
    return ratio * MINIMUM_KPA + DROP_KPA + ERROR_KPA
