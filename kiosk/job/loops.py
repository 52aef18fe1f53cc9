"""Edges joined end to end into closed loops.

Ends within ``SAME_MM`` are one point: drawings are rounded to 0.01 mm or finer.  Two loose ends
within ``GAP_MM`` are joined by a straight line, or in their middle where that line would cross an
edge that runs on too far; the largest such gap is told.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
from shapely import Polygon, STRtree
from shapely import points as shapely_points

from kiosk.job.edges import Edge, place_words
from kiosk.job.job_file import Point
from kiosk.mistakes import BadInput, Mistake

SAME_MM = 0.0075
GAP_MM = 0.05
_ROUNDING_MM = 1e-6
_MOST_TOLD = 20
_LIKELY_GAP_MM = 10.0  # what is further apart may be a line that is no edge
_STRAY = "close it there, or take out what is no edge, or name the outline's layer"
_End = tuple[int, bool]  # number of the edge; True for its last point


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap that was closed."""

    width_mm: float
    at: Point


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed loop: points without the last one repeated, and the edges it was made of."""

    points: tuple[Point, ...]
    edges: tuple[Edge, ...]

    @property
    def area_mm2(self) -> float:
        """Shoelace formula, without sign."""
        x, y = np.array(self.points).T
        x, y = x - x[0], y - y[0]
        return abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2.0

    @property
    def words(self) -> str:
        more = len(self.edges) - 1
        return self.edges[0].words + (f" and {more} more" if more else "")


def join(name: str, edges: Sequence[Edge]) -> tuple[list[Loop], Gap | None]:
    """Loops, largest first, and the largest gap that was closed.

    Raises ``BadInput`` with every end that meets nothing, and every point where more than two
    edges meet.
    """
    loops, chains = [], []
    for edge in edges:
        if len(edge.points) > 3 and math.dist(edge.points[0], edge.points[-1]) <= SAME_MM:
            loops.append(Loop(edge.points[:-1], (edge,)))
        elif _longer(edge.points, SAME_MM):
            chains.append(edge)
    nodes = _Nodes(chains)
    gap = nodes.close_gaps()
    nodes.refuse(name)
    loops += nodes.loops()
    return sorted(loops, key=lambda loop: -loop.area_mm2), gap


def _longer(points: Sequence[Point], than_mm: float) -> bool:
    return sum(math.dist(a, b) for a, b in pairwise(points)) > than_mm


class _Nodes:
    """Where ends meet: nodes, each shared by exactly two ends of a sound drawing."""

    def __init__(self, chains: Sequence[Edge]) -> None:
        self.chains = chains
        self.spots: list[Point] = []
        self._cells: dict[tuple[int, int], list[int]] = {}
        self.of: dict[_End, int] = {}
        self.at: list[list[_End]] = []
        for index, chain in enumerate(chains):
            for last in (False, True):
                node = self._nearest(chain.points[-1] if last else chain.points[0])
                self.of[index, last] = node
                self.at[node].append((index, last))

    def _nearest(self, spot: Point) -> int:
        column, row = (math.floor(value / SAME_MM) for value in spot)
        around = [(column + i, row + j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        for node in (n for cell in around for n in self._cells.get(cell, ())):
            if math.dist(self.spots[node], spot) <= SAME_MM:
                return node
        self.spots.append(spot)
        self.at.append([])
        self._cells.setdefault((column, row), []).append(len(self.spots) - 1)
        return len(self.spots) - 1

    # -- gaps ------------------------------------------------------------------------------

    def loose(self) -> list[int]:
        return [node for node, touching in enumerate(self.at) if len(touching) == 1]

    def close_gaps(self) -> Gap | None:
        """Join pairs of loose ends, nearest first; the largest gap of them."""
        largest: Gap | None = None
        free = set(self.loose())
        for width, first, second in self._near_pairs(sorted(free)):
            if first in free and second in free:
                free -= {first, second}
                self._merge(first, second)
                if largest is None or width > largest.width_mm:
                    largest = Gap(width, self.spots[first])
        return largest

    def _near_pairs(self, loose: list[int]) -> list[tuple[float, int, int]]:
        if len(loose) < 2:
            return []
        spots = shapely_points(np.array([self.spots[node] for node in loose]))
        found = STRtree(spots).query(spots, predicate="dwithin", distance=GAP_MM + _ROUNDING_MM)
        pairs = {(int(a), int(b)) for a, b in found.T if a < b}
        return sorted(
            (math.dist(self.spots[loose[a]], self.spots[loose[b]]), loose[a], loose[b])
            for a, b in pairs
        )

    def _merge(self, first: int, second: int) -> None:
        for end in self.at[second]:
            self.of[end] = first
        self.at[first] += self.at[second]
        self.at[second] = []

    # -- refusals --------------------------------------------------------------------------

    def refuse(self, name: str) -> None:
        texts = [*self._open_words(), *self._branch_words()]
        if texts:
            raise BadInput([Mistake(name, None, text) for text in texts[:_MOST_TOLD]])

    def _open_words(self) -> list[str]:
        """One text for each gap: pairs of ends that are nearest to one another are told once."""
        loose = self.loose()[: 4 * _MOST_TOLD]
        near = {node: self._next_to(node, loose) for node in loose}
        texts = []
        for node in loose:
            other = near[node]
            if other is not None and near[other] == node and other < node:
                continue  # told from the other side
            edge = self._edge_at(node).words
            away, width = "", math.inf
            if other is not None:
                width = math.dist(self.spots[node], self.spots[other])
                there = place_words(self.spots[other])
                away = f", {width:.3f} mm from the next loose end at {there}"
            here = place_words(self.spots[node])
            mend = "close the gap there" if width <= _LIKELY_GAP_MM else _STRAY
            texts.append(f"the outline is open at {here} ({edge}){away}: {mend}")
        return texts

    def _next_to(self, node: int, loose: list[int]) -> int | None:
        others = (other for other in loose if other != node)
        return min(others, key=lambda o: math.dist(self.spots[o], self.spots[node]), default=None)

    def _branch_words(self) -> list[str]:
        return [
            f"{len(touching)} lines meet at {place_words(spot)} ({self._edge_at(node).words} and "
            "others): draw single loops, each line once, or name the outline's layer"
            for node, (spot, touching) in enumerate(zip(self.spots, self.at, strict=True))
            if len(touching) > 2
        ]

    def _edge_at(self, node: int) -> Edge:
        return self.chains[self.at[node][0][0]]

    # -- walking ---------------------------------------------------------------------------

    def loops(self) -> list[Loop]:
        """Every chain belongs to exactly one loop: two ends meet at each node."""
        free = dict.fromkeys(range(len(self.chains)))
        found = []
        while free:
            index, last = next(iter(free)), True
            start = self.of[index, False]
            runs: list[tuple[Point, ...]] = []
            edges: list[Edge] = []
            while True:
                free.pop(index)
                edges.append(self.chains[index])
                runs.append(edges[-1].points if last else edges[-1].points[::-1])
                node = self.of[index, last]
                if node == start:
                    break
                index, at_end = next(end for end in self.at[node] if end[0] in free)
                last = not at_end
            found.append(Loop(_joined(runs), tuple(edges)))
        return found


def _joined(runs: Sequence[tuple[Point, ...]]) -> tuple[Point, ...]:
    """The points of edges end to end, the last one not repeated."""
    points: list[Point] = []
    for run in runs:
        points += run[1:] if points and _one_point(points[-1], run[0]) else run
    if _one_point(points[0], points[-1]):
        points.pop()
    ends = [(run[-1], after[0]) for run, after in zip(runs, [*runs[1:], runs[0]], strict=True)]
    if all(_one_point(*end) for end in ends) or _sound(points):
        return tuple(points)
    met: list[Point] = []
    for run, (a, b) in zip(runs, ends, strict=True):
        met += [*run[1:-1], ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0)]
    return tuple(met if _sound(met) else points)


def _one_point(first: Point, second: Point) -> bool:
    return math.dist(first, second) <= SAME_MM


def _sound(points: Sequence[Point]) -> bool:
    return len(points) > 2 and Polygon(points).is_valid


def crossing_edges(loop: Loop, at: Point) -> str:
    """Words for the edges of a loop that pass a point."""
    from shapely import LineString
    from shapely import Point as ShapelyPoint

    spot = ShapelyPoint(at)
    near = [e.words for e in loop.edges if LineString(e.points).distance(spot) <= GAP_MM]
    return " and ".join(dict.fromkeys(near[:2])) or loop.words


def equal_pair(loops: Sequence[Loop], share: float) -> tuple[Loop, Loop] | None:
    """The two largest loops when their areas differ by no more than a share."""
    for first, second in combinations(loops[:2], 2):
        if second.area_mm2 >= (1.0 - share) * first.area_mm2:
            return first, second
    return None
