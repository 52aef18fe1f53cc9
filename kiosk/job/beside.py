"""Does the program cut along an edge and meet nothing there?

A drawing of the finished part in place of the blank as loaded looks just so: the cutter runs round
the outline or an opening with its flank on the line, and all that it really cuts is not there.
Lengths here are common practice, no source.
"""

from __future__ import annotations

import math

import numpy as np
from shapely import distance, linestrings, points

from kiosk.job.cuts import Cut
from kiosk.job.findings import finding
from kiosk.job.found import LOW_MM, Motion
from kiosk.job.job_file import Job
from kiosk.job.outline import Blank
from kiosk.job.plan import Finding

_ALLOWANCE_MM = 2.0  # a flank this near to a line runs along it: what a finishing pass is to take
_INNER = np.array([0.25, 0.5, 0.75])  # places along a cut
_DIAMETERS = 3.0  # in all; leads in and out are shorter


def beside_findings(job: Job, blank: Blank, motion: Motion) -> list[Finding]:
    """A warning where cuts run along the blank's edges without meeting material."""
    along = _along(job, blank, motion)
    length = math.fsum(math.dist(cut.start, cut.end) for cut in along)
    if not along or length < _DIAMETERS * along[0].tool.diameter_mm:
        return []
    first = along[0]
    x, y = first.start[:2]
    text = (
        f"Line {first.line} runs along an edge of the blank, from x {x:.0f}, y {y:.0f} mm of the "
        "part, and meets nothing: its push is not counted. Give the blank as loaded, without what "
        'the program cuts (for holes, openings = "none").'
    )
    return [finding("cut_along_edge", text)]


def _along(job: Job, blank: Blank, motion: Motion) -> list[Cut]:
    """Cuts at depth that meet nothing, beside the blank, with the flank near its edge.

    Ends may lie further off: round a sharp corner of the blank they do.
    """
    met = {id(push.cut) for push in motion.pushes}
    low = job.thickness_mm - LOW_MM
    cuts = [c for c in motion.cuts if not c.rapid and c.lowest_mm < low and id(c) not in met]
    cuts = [cut for cut in cuts if cut.start[:2] != cut.end[:2]]
    if not cuts:
        return []
    flat = np.array([(cut.start[:2], cut.end[:2]) for cut in cuts])
    inner = flat[:, :1] + _INNER[:, None] * (flat[:, 1:] - flat[:, :1])
    far = distance(blank.shape, points(inner)).max(axis=1)
    near = distance(blank.shape, linestrings(flat))
    reach = np.array([cut.tool.diameter_mm / 2.0 for cut in cuts]) + _ALLOWANCE_MM
    return [cut for cut, beside in zip(cuts, (near > 0.0) & (far <= reach), strict=True) if beside]
