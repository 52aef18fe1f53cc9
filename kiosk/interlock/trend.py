"""Where the vacuum is going: its slope over the last ten seconds, how sure that is, and whether
the fall ends by itself.

Every second becomes one point, the median of its samples, so that a valve that chatters or a wild
sample moves nothing.  The slope is the median of the slopes of all pairs of points, and its bounds
are those between which it lies with 99 %, from the ranks of the pairs (P. K. Sen, J. Am. Stat.
Assoc. 63 (1968) 1379-1389).  A single step between two level stretches has a bound of zero.

A fall ends by itself in two ways that are part of good cutting.  A cutter that goes through lets
the pump find a new balance: the fall dies away like that of any first-order system, and where it
ends follows from two slopes and the time between them.  A pump that is shut off when full comes on
again: the level from which the hold came back is remembered for a while.

The numbers below are chosen by the curves of docs/early-warning.md.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from math import exp, inf, log, sqrt
from statistics import median

Mark = tuple[float, float]  # monotonic s, vacuum kPa

POINT_S, POINTS, LEAST_POINTS = 1.0, 10, 4
GAP_S = 2.0  # without a value: what was before says nothing of the slope now
NORMAL_99 = 2.576  # standard normal deviation of a two-sided 99 %
STILL_KPA_PER_S = 0.01  # a fall slower than this gives no time left
TURN_KPA = 1.5  # a rise that says the hold came back
TURN_SHARE = 0.5  # of the level before it; deeper it was a part being taken off
TURN_S = 900.0  # for so long the level counts at which it came back
AS_LOW_KPA = 0.5  # above the lowest level known: counts as that level again
BELOW_TURN_KPA = 1.0  # a fall this far under that level is another one
NEAR_POINTS = 3  # apart: the slope of a moment
# A moment's slope counts as the present fall when it is so much steeper than the likely one: above
# what noise makes of it (0.3 kPa, a median of ten samples), our own choice.
BEGAN_KPA_PER_S = 0.25
# A fall that dies away within this share of what is left above the minimum ends in time: judged
# by its two halves, and by its steepest and its newest moment.
HALVES_SHARE, MOMENTS_SHARE = 0.7, 0.5


@dataclass(frozen=True, slots=True)
class Slope:
    """kPa/s: the likely one and its bounds, the steepest fall lowest.

    ``halves_kpa`` and ``moments_kpa``: how much further it falls if it dies away, by the two
    halves and by the steepest and the newest moment; infinite when it does not die away.
    ``newest``: that of the newest moment; infinite when it is not known.
    """

    likely: float
    lowest: float
    highest: float
    halves_kpa: float
    moments_kpa: float
    newest: float = inf

    @property
    def present(self) -> float:
        """To show, not to judge: the likely one, or the newest when a fall has only just begun."""
        began = self.newest <= self.likely - BEGAN_KPA_PER_S
        return self.newest if began else self.likely


@dataclass(frozen=True, slots=True)
class Turn:
    """Where the hold last came back.  ``edge_kpa``: the highest or lowest since it turned."""

    falling: bool = False
    edge_kpa: float = 0.0
    before_kpa: float = 0.0  # the highest before this fall
    low_kpa: float | None = None
    at_s: float = -inf


@dataclass(frozen=True, slots=True)
class Trend:
    """Memory of one gauge's trend."""

    second: tuple[Mark, ...] = ()  # samples of the second that runs
    points: tuple[Mark, ...] = ()
    slope: Slope | None = None
    turn: Turn = Turn()


def grow(trend: Trend, mark: Mark) -> Trend:
    """The trend after one more sample."""
    second = trend.second
    if second and mark[0] - second[-1][0] > GAP_S:
        return Trend(second=(mark,), turn=trend.turn)
    if not second or mark[0] - second[0][0] < POINT_S - 1e-6:
        return replace(trend, second=(*second, mark))
    point = ((second[0][0] + second[-1][0]) / 2.0, median(kpa for _, kpa in second))
    points = (*trend.points, point)[-POINTS:]
    return Trend((mark,), points, slope_of(points), _turned(trend.turn, point))


def slope_of(points: tuple[Mark, ...]) -> Slope | None:
    """The slope of points in the order of their times; None for too few."""
    count = len(points)
    if count < LEAST_POINTS:
        return None
    slopes = _slopes(points)
    pairs, wide = len(slopes), NORMAL_99 * sqrt(count * (count - 1) * (2 * count + 5) / 18.0)
    lowest = max(round((pairs - wide) / 2.0) - 1, 0)
    highest = min(round((pairs + wide) / 2.0), pairs - 1)
    newest = _between(points[-1 - NEAR_POINTS], points[-1])
    return Slope(
        median(slopes), slopes[lowest], slopes[highest],
        _by_halves(points), _by_moments(points), newest,
    )  # fmt: skip


