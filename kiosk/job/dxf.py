"""Edges of a DXF drawing, model space, in mm: releases R12 to R2018, as text or binary.

Blocks are taken apart where they are inserted, with their scale, turn and mirror.  What is not
flat, or is no curve, is handed over with the reason, so that it is refused only when it counts.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kiosk.job.curves import CHORD_MM, arc_points, bulged, chords_of, flattened
from kiosk.job.edges import MOST_EDGES, Drawing, Edge, bad_drawing, bounded, place_words
from kiosk.job.job_file import Point
from kiosk.mistakes import BadInput
from kiosk.toml_lines.source import content_of

# A damaged file is told in one line of ours; the library's own lines on stderr would mix with it.
logging.getLogger("ezdxf").setLevel(logging.CRITICAL)

_LARGEST_BYTES = 64 * 1024 * 1024
_FLAT_MM = 0.01  # heights that differ by less are rounding
# $INSUNITS, DXF reference.  21 and 22: US survey foot and inch, 1200/3937 m (NIST SP 811, B.6).
_UNITS_MM = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 9: 0.0254, 10: 914.4, 13: 0.001,
             14: 100.0, 21: 1200e3 / 3937.0, 22: 100e3 / 3937.0}  # fmt: skip
_DEEPEST = 16  # blocks in blocks
_BESIDE = {"TEXT", "MTEXT", "DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "POINT",
           "LEADER", "MULTILEADER", "ATTDEF", "ATTRIB", "VIEWPORT", "HATCH", "MPOLYGON", "XLINE",
           "RAY", "TOLERANCE", "ACAD_TABLE", "IMAGE", "WIPEOUT", "SOLID", "TRACE", "SHAPE",
           "OLE2FRAME", "SEQEND"}  # fmt: skip
_SOLIDS = {"3DFACE", "3DSOLID", "BODY", "REGION", "SURFACE", "MESH", "EXTRUDEDSURFACE",
           "LOFTEDSURFACE", "REVOLVEDSURFACE", "SWEPTSURFACE", "PLANESURFACE"}  # fmt: skip
_FLATTEN = "draw it flat, in the XY plane"
_Point3 = tuple[float, float, float]


def read_dxf(path: Path) -> Drawing:
    """Every curve of the model space.  Raises ``BadInput`` for what is no DXF."""
    import ezdxf  # slow to import, and only drawings need it

    name = path.name
    try:
        content = content_of(path, name, _LARGEST_BYTES)
        if content[:4] == b"AC10":
            raise bad_drawing(name, "is a DWG drawing: save it as DXF")
        drawing = ezdxf.readfile(path)
        scale, assumed = _scale(name, drawing)
        reader = _Reader(name, drawing, scale)
        edges = bounded(name, reader.edges())
    except BadInput:
        raise
    except OSError as trouble:
        reason = trouble.strerror or "not a DXF file"
        raise bad_drawing(name, f"cannot be read ({reason}): save the drawing again") from None
    except Exception as trouble:  # on damaged files the library raises whatever it trips over
        words = str(trouble).splitlines()[0][:80] if str(trouble) else "damaged"
        text = f"is no DXF drawing that can be read ({words}): save it again as DXF"
        raise bad_drawing(name, text) from None
    layers = tuple(str(layer.dxf.name) for layer in drawing.layers)
    words = "millimetres" if assumed else ""
    return Drawing(edges, content, words, layers, tuple(sorted(reader.beside)))


def _scale(name: str, drawing: Any) -> tuple[float, bool]:
    """mm per drawing unit from $INSUNITS (DXF reference, header variables); 0 is taken as mm."""
    code = int(drawing.header.get("$INSUNITS", 0))
    if code == 0:
        return 1.0, True
    if code not in _UNITS_MM:
        text = f"has the unknown unit {code} in $INSUNITS: save it in mm"
        raise bad_drawing(name, text)
    return _UNITS_MM[code], False


@dataclass(slots=True)
class _Reader:
    name: str
    drawing: Any
    scale: float
    beside: set[str] = field(default_factory=set)
    met: int = 0  # entities and inserts so far

    @property
    def handles(self) -> bool:
        """False when the file has none: R12 may leave them out; the library makes up its own."""
        header = self.drawing.header
        return not (self.drawing.dxfversion == "AC1009" and not header.get("$HANDLING", 0))

    def edges(self) -> Iterator[Edge]:
        for entity, layers in self._entities(self.drawing.modelspace(), (), 0):
            edge = self._edge(entity, layers)
            if edge is not None:
                yield edge

    def _entities(
        self, entities: Any, around: tuple[str, ...], depth: int
    ) -> Iterator[tuple[Any, tuple[str, ...]]]:
        """Entities with blocks taken apart; layer "0" in a block is the layer of its insert."""
        for entity in entities:
            self._count()
            own = str(entity.dxf.get("layer", "0"))
            layers = around if own == "0" and around else (own, *around)
            if entity.dxftype() != "INSERT":
                yield entity, layers
            elif depth < _DEEPEST and self._block_known(entity):
                self._count(entity.mcount)  # an empty block counts, however often it is inserted
                for insert in _each_insert(entity):
                    left: list[Any] = []
                    inside = insert.virtual_entities(
                        skipped_entity_callback=lambda lost, _why, left=left: left.append(lost)
                    )
                    yield from self._entities(inside, layers, depth + 1)
                    yield from ((lost, layers) for lost in left)
            else:
                yield entity, layers

    def _count(self, more: int = 1) -> None:
        self.met += more
        if self.met > MOST_EDGES:
            text = f"has more than {MOST_EDGES} edges: draw the outline alone"
            raise bad_drawing(self.name, text)

    def _block_known(self, insert: Any) -> bool:
        return insert.dxf.name in self.drawing.blocks

    # -- one entity ------------------------------------------------------------------------

    def _edge(self, entity: Any, layers: tuple[str, ...]) -> Edge | None:
        kind = entity.dxftype()
        if kind in _BESIDE:
            self.beside.add(kind)
            return None
        spots, trouble = self._spots(entity, kind)
        words = _words(entity, kind, layers[0], self.handles)
        names = frozenset(layer.lower() for layer in layers)
        shown = not bool(entity.dxf.get("invisible", 0)) and all(map(self._layer_shown, layers))
        points = tuple((x * self.scale, y * self.scale) for x, y, _ in spots)
        if not trouble and len(points) < 2:
            return None
        return Edge(points, words, names, shown, trouble)

    def _layer_shown(self, name: str) -> bool:
        if name not in self.drawing.layers:
            return True
        layer = self.drawing.layers.get(name)
        return not (layer.is_off() or layer.is_frozen())

    def _spots(self, entity: Any, kind: str) -> tuple[list[_Point3], str]:
        """Points in drawing units, and why it cannot be an edge."""
        if kind in _SOLIDS:
            return [], self._at(_first_place(entity)) + "is a 3D body: draw its outline as lines"
        if kind == "INSERT":
            block = entity.dxf.name
            why = "is nested too deep" if self._block_known(entity) else "is not in the drawing"
            return [], f'inserts the block "{block}", which {why}: explode it and save again'
        shape = _shape_of(entity, kind, self.scale)
        if shape is None:
            mend = "draw lines, arcs, circles, polylines, ellipses or splines"
            return [], f"cannot be an edge: {mend}"
        if any(not math.isfinite(value) for spot in shape for value in spot):
            return [], "has a place that is no number: draw it again"
        heights = [z * self.scale for _, _, z in shape]
        if heights and max(heights) - min(heights) > _FLAT_MM:
            return shape, self._at(shape[0]) + f"is not flat: {_FLATTEN}"
        return shape, ""

    def _at(self, spot: _Point3 | None) -> str:
        if spot is None:
            return ""
        return f"at {place_words((spot[0] * self.scale, spot[1] * self.scale))} "


def _each_insert(insert: Any) -> Iterator[Any]:
    """A block inserted in rows and columns, one by one."""
    if insert.mcount > 1:
        yield from insert.multi_insert()
    else:
        yield insert


def _words(entity: Any, kind: str, layer: str, handles: bool) -> str:
    handle = handles and (entity.dxf.get("handle") or _source_handle(entity))
    return f'{kind}, layer "{layer}"' + (f", handle {handle}" if handle else "")


def _source_handle(entity: Any) -> str:
    """The handle of what stands in the block's definition, for an entity taken out of a block."""
    source = getattr(entity, "origin_of_copy", None)
    return "" if source is None else str(source.dxf.get("handle") or "")


