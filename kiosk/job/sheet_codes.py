"""Bar codes on the job sheet.  Both carry the job's ``id``, letter for letter, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.code128 import Code128
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing

from kiosk.job.sheet_paper import POINTS_PER_MM, Paper, Point

# Widths of the narrowest bar: three, then two dots of a 200 dpi print.  Below 0.25 mm hand
# scanners begin to fail on shop prints: common practice, no source.
_NARROWEST_MM = (0.381, 0.254)
_QUIET_MODULES = 10  # on either side: ISO/IEC 15417, from memory


@dataclass(frozen=True, slots=True)
class LineCode:
    """A Code 128 symbol that fits, with its quiet zones."""

    symbol: Code128
    wide_mm: float


def line_code(text: str, room_mm: float, high_mm: float) -> LineCode | None:
    """Code 128 of ``text``; None when it has other than printable ASCII or is too wide to read."""
    if not all(" " <= letter <= "~" for letter in text):
        return None
    for bar_mm in _NARROWEST_MM:
        bar, quiet = bar_mm * POINTS_PER_MM, _QUIET_MODULES * bar_mm * POINTS_PER_MM
        symbol = Code128(text, barWidth=bar, barHeight=high_mm * POINTS_PER_MM, quiet=1,
                         lquiet=quiet, rquiet=quiet)  # fmt: skip
        wide_mm = float(symbol.width) / POINTS_PER_MM
        if wide_mm <= room_mm:
            return LineCode(symbol, wide_mm)
    return None


def draw_line_code(paper: Paper, code: LineCode, at: Point) -> None:
    """The symbol with its lower left corner, quiet zone included, at ``at``."""
    code.symbol.drawOn(paper.canvas, at[0] * POINTS_PER_MM, at[1] * POINTS_PER_MM)


def draw_square_code(paper: Paper, text: str, at: Point, side_mm: float) -> None:
    """A QR code, level M, its lower left corner at ``at``, within its quiet zone of 4 modules."""
    side = side_mm * POINTS_PER_MM
    drawing = Drawing(side, side)
    drawing.add(QrCodeWidget(text, barLevel="M", barBorder=4, barWidth=side, barHeight=side))
    renderPDF.draw(drawing, paper.canvas, at[0] * POINTS_PER_MM, at[1] * POINTS_PER_MM)
