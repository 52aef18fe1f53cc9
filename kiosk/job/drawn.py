"""The cutter's path for the map on the screen: few points, grid frame, mm."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import LineString

from kiosk.job.cuts import Cut
from kiosk.job.frames import Frame
from kiosk.job.plan import CutPath

_FINE_MM = 0.3  # a screen pixel is a millimetre or more of the table
_MOST_POINTS = 20_000


def paths_of(cuts: Sequence[Cut], skin_mm: float, frame: Frame) -> tuple[CutPath, ...]:
    """Runs of feed moves with one tool, through or not, thinned until few enough points remain."""
    runs = _runs(cuts, skin_mm)
    fine_mm = _FINE_MM
    while True:
        paths = tuple(_path(run, skin_mm, frame, fine_mm) for run in runs)
        if sum(len(path.points) for path in paths) <= max(_MOST_POINTS, 2 * len(paths)):
            return paths
        fine_mm *= 2.0


def _runs(cuts: Sequence[Cut], skin_mm: float) -> list[list[Cut]]:
    runs: list[list[Cut]] = []
    for cut in cuts:
        if cut.rapid:
            continue
        last = runs[-1][-1] if runs else None
        goes_on = (
            last is not None
            and last.tool == cut.tool
            and last.end == cut.start
            and _through(last, skin_mm) == _through(cut, skin_mm)
        )
        if goes_on:
            runs[-1].append(cut)
        else:
            runs.append([cut])
    return runs


def _through(cut: Cut, skin_mm: float) -> bool:
    return cut.lowest_mm <= skin_mm


def _path(run: Sequence[Cut], skin_mm: float, frame: Frame, fine_mm: float) -> CutPath:
    points = np.array([run[0].start[:2], *(cut.end[:2] for cut in run)])
    kept = np.array(LineString(points).simplify(fine_mm).coords)
    grid = tuple((round(float(x), 2), round(float(y), 2)) for x, y in frame.to_grid(kept))
    tool = run[0].tool
    return CutPath(tool.number, tool.diameter_mm, _through(run[0], skin_mm), grid)
