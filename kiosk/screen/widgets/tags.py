"""Where a word goes beside a thing on the map without covering what is there.  Plain geometry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

Box = tuple[float, float, float, float]  # left, bottom, right, top
Point = tuple[float, float]
_STEPS = 12  # places tried along each side
_AWAY = [0.15 + 0.1 * step for step in range(45)]  # how far off, in heights of the word


def beside(
    thing: Box,
    size: tuple[float, float],
    room: Box,
    taken: Iterable[Box],
    crossed: Iterable[Box] = (),
) -> Box:
    """A box of ``size`` next to ``thing``, inside ``room``, on nothing that is taken.

    Its ``leader`` crosses nothing of ``crossed``.  Where every place is taken: the one right
    above the thing, or below it at the upper edge.
    """
    others, below = list(taken), list(crossed)
    inside = [place for place in _places(thing, size) if _within(place, room)]
    free = [place for place in inside if not _meets(place, others)]
    clear = (place for place in free if not _meets(_box_of(leader(thing, place)), below))
    return next(clear, next(iter([*free, *inside]), next(_places(thing, size))))


def leader(thing: Box, place: Box) -> tuple[Point, Point]:
    """The line from a word's place to the thing it names, straight up or across where it can be."""
    end = _nearest(((place[0] + place[2]) / 2.0, (place[1] + place[3]) / 2.0), thing)
    return _nearest(end, place), end


def _nearest(to: Point, of: Box) -> Point:
    return min(max(to[0], of[0]), of[2]), min(max(to[1], of[1]), of[3])


def _box_of(line: tuple[Point, Point]) -> Box:
    (x0, y0), (x1, y1) = line
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def _meets(box: Box, others: list[Box]) -> bool:
    return any(_meet(box, other) for other in others)


def _places(thing: Box, size: tuple[float, float]) -> Iterator[Box]:
    """Above, below, left, right of it, from the middle outwards; then a step further away."""
    (left, bottom, right, top), (wide, tall) = thing, size
    for away in _AWAY:
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
