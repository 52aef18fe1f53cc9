"""Edges of an SVG drawing, in mm, y turned up: the lower left corner of the page is the origin.

Lengths with a unit are physical; a CSS pixel is 1/96 inch (CSS Values and Units 3, clause 5.2).
A page without a physical width is taken in such pixels, and that is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from kiosk.job.curves import bezier_points, chords_of
from kiosk.job.edges import MOST_EDGES, Drawing, Edge, bad_drawing, bounded
from kiosk.job.job_file import Point
from kiosk.mistakes import BadInput
from kiosk.toml_lines.source import content_of

_LARGEST_BYTES = 32 * 1024 * 1024
_PIXELS_PER_INCH = 96.0
_MM = 25.4 / _PIXELS_PER_INCH
_LENGTH = re.compile(r"\s*([0-9.]+(?:e[+-]?[0-9]+)?)\s*(mm|cm|in|pt|pc|q|px|)\s*", re.IGNORECASE)
_UNIT_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72.0, "pc": 25.4 / 6.0, "q": 0.25,
            "px": _MM, "": _MM}  # fmt: skip
_NUMBER = re.compile(r"[0-9.eE+-]+")
_XLINK = "{http://www.w3.org/1999/xlink}href"
_BESIDE = {"text", "tspan", "image", "title", "desc"}
# Never drawn where they stand: SVG 1.1, clauses 11.6.2, 13.3, 14.3.5 and 14.4.
_UNSEEN = {"marker", "pattern", "clipPath", "mask"}


def read_svg(path: Path) -> Drawing:
    """Every path and shape of the picture.  Raises ``BadInput`` for what is no SVG."""
    import svgelements  # only drawings need it

    name = path.name
    content = content_of(path, name, _LARGEST_BYTES)
    root = _root(name, content)
    try:
        _refuse_growth(name, root)
        page = _page(root)
        _leave_out_unseen(root)
        for key, length in zip(("width", "height"), page.size, strict=True):
            root.set(key, repr(length / _MM))  # in pixels: the library rounds other units
        source = BytesIO(ElementTree.tostring(root))
        picture = svgelements.SVG.parse(source, reify=True, ppi=_PIXELS_PER_INCH)
        found = bounded(name, _edges(picture, page.top_mm))
    except BadInput:
        raise
    except Exception as trouble:  # on damaged files the library raises whatever it trips over
        words = str(trouble).splitlines()[0][:80] if str(trouble) else "damaged"
        raise bad_drawing(
            name, f"is no SVG drawing that can be read ({words}): save it again as SVG"
        ) from None
    unit = "" if page.physical else "pixels of 1/96 inch"
    tags = {_name(element) for element in root.iter()}
    names = tuple(i for element in root.iter() if (i := element.get("id")))
    return Drawing(found, content, unit, names, tuple(sorted(tags & _BESIDE)))


def _root(name: str, content: bytes) -> ElementTree.Element:
    try:
        root = ElementTree.fromstring(content)
    except ElementTree.ParseError as trouble:
        text = f"is no SVG drawing that can be read ({trouble}): save it again as SVG"
        raise bad_drawing(name, text) from None
    if _name(root) != "svg":
        raise bad_drawing(name, f"is XML but no SVG (<{root.tag[:40]}>): save it as SVG")
    return root


def _refuse_growth(name: str, root: ElementTree.Element) -> None:
    """A use of a use of a use makes many of few: counted before the library makes them."""
    known = {element.get("id"): element for element in root.iter() if element.get("id")}
    sizes: dict[ElementTree.Element, int] = {}

    def size_of(element: ElementTree.Element) -> int:
        if element not in sizes:
            sizes[element] = MOST_EDGES + 1  # as long as it is not known: met again, it is a ring
            inner = sum(size_of(child) for child in element)
            link = element.get(_XLINK) or element.get("href") or ""
            used = known.get(link[1:]) if element.tag.endswith("use") else None
            sizes[element] = 1 + inner + (0 if used is None else size_of(used))
        return sizes[element]

    if size_of(root) > MOST_EDGES:
        raise bad_drawing(name, "uses parts of itself without end: draw the outline alone")


def _leave_out_unseen(root: ElementTree.Element) -> None:
    for parent in list(root.iter()):
        for child in list(parent):
            if _name(child) in _UNSEEN:
                parent.remove(child)


def _name(element: ElementTree.Element) -> str:
    return str(element.tag).rsplit("}", maxsplit=1)[-1]


@dataclass(frozen=True, slots=True)
class _Page:
    """The page of a picture.  ``top_mm``: its height; 0 where there is no page to turn."""

    size: tuple[float, float]  # mm
    top_mm: float
    physical: bool


def _page(root: ElementTree.Element) -> _Page:
    """SVG 1.1, clause 7: a length that is left out follows from the other and the viewBox."""
    width, height = (_LENGTH.fullmatch(root.get(key) or "") for key in ("width", "height"))
    box = [float(n) for n in _NUMBER.findall(root.get("viewBox") or "")]
    ratio = box[3] / box[2] if len(box) == 4 and box[2] > 0.0 and box[3] > 0.0 else None
    across, up = (None if m is None else _length_mm(m) for m in (width, height))
    if ratio is not None:
        across = across or (up / ratio if up else box[2] * _MM)
        up = up or across * ratio
    physical = any(m is not None and m.group(2).lower() not in ("", "px") for m in (width, height))
    return _Page((across or 100.0 * _MM, up or 100.0 * _MM), up or 0.0, physical)


def _length_mm(found: re.Match[str]) -> float:
    return float(found.group(1)) * _UNIT_MM[found.group(2).lower()]


def _edges(picture: Any, height_mm: float) -> Iterator[Edge]:
    for shape, ids in _shapes(picture, ()):
        yield from _edges_of(shape, ids, height_mm)


def _shapes(group: Any, ids: tuple[str, ...]) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """Shapes with the ids of the groups around them, and their own."""
    import svgelements

    for element in group:
        own = (*ids, str(element.id)) if getattr(element, "id", None) else ids
        if isinstance(element, list) and not isinstance(element, svgelements.Shape):
            yield from _shapes(element, own)
        elif isinstance(element, svgelements.Shape):
            yield element, own


def _edges_of(shape: Any, ids: tuple[str, ...], height_mm: float) -> Iterator[Edge]:
    import svgelements

    values = shape.values
    tag = str(values.get("tag", "path"))
    named = f'{tag} id "{shape.id}"' if shape.id else f"a {tag} without an id"
    layers = frozenset(i.lower() for i in ids)
    hidden = values.get("display") == "none" or values.get("visibility") == "hidden"
    for part in abs(svgelements.Path(shape)).as_subpaths():
        points = _points(svgelements.Path(part), height_mm)
        if len(points) > 1:
            yield Edge(tuple(points), named, layers, not hidden)


def _points(path: Any, height_mm: float) -> list[Point]:
    points: list[Point] = []
    for segment in path:
        run = [(x * _MM, height_mm - y * _MM) for x, y in _pixels(segment)]
        points += run[1:] if points else run
    return points


def _pixels(segment: Any) -> list[Point]:
    """Points of one segment in page pixels; chords are reckoned in mm."""
    import svgelements

    if isinstance(segment, svgelements.Move) or segment.start is None or segment.end is None:
        return []
    if isinstance(segment, svgelements.Arc):
        return _arc_pixels(segment)
    poles = [segment.start]
    if isinstance(segment, svgelements.CubicBezier):
        poles += [segment.control1, segment.control2]
    elif isinstance(segment, svgelements.QuadraticBezier):
        poles += [segment.control]
    poles.append(segment.end)
    flat = [(float(p.x), float(p.y)) for p in poles]
    if len(flat) == 2:
        return flat
    curve = bezier_points([(x * _MM, y * _MM) for x, y in flat])
    return [(x / _MM, y / _MM) for x, y in curve]


def _arc_pixels(arc: Any) -> list[Point]:
    """|c''| of an elliptical arc in its parameter is at most the greater half axis."""
    count = max(8, chords_of(max(arc.rx, arc.ry) * _MM, abs(float(arc.sweep))))
    spots = [arc.point(step / count) for step in range(count + 1)]
    return [(float(spot.x), float(spot.y)) for spot in spots]
