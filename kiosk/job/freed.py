"""Which through-cut makes each piece of the blank free.  Part frame, mm."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kiosk.job.through import ThroughCut, ThroughCuts

_MOST_TRACED = 40  # more pieces than this are told by the last cut along them
_RUNS = 64  # of the program, looked through one by one


def freed_by(
    shapes: Sequence[Polygon], blank: Polygon, through: ThroughCuts
) -> list[ThroughCut | None]:
    """For each piece, the through-cut that makes it free; None when none does.

    That is the first one after which a piece hangs together with no other.
    """
    if len(shapes) < 2:
        return [None] * len(shapes)
    if len(shapes) > _MOST_TRACED:
        return [through.last_along(shape) for shape in shapes]
    tracing, found = _Tracing(shapes, blank, through), [len(through.cuts)] * len(shapes)
    step = -(-len(through.cuts) // _RUNS)
    for begin in range(0, len(through.cuts), step):
        for index, count in tracing.go_on(begin, min(begin + step, len(through.cuts))).items():
            found[index] = count
    return [through.cuts[count - 1] for count in found]


class _Tracing:
    """The blank as the cuts so far have parted it: only parts in which pieces still hang together.

    Cuts only ever part further: a piece that is alone stays so, and is left out from then on.
    """

    def __init__(self, shapes: Sequence[Polygon], blank: Polygon, through: ThroughCuts) -> None:
        self._through = through
        self._spots = [shape.representative_point() for shape in shapes]
        self._parts: list[tuple[BaseGeometry, list[int]]] = [(blank, list(range(len(shapes))))]

    def go_on(self, begin: int, end: int) -> dict[int, int]:
        """Make the cuts from ``begin`` to before ``end``: how many it takes to free each piece."""
        swept = self._through.swept(begin, end)
        met = [part for part in self._parts if part[0].intersects(swept)]
        rest = [part for part in self._parts if not part[0].intersects(swept)]
        parted = self._parted(met, swept)
        known: dict[int, set[int]] = {}

        def alone(count: int) -> set[int]:
            if count not in known:
                now = self._parted(met, self._through.swept(begin, count))
                known[count] = {mates[0] for _, mates in now if len(mates) == 1}
            return known[count]

        free = [mates[0] for _, mates in parted if len(mates) == 1]
        self._parts = rest + [part for part in parted if len(part[1]) > 1]
        return {index: _first(index, begin, end, alone) for index in free}

    def _parted(
        self, parts: Sequence[tuple[BaseGeometry, list[int]]], swept: BaseGeometry
    ) -> list[tuple[BaseGeometry, list[int]]]:
        """The parts without what is swept; a piece found in none of them is alone."""
        return [found for part, mates in parts for found in self._shares(part, mates, swept)]

    def _shares(
        self, part: BaseGeometry, mates: Sequence[int], swept: BaseGeometry
    ) -> list[tuple[BaseGeometry, list[int]]]:
        shares: list[tuple[BaseGeometry, list[int]]] = []
        left, waiting = part.difference(swept), list(mates)
        for share in getattr(left, "geoms", [left]):
            own = [index for index in waiting if share.covers(self._spots[index])]
            waiting = [index for index in waiting if index not in own]
            if own:
                shares.append((share, own))
        return shares + [(self._spots[index], [index]) for index in waiting]


def _first(index: int, low: int, high: int, alone: Callable[[int], set[int]]) -> int:
    """The least count of cuts after which a piece is alone: above ``low``, at most ``high``."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if index in alone(middle) else (middle, high)
    return high
