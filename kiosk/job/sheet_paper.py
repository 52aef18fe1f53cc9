"""One sheet of paper to draw on: millimetres from the lower left corner, greys, and one typeface.

Knows nothing of jobs.  Grey 0.0 is black, 1.0 is white.  A size of letters is the height of their
capitals in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from kiosk.resources import asset

Point = tuple[float, float]

POINTS_PER_MM = 72.0 / 25.4  # a PDF unit is 1/72 inch: ISO 32000-1, 8.3.2.3
CAP_SHARE = 1456.0 / 2048.0  # capital height of Roboto over its size, from its outlines
CAP_MM = 3.0  # capitals of ordinary text, and the smallest anywhere
LINE_MM = 5.1  # from line to line of ordinary text
INK, SOFT = 0.0, 0.32  # words; their labels
_FACES = {False: "Roboto", True: "Roboto-Bold"}


@dataclass(frozen=True, slots=True)
class PaperSize:
    """Width and height in mm, upright."""

    width_mm: float
    height_mm: float
    margin_mm: float = 12.0  # left and right
    foot_mm: float = 10.0  # below, and above

    @property
    def inner_mm(self) -> float:
        """Width between the margins."""
        return self.width_mm - 2.0 * self.margin_mm


# ISO 216:2007 table 1; ANSI/ASME Y14.1 size A.
PAPERS = {"a4": PaperSize(210.0, 297.0), "letter": PaperSize(215.9, 279.4)}


@cache
def _register() -> None:
    for bold, face in _FACES.items():
        name = "Roboto-Bold.ttf" if bold else "Roboto-Regular.ttf"
        pdfmetrics.registerFont(TTFont(face, str(asset(f"fonts/{name}"))))


def size_pt(cap_mm: float) -> float:
    """Font size in points whose capitals are this high."""
    return cap_mm / CAP_SHARE * POINTS_PER_MM


def width_mm(words: str, cap_mm: float = CAP_MM, bold: bool = False) -> float:
    """Width of one line of words."""
    _register()
    width_pt = pdfmetrics.stringWidth(words, _FACES[bold], size_pt(cap_mm))
    return float(width_pt) / POINTS_PER_MM


def wrapped(words: str, room_mm: float, cap_mm: float = CAP_MM, bold: bool = False) -> list[str]:
    """Lines no wider than ``room_mm``; a word that is wider is broken.  Never empty."""
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if width_mm(longer, cap_mm, bold) <= room_mm:
            lines[-1] = longer
            continue
        pieces = _broken(word, room_mm, cap_mm, bold)
        lines = [*lines, *pieces] if lines[-1] else [*lines[:-1], *pieces]
    return lines


def _broken(word: str, room_mm: float, cap_mm: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and width_mm(pieces[-1] + letter, cap_mm, bold) > room_mm:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def fitting_cap(words: str, room_mm: float, most_mm: float, bold: bool = False) -> float:
    """The largest capitals, at most ``most_mm``, at which the words fit on one line.

    Never smaller than ordinary text.
    """
    wide = width_mm(words, most_mm, bold)
    return most_mm if wide <= room_mm else max(CAP_MM, most_mm * room_mm / wide)


class Paper:
    """A canvas in millimetres.  Pages are ended with ``turn``."""

    def __init__(self, canvas: Canvas, size: PaperSize) -> None:
        _register()
        self.canvas = canvas
        self.size = size

    def turn(self) -> None:
        """End this page."""
        self.canvas.showPage()

    def text(
        self,
        at: Point,
        words: str,
        cap_mm: float = CAP_MM,
        bold: bool = False,
        *,
        grey: float = INK,
        align: str = "left",
    ) -> None:
        """One line with its baseline at ``at``; align: left | centre | right."""
        x, y = at
        wide = width_mm(words, cap_mm, bold)
        x -= {"left": 0.0, "centre": wide / 2.0, "right": wide}[align]
        self.canvas.setFillGray(grey)
        self.canvas.setFont(_FACES[bold], size_pt(cap_mm))
        self.canvas.drawString(x * POINTS_PER_MM, y * POINTS_PER_MM, words)

    def box(self, left: float, bottom: float, wide: float, high: float, **style: float) -> None:
        """A rectangle; style as for ``loop``."""
        right, top = left + wide, bottom + high
        self.loop([(left, bottom), (right, bottom), (right, top), (left, top)], **style)

    def disc(
        self, at: Point, radius: float, fill: float | None, line: float | None = None,
        width_mm: float = 0.3,
    ) -> None:  # fmt: skip
        """A circle, filled or drawn or both."""
        self._inks(fill, line, width_mm)
        x, y = at
        k = POINTS_PER_MM
        self.canvas.circle(x * k, y * k, radius * k, stroke=line is not None, fill=fill is not None)

    def loop(
        self, points: Sequence[Point], fill: float | None = None, line: float | None = None,
        width_mm: float = 0.3,
    ) -> None:  # fmt: skip
        """A closed shape, filled or drawn or both."""
        self._inks(fill, line, width_mm)
        path = self._path(points)
        path.close()
        self.canvas.drawPath(path, stroke=line is not None, fill=fill is not None)

    def stroke(
        self, points: Sequence[Point], line: float, width_mm: float, dash_mm: float | None = None
    ) -> None:
        """An open line with round ends."""
        self._inks(None, line, width_mm)
        if dash_mm is not None:
            self.canvas.setDash(dash_mm * POINTS_PER_MM, dash_mm * POINTS_PER_MM)
        self.canvas.drawPath(self._path(points), stroke=1, fill=0)
        self.canvas.setDash()

    def clip(self, left: float, bottom: float, wide: float, high: float) -> None:
        """Until ``unclip`` nothing is drawn outside this box."""
        self.canvas.saveState()
        path = self.canvas.beginPath()
        path.rect(*(n * POINTS_PER_MM for n in (left, bottom, wide, high)))
        self.canvas.clipPath(path, stroke=0, fill=0)

    def unclip(self) -> None:
        """End the last ``clip``."""
        self.canvas.restoreState()

    def _inks(self, fill: float | None, line: float | None, width_mm: float) -> None:
        self.canvas.setLineWidth(width_mm * POINTS_PER_MM)
        self.canvas.setLineCap(1)
        self.canvas.setLineJoin(1)
        if fill is not None:
            self.canvas.setFillGray(fill)
        if line is not None:
            self.canvas.setStrokeGray(line)

    def _path(self, points: Sequence[Point]) -> PDFPathObject:
        path = self.canvas.beginPath()
        path.moveTo(points[0][0] * POINTS_PER_MM, points[0][1] * POINTS_PER_MM)
        for x, y in points[1:]:
            path.lineTo(x * POINTS_PER_MM, y * POINTS_PER_MM)
        return path