def _first_place(entity: Any) -> _Point3 | None:
    """A place of a body for words: only a 3DFACE has one that can be read at once."""
    spot = entity.dxf.get("vtx0")
    return None if spot is None else (spot.x, spot.y, spot.z)


def _shape_of(entity: Any, kind: str, scale: float) -> list[_Point3] | None:
    """Points of a curve in the world frame, drawing units; None for what is no curve."""
    reader = _SHAPES.get(kind)
    return None if reader is None else reader(entity, scale)


def _line(entity: Any, scale: float) -> list[_Point3]:
    return [_triple(entity.dxf.start), _triple(entity.dxf.end)]


def _circle(entity: Any, scale: float) -> list[_Point3]:
    centre = (entity.dxf.center.x * scale, entity.dxf.center.y * scale)
    points = arc_points(centre, entity.dxf.radius * scale, 0.0, 2.0 * math.pi)
    return _lifted(entity, points, entity.dxf.center.z, scale)


def _arc(entity: Any, scale: float) -> list[_Point3]:
    centre = (entity.dxf.center.x * scale, entity.dxf.center.y * scale)
    start, end = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    sweep = (end - start) % (2.0 * math.pi) or 2.0 * math.pi
    points = arc_points(centre, entity.dxf.radius * scale, start, sweep)
    return _lifted(entity, points, entity.dxf.center.z, scale)


