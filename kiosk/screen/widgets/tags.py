"""Where a word goes beside a thing on the map without covering what is there.  Plain geometry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

Box = tuple[float, float, float, float]  # left, bottom, right, top
_STEPS = 12  # places tried along each side


def beside(thing: Box, size: tuple[float, float], room: Box, taken: Iterable[Box]) -> Box:
    """A box of ``size`` next to ``thing``, inside ``room``, on nothing that is taken.

    Where every place is taken: the one right above the thing, or below it at the upper edge.
    """
    others = list(taken)
    places = list(_places(thing, size))
    for place in places:
        if _within(place, room) and not any(_meet(place, other) for other in others):
            return place
    inside = [place for place in places if _within(place, room)]
    return inside[0] if inside else places[0]


def _places(thing: Box, size: tuple[float, float]) -> Iterator[Box]:
    """Above, below, left, right of it, from the middle outwards; then a step further away."""
    (left, bottom, right, top), (wide, tall) = thing, size
    for away in (0.15, 0.8, 1.6):
        gap = tall * away
        for slip in _outwards(max(right - left, wide)):
            x = (left + right - wide) / 2.0 + slip
            yield x, top + gap, x + wide, top + gap + tall
            yield x, bottom - gap - tall, x + wide, bottom - gap
        for slip in _outwards(max(top - bottom, tall)):
            y = (bottom + top - tall) / 2.0 + slip
            yield left - gap - wide, y, left - gap, y + tall
            yield right + gap, y, right + gap + wide, y + tall


def _outwards(length: float) -> Iterator[float]:
    yield 0.0
    for step in range(1, _STEPS // 2 + 1):
        yield step * length / _STEPS
        yield -step * length / _STEPS


def _within(box: Box, room: Box) -> bool:
    low = box[0] >= room[0] and box[1] >= room[1]
    return low and box[2] <= room[2] and box[3] <= room[3]


def _meet(one: Box, other: Box) -> bool:
    wide = one[0] < other[2] and other[0] < one[2]
    return wide and one[1] < other[3] and other[1] < one[3]
