"""What the guard asks of itself before the first step.  Words of each fault; none is good."""

from __future__ import annotations

from itertools import pairwise

from kiosk.guard.failure import utc_now
from kiosk.interlock.facts import Facts, LogFacts, ScreenFacts, SiteFacts
from kiosk.interlock.step import start, step
from kiosk.limits import LIMIT_RANGES, Limits

_NO_LOG = LogFacts(
    exists=False,
    readable=True,
    last_commit_s=None,
    writable=False,
    free_share=None,
    latch=None,
    logged_plan=None,
)


def faults(site: SiteFacts) -> tuple[str, ...]:
    """Every fault of the start-up checks."""
    return (*_range_faults(site.limits), *_order_faults(site.limits), *_silence_faults(site))


def _range_faults(limits: Limits) -> tuple[str, ...]:
    values = ((key, getattr(limits, key), *span) for key, span in LIMIT_RANGES.items())
    return tuple(
        f"limit {key} = {value} is outside {low} to {high}"
        for key, value, low, high in values
        if value is not None and not low <= value <= high
    )


def _order_faults(limits: Limits) -> tuple[str, ...]:
    ladder = ("start_ratio", "unproved_ratio", "warn_ratio", "loss_ratio", "collapse_ratio")
    return tuple(
        f"limit {upper} must be above {lower}"
        for upper, lower in pairwise(ladder)
        if getattr(limits, upper) <= getattr(limits, lower)
    )


def _silence_faults(site: SiteFacts) -> tuple[str, ...]:
    """With nothing known, the decision must energise neither contact."""
    facts = Facts(
        now_s=0.0,
        site=site,
        gauges={},
        inputs=None,
        contacts=None,
        commands=(),
        planner=None,
        jobs=(),
        log=_NO_LOG,
        screen=ScreenFacts(None, None),
    )
    outputs = step(start(site, "self-test"), facts, utc_now())[1].outputs
    wrong = outputs.start_permit or outputs.hold_healthy
    return ("a contact came on with nothing known",) if wrong else ()