def _light_polyline(entity: Any, scale: float) -> list[_Point3]:
    rows = [(x * scale, y * scale, bulge) for x, y, bulge in entity.get_points("xyb")]
    points = bulged(rows, bool(entity.closed))
    return _lifted(entity, points, entity.dxf.get("elevation", 0.0), scale)


def _spline(entity: Any, scale: float) -> list[_Point3]:
    """From the first knot that is the curve's own to the last: a periodic one has more outside.

    The knots degree and count, from 0, bound a B-spline (Piegl and Tiller, The NURBS Book, 3.2;
    from memory).
    """
    curve = entity.construction_tool()
    knots = curve.knots()
    low, high = knots[curve.order - 1], knots[curve.count]
    own = sorted({low, high, *(knot for knot in knots if low < knot < high)})
    return [_triple(spot) for spot in flattened(curve.points, own, CHORD_MM / scale)]


def _triple(spot: Any) -> _Point3:
    return float(spot.x), float(spot.y), float(spot.z)


def _lifted(entity: Any, points: list[Point], height: float, scale: float) -> list[_Point3]:
    """mm in the object's own frame (OCS) to drawing units in the world frame."""
    rows = [(x / scale, y / scale, height) for x, y in points]
    return [_triple(spot) for spot in entity.ocs().points_to_wcs(_vectors(rows))]


def _vectors(rows: list[_Point3]) -> list[Any]:
    from ezdxf.math import Vec3

    return [Vec3(row) for row in rows]


def _polyline(entity: Any, scale: float) -> list[_Point3] | None:
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        return None
    vertices = [v for v in entity.vertices if not v.dxf.get("flags", 0) & 16]  # 16: spline frame
    spots = [v.dxf.location for v in vertices]
    if entity.is_3d_polyline:
        rows = [_triple(spot) for spot in spots]
        return [*rows, rows[0]] if rows and entity.is_closed else rows
    flat = [
        (s.x * scale, s.y * scale, v.dxf.get("bulge", 0.0))
        for s, v in zip(spots, vertices, strict=True)
    ]
    elevation = entity.dxf.get("elevation")
    height = 0.0 if elevation is None else elevation.z
    return _lifted(entity, bulged(flat, bool(entity.is_closed)), height, scale)


def _ellipse(entity: Any, scale: float) -> list[_Point3]:
    """|c''| of an ellipse in its parameter is at most the half major axis."""
    start, end = entity.dxf.start_param, entity.dxf.end_param
    sweep = (end - start) % (2.0 * math.pi) or 2.0 * math.pi
    if math.isclose(sweep, 2.0 * math.pi, abs_tol=1e-9):
        sweep = 2.0 * math.pi
    count = max(8, chords_of(entity.dxf.major_axis.magnitude * scale, sweep))
    params = [start + sweep * step / count for step in range(count + 1)]
    return [_triple(spot) for spot in entity.vertices(params)]


_SHAPES: dict[str, Callable[[Any, float], list[_Point3] | None]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _polyline,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
}
