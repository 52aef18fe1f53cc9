"""Is the program's zero at the other face of the blank than the job file says?

A program whose cuts lie above or below the blank, by just its thickness, was most likely posted
with the other ``z_zero``.  Shares and heights here are common practice, no source.
"""

from __future__ import annotations

import math

from kiosk.job.cuts import Cut
from kiosk.job.findings import finding
from kiosk.job.found import Motion
from kiosk.job.job_file import Job
from kiosk.job.plan import Finding
from kiosk.site import Site

_MOST, _NEARLY_ALL = 0.5, 0.9  # of the length of all cuts; of those that lie outside
_THROUGH_MM = 1.0  # a through-cut goes about this far below the blank
_SKIM_MM = 2.0  # cuts that are too high by the thickness still reach about this far into it


def doubtful_zero(job: Job, site: Site, motion: Motion) -> list[Finding]:
    """A warning when most cutting lies outside the blank and the other zero would cure it."""
    feed = [cut for cut in motion.cuts if not cut.rapid]
    if job.program is None or not feed:
        return []
    top = job.program.z_zero == "top"
    outside = _above(job, feed) if top else _below(feed, bool(motion.crashing))
    thickness = job.thickness_mm
    moved = -thickness if top else thickness
    cured = [c for c in outside if -site.cup.lift_mm <= _height(c) + moved <= thickness]
    if _length(outside) <= _MOST * _length(feed) or (
        _length(cured) < _NEARLY_ALL * _length(outside)
    ):
        return []
    where, other = ("above", "underside") if top else ("below", "top")
    line = job.line("program", "z_zero")
    text = (
        f'Most cutting lies {where} the blank; with z_zero = "{other}" it would lie in it. '
        f"Check z_zero on line {line} of {job.file.name}."
    )
    return [finding("z_zero_doubtful", text)]


def _above(job: Job, feed: list[Cut]) -> list[Cut]:
    """Cuts above the blank, unless any goes deep into it: then those above are moves in air."""
    thickness = job.thickness_mm
    if min(cut.lowest_mm for cut in feed) < max(thickness / 2.0, thickness - _SKIM_MM):
        return []
    return [cut for cut in feed if _height(cut) > thickness]


def _below(feed: list[Cut], crashing: bool) -> list[Cut]:
    """Cuts below the blank; further than a through-cut goes, unless rapids run through it too."""
    lowest = 0.0 if crashing else -_THROUGH_MM
    return [cut for cut in feed if _height(cut) < lowest]


def _height(cut: Cut) -> float:
    return (cut.start[2] + cut.end[2]) / 2.0


def _length(cuts: list[Cut]) -> float:
    return math.fsum(math.dist(cut.start, cut.end) for cut in cuts)