def _by_halves(points: tuple[Mark, ...]) -> float:
    half = len(points) // 2
    older, newer = points[:half], points[-half:]
    apart_s, ahead_s = newer[0][0] - older[0][0], (newer[-1][0] - newer[0][0]) / 2.0
    return _still_falls_kpa(median(_slopes(older)), median(_slopes(newer)), apart_s, ahead_s)


def _by_moments(points: tuple[Mark, ...]) -> float:
    """By the slopes between points that are NEAR_POINTS apart."""
    pairs = list(zip(points, points[NEAR_POINTS:], strict=False))
    slopes = [_between(*pair) for pair in pairs]
    steepest = slopes.index(min(slopes))
    apart_s = pairs[-1][0][0] - pairs[steepest][0][0]
    ahead_s = (pairs[-1][1][0] - pairs[-1][0][0]) / 2.0
    return _still_falls_kpa(slopes[steepest], slopes[-1], apart_s, ahead_s)


def _still_falls_kpa(early: float, late: float, apart_s: float, ahead_s: float) -> float:
    """How much further a fall goes that slows down from one slope to another, as first order.

    apart_s  between the two slopes; ahead_s  from the later one to now
    """
    if late >= 0.0:
        return 0.0
    if late <= early:
        return inf
    time_constant_s = apart_s / -log(max(late / early, 1e-9))
    return -late * exp(-ahead_s / time_constant_s) * time_constant_s


def _between(early: Mark, late: Mark) -> float:
    return (late[1] - early[1]) / (late[0] - early[0])


def _slopes(points: tuple[Mark, ...]) -> list[float]:
    return sorted(_between(early, late) for early, late in combinations(points, 2))


def _turned(turn: Turn, point: Mark) -> Turn:
    """Follow falls and rises of more than TURN_KPA."""
    kpa = point[1]
    if turn.falling:
        if kpa < turn.edge_kpa:
            return replace(turn, edge_kpa=kpa)
        if kpa <= turn.edge_kpa + TURN_KPA:
            return turn
        back = turn.edge_kpa > TURN_SHARE * turn.before_kpa
        return _came_back(turn, point) if back else replace(turn, falling=False, edge_kpa=kpa)
    if kpa > turn.edge_kpa:
        return replace(turn, edge_kpa=kpa)
    if kpa < turn.edge_kpa - TURN_KPA:
        return replace(turn, falling=True, edge_kpa=kpa, before_kpa=turn.edge_kpa)
    return turn


def _came_back(turn: Turn, point: Mark) -> Turn:
    """A higher turn than the one known leaves that one standing until it is old."""
    at_s, kpa = point
    known_kpa = turn.low_kpa if at_s - turn.at_s <= TURN_S else None
    if known_kpa is None or turn.edge_kpa <= known_kpa + AS_LOW_KPA:
        return Turn(False, kpa, low_kpa=turn.edge_kpa, at_s=at_s)
    return replace(turn, falling=False, edge_kpa=kpa)


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """Seconds until the minimum; None: not reached.

    ``soonest_s`` and ``latest_s`` bound the likely one with 99 %; there is no latest time while
    the fall may be none or may end by itself.  ``present_s`` is the one to show: sooner than the
    likely one while a fall has only just begun.
    """

    soonest_s: float | None = None
    likely_s: float | None = None
    latest_s: float | None = None
    present_s: float | None = None


NEVER = TimeLeft()


def time_left(
    slope: Slope | None, vacuum_kpa: float, needs_kpa: float, back_kpa: float | None
) -> TimeLeft:
    """The time left until ``needs_kpa``.  ``back_kpa``: from there the hold came back before."""
    above_kpa = vacuum_kpa - needs_kpa
    if above_kpa <= 0.0:
        return TimeLeft(0.0, 0.0, 0.0, 0.0)
    if slope is None:
        return NEVER
    before = back_kpa is not None and vacuum_kpa > back_kpa - BELOW_TURN_KPA
    ends = before or _ends_above(slope, above_kpa)
    return TimeLeft(
        _used_up_s(above_kpa, slope.lowest),
        _used_up_s(above_kpa, slope.likely),
        None if ends else _used_up_s(above_kpa, slope.highest),
        _used_up_s(above_kpa, slope.present),
    )


def _used_up_s(above_kpa: float, slope_kpa_per_s: float) -> float | None:
    return above_kpa / -slope_kpa_per_s if slope_kpa_per_s <= -STILL_KPA_PER_S else None


def _ends_above(slope: Slope, above_kpa: float) -> bool:
    """Whether the fall dies away well before ``above_kpa`` is used up."""
    by_halves = slope.halves_kpa < HALVES_SHARE * above_kpa
    return by_halves or slope.moments_kpa < MOMENTS_SHARE * above_kpa


def came_back_from(trend: Trend, now_s: float, above_kpa: float) -> float | None:
    """From where the hold came back not long ago, if not below ``above_kpa``; None when not."""
    low_kpa = trend.turn.low_kpa
    if low_kpa is None or low_kpa < above_kpa or now_s - trend.turn.at_s > TURN_S:
        return None
    return low_kpa
