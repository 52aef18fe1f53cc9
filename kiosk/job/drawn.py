"""The cutter's path for the map on the screen: few points, grid frame, mm."""

from __future__ import annotations

from bisect import bisect
from collections.abc import Mapping, Sequence

import numpy as np
from shapely import LineString, get_num_coordinates, simplify

from kiosk.job.cuts import Cut
from kiosk.job.frames import Frame
from kiosk.job.plan import CutPath

_FINE_MM = 0.3  # a screen pixel is a millimetre or more of the table
_MOST_POINTS = 20_000
_MOST_RUNS = 4_000
_LONG = 1_000  # points of a run
_BANDS = (0.5, 0.75, 0.9)  # shares of the minimum at which a run is parted for shading


def paths_of(
    cuts: Sequence[Cut], skin_mm: float, frame: Frame, shares: Mapping[int, float]
) -> tuple[CutPath, ...]:
    """Runs of feed moves with one tool, through or not, thinned until few enough points remain.

    ``shares``: how much of the job's minimum each cut needs, by its order.  Runs are parted where
    it goes from one band to another, unless that makes too many.
    """
    runs = _runs(cuts, skin_mm, shares)
    if len(runs) > _MOST_RUNS:
        runs = _runs(cuts, skin_mm, {})
    lines = np.array([_line(run) for run in runs], dtype=object)
    fine_mm, most = _FINE_MM, max(_MOST_POINTS, 2 * len(runs))
    long = get_num_coordinates(lines) > _LONG
    while True:
        # A small circle keeps its shape; that takes too long for what has thousands of points.
        lines[~long] = simplify(lines[~long], fine_mm)
        lines[long] = simplify(lines[long], fine_mm, preserve_topology=False)
        if get_num_coordinates(lines).sum() <= most:
            break
        fine_mm *= 2.0
    return tuple(
        _path(run, line, skin_mm, frame, shares) for run, line in zip(runs, lines, strict=True)
    )


def _line(run: Sequence[Cut]) -> LineString:
    return LineString([run[0].start[:2], *(cut.end[:2] for cut in run)])


def _runs(cuts: Sequence[Cut], skin_mm: float, shares: Mapping[int, float]) -> list[list[Cut]]:
    runs: list[list[Cut]] = []
    last: Cut | None = None
    kind: tuple[int, bool, int] | None = None
    for cut in cuts:
        if cut.rapid:
            continue
        share = shares.get(cut.order, 0.0)
        now = (cut.tool.number, cut.lowest_mm <= skin_mm, bisect(_BANDS, share))
        if last is not None and last.end == cut.start and now == kind:
            runs[-1].append(cut)
        else:
            runs.append([cut])
        last, kind = cut, now
    return runs


def _path(
    run: Sequence[Cut], line: LineString, skin_mm: float, frame: Frame, shares: Mapping[int, float]
) -> CutPath:
    spots = tuple(
        (round(x, 2), round(y, 2)) for x, y in frame.to_grid(np.array(line.coords)).tolist()
    )
    tool, known = run[0].tool, [shares[cut.order] for cut in run if cut.order in shares]
    severity = round(max(known), 3) if known else None
    through = run[0].lowest_mm <= skin_mm
    return CutPath(tool.number, tool.diameter_mm, through, spots, severity)
