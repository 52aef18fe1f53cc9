"""How the through-cuts part the blank: what comes free at which cut, and what still hangs together.

Part frame, mm.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kiosk.job.through import ThroughCut, ThroughCuts

_MOST_TRACED = 40  # more pieces, or kept ones, than this are told run by run, rather too early
_RUNS = 64  # of the program, each looked into only where it parts something


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part of the blank that must hold on its own cups against the cuts from ``begin`` on.

    One piece, or several that still hang together, with the offcuts round them: ``pieces``, by
    their indices.  ``shape``: as it is parted off, by ``line``.  ``begin``, ``last``: ``order``
    of cuts; ``last`` None: to the end of the program.
    """

    shape: Polygon
    pieces: tuple[int, ...]
    line: int
    begin: int
    last: int | None = None


@dataclass(frozen=True, slots=True)
class Freed:
    """The cut that makes a piece free; it counts as free from ``order`` on, never later."""

    line: int
    order: int


@dataclass(frozen=True, slots=True)
class Parting:
    """For each piece what frees it, None when nothing does; and the parts that hold several."""

    freed: tuple[Freed | None, ...]
    parts: tuple[Part, ...]


def parting(
    shapes: Sequence[Polygon], kept: Collection[int], blank: Polygon, through: ThroughCuts
) -> Parting:
    """A piece is free when it hangs together with no other.

    A part is told where it has some of the ``kept`` pieces but no longer all of those it had, from
    the cut after the one that parts it: up to there what is left of the web joins it to the rest.
    """
    if len(shapes) < 2:
        return Parting((None,) * len(shapes), ())
    tracing = _Tracing(shapes, kept, blank, through)
    step = -(-len(through.cuts) // _RUNS)
    for begin in range(0, len(through.cuts), step):
        tracing.go_on(begin, min(begin + step, len(through.cuts)))
    return Parting(tuple(tracing.freed), tuple(tracing.parts))


_Share = tuple[BaseGeometry, tuple[int, ...]]  # of what hung together, and the pieces in it


@dataclass(frozen=True, slots=True, eq=False)
class _Hanging:
    """What hangs together.  ``part``: its place among the parts told, None while that is none."""

    shape: BaseGeometry
    pieces: tuple[int, ...]
    part: int | None = None


class _Tracing:
    """The blank as the cuts so far have parted it: only what still holds several pieces.

    Cuts only ever part further: a piece that is alone stays so, and is left out from then on.
    """

    def __init__(
        self,
        shapes: Sequence[Polygon],
        kept: Collection[int],
        blank: Polygon,
        through: ThroughCuts,
    ) -> None:
        self.freed: list[Freed | None] = [None] * len(shapes)
        self.parts: list[Part] = []
        self._shapes = shapes
        self._kept = frozenset(kept)
        self._through = through
        every = frozenset(range(len(shapes)))
        exact = (some for some in (every, self._kept) if len(some) <= _MOST_TRACED)
        self._exact = next(exact, frozenset[int]())  # pieces traced cut by cut
        self._spots = [shape.representative_point() for shape in shapes]
        self._hanging = [_Hanging(blank, tuple(range(len(shapes))))]

    def go_on(self, begin: int, end: int) -> None:
        """Make the cuts from ``begin`` to before ``end``, one by one where they part something."""
        swept = self._through.swept(begin, end)
        met = [one for one in self._hanging if one.shape.intersects(swept)]
        parted = [(one, self._shares(one, swept)) for one in met]
        if end - begin > 1 and any(self._looked_into(shares) for _, shares in parted):
            middle = (begin + end) // 2
            self.go_on(begin, middle)
            self.go_on(middle, end)
            return
        self._hanging = [one for one in self._hanging if one not in met]
        first, last = self._through.cuts[begin], self._through.cuts[end - 1]
        for one, shares in parted:
            left = [self._left(one, share, first, last) for share in shares]
            self._hanging += [hanging for hanging in left if hanging is not None]
            self._close(one, shares, last)

    def _looked_into(self, shares: Sequence[_Share]) -> bool:
        return sum(not self._exact.isdisjoint(own) for _, own in shares) > 1

    def _shares(self, one: _Hanging, swept: BaseGeometry) -> list[_Share]:
        """What it falls into, and the pieces in each; a piece found in none of them is alone."""
        shares: list[_Share] = []
        left, waiting = one.shape.difference(swept), list(one.pieces)
        for share in getattr(left, "geoms", [left]):
            own = tuple(index for index in waiting if share.covers(self._spots[index]))
            waiting = [index for index in waiting if index not in own]
            if own:
                shares.append((share, own))
        return shares + [(self._spots[index], (index,)) for index in waiting]

    def _left(
        self, one: _Hanging, share: _Share, first: ThroughCut, last: ThroughCut
    ) -> _Hanging | None:
        """What hangs on as one of the shares; None for a piece that is alone."""
        shape, pieces = share
        if len(pieces) == 1:
            self.freed[pieces[0]] = self._free(pieces[0], first, last)
            return None
        kept = self._kept.intersection(pieces)
        if kept == self._kept.intersection(one.pieces):
            return _Hanging(shape, pieces, one.part)
        if not kept or not isinstance(shape, Polygon):
            return _Hanging(shape, pieces)
        begin = first.order + 1 if first is last else first.order
        self.parts.append(Part(shape, pieces, last.line, begin))
        return _Hanging(shape, pieces, len(self.parts) - 1)

    def _free(self, piece: int, first: ThroughCut, last: ThroughCut) -> Freed:
        """Of several cuts the last one along the piece gives the line."""
        if first is not last:
            last = self._through.last_along(self._shapes[piece]) or last
        return Freed(last.line, min(first.order, last.order))

    def _close(self, one: _Hanging, shares: Sequence[_Share], cut: ThroughCut) -> None:
        """A part ends with the cut after which none of its shares has several pieces and all the
        kept ones."""
        kept = self._kept.intersection(one.pieces)
        if one.part is None or any(len(own) > 1 and kept <= set(own) for _, own in shares):
            return
        self.parts[one.part] = replace(self.parts[one.part], last=cut.order)
