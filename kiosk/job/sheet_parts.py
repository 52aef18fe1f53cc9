"""The parts of the page that are not lines of words: head, numbers, legend, banner and foot."""

from __future__ import annotations

from collections.abc import Sequence

from kiosk.job.plan import SeatState
from kiosk.job.sheet_blocks import GAP_MM, Block, together
from kiosk.job.sheet_codes import LineCode, draw_line_code, draw_square_code
from kiosk.job.sheet_marks import (
    band_grey,
    draw_centre_line,
    draw_pin,
    draw_push,
    draw_seat,
    draw_spot,
)
from kiosk.job.sheet_paper import (
    CAP_MM,
    LINE_MM,
    SOFT,
    Paper,
    Point,
    fitting_cap,
    width_mm,
    wrapped,
)
from kiosk.job.sheet_words import Figure, SheetWords

BANNER_MM = 13.0
FOOT_MM = 21.0
BARS_MM = 9.5  # height of the line code
LINE_CODE_ROOM_MM = 104.0
_CODE_MM = 28.0  # side of the square code with its quiet zone
_QUIET_MM = 2.0  # of that zone may lie outside the margins
_FIGURE_MM, _FIGURE_GAP_MM, _NUMBER_MM = 17.5, 3.0, 7.0
_ID_MM, _TITLE_MM = 8.0, 4.4
_LEGEND_GAP_MM = 5.0


def head(said: SheetWords, room_mm: float) -> Block:
    """The job's id, title and machine, with the square code beside them unless refused."""
    coded = said.banner is None
    room = room_mm - (_CODE_MM if coded else 0.0)
    id_cap = fitting_cap(said.job_id, room, _ID_MM, bold=True)
    rows = [(text, id_cap, True) for text in wrapped(said.job_id, room, id_cap, True)]
    rows += [(text, _TITLE_MM, True) for text in wrapped(said.title, room, _TITLE_MM, True)]
    rows += [(text, CAP_MM, False) for text in wrapped(said.subtitle, room)]
    high = sum(1.7 * cap for _, cap, _ in rows)

    def draw(paper: Paper, at: Point) -> None:
        y = at[1]
        for text, cap, bold in rows:
            paper.text((at[0], y - 1.25 * cap), text, cap, bold)
            y -= 1.7 * cap
        if coded:
            corner = (at[0] + room_mm - _CODE_MM + _QUIET_MM, at[1] - _CODE_MM + _QUIET_MM)
            draw_square_code(paper, said.job_id, corner, _CODE_MM)

    return Block(max(high, _CODE_MM - 2 * _QUIET_MM) if coded else high, draw)


def short_head(said: SheetWords, room_mm: float) -> Block:
    """Which job a further page belongs to."""
    rows = wrapped(f"{said.job_id}  ·  {said.title}", room_mm, _TITLE_MM, True)

    def draw(paper: Paper, at: Point) -> None:
        for number, text in enumerate(rows):
            paper.text((at[0], at[1] - _TITLE_MM * (1.25 + 1.7 * number)), text, _TITLE_MM, True)

    return Block(1.7 * _TITLE_MM * len(rows) + GAP_MM, draw)


# -- the numbers on the gauge --------------------------------------------------------------


def figures(rows: Sequence[Figure], room_mm: float) -> Block:
    """Large numbers side by side."""
    wide = (room_mm - _FIGURE_GAP_MM * (len(rows) - 1)) / len(rows)

    def draw(paper: Paper, at: Point) -> None:
        for number, row in enumerate(rows):
            left = at[0] + number * (wide + _FIGURE_GAP_MM)
            _draw_figure(paper, row, (left, at[1] - _FIGURE_MM), wide)

    return Block(_FIGURE_MM, draw, gap_mm=GAP_MM)


def _draw_figure(paper: Paper, row: Figure, corner: Point, wide: float) -> None:
    left, bottom = corner
    width = 0.9 if row.leads else 0.3
    paper.box(left, bottom, wide, _FIGURE_MM, line=0.0 if row.leads else 0.4, width_mm=width)
    paper.text((left + 3.0, bottom + _FIGURE_MM - 5.2), row.label, bold=row.leads)
    paper.text((left + 3.0, bottom + 3.0), row.value, _NUMBER_MM, bold=True)
    after = left + 3.0 + width_mm(row.value, _NUMBER_MM, bold=True) + 1.4
    paper.text((after, bottom + 3.0), row.unit, 4.0)


# -- below the map -------------------------------------------------------------------------

_LEGEND_MM = {"up": 6.5, "down": 6.5, "blocked": 6.5, "pin": 6.0, "cut": 11.5,
              "shallow": 11.5, "part": 9.5,
              "first": 13.0, "spot": 7.0}  # fmt: skip


def legend(said: SheetWords, room_mm: float, scale: float, cut: bool) -> list[Block]:
    """What the marks of the map mean, below its scale.  ``cut``: the part goes on beyond it."""
    lines: list[list[str]] = [[]]
    for name in said.legend:
        if lines[-1] and _legend_wide(said, [*lines[-1], name]) > room_mm:
            lines.append([])
        lines[-1].append(name)
    side = said.beyond if cut else said.side
    ratio = said.scale.format(ratio=f"{1.0 / scale:.1f}")
    return together([_scale_line(side, ratio, room_mm), *(_legend_line(said, r) for r in lines)])


def _legend_wide(said: SheetWords, names: Sequence[str]) -> float:
    each = (_LEGEND_MM[name] + width_mm(said.legend[name]) + _LEGEND_GAP_MM for name in names)
    return sum(each) - _LEGEND_GAP_MM


def _scale_line(side: str, ratio: str, room_mm: float) -> Block:
    def draw(paper: Paper, at: Point) -> None:
        y = at[1] - CAP_MM - 0.8
        paper.text((at[0], y), side, grey=SOFT)
        paper.text((at[0] + room_mm, y), ratio, grey=SOFT, align="right")

    return Block(LINE_MM, draw)


def _legend_line(said: SheetWords, names: Sequence[str]) -> Block:
    def draw(paper: Paper, at: Point) -> None:
        x, y = at[0], at[1] - 3.1
        for name in names:
            _draw_mark(paper, name, (x, y))
            x += _LEGEND_MM[name]
            paper.text((x, y - CAP_MM / 2.0), said.legend[name])
            x += width_mm(said.legend[name]) + _LEGEND_GAP_MM

    return Block(6.2, draw)


def _draw_mark(paper: Paper, name: str, at: Point) -> None:
    x, y = at
    if name in set(SeatState):
        draw_seat(paper, SeatState(name), (x + 2.5, y), 2.5)
    elif name == "pin":
        draw_pin(paper, (x + 2.2, y), 1.9)
    elif name in ("cut", "shallow"):
        path, through = [(x + 1.2, y), (x + 8.4, y)], name == "cut"
        paper.stroke(path, band_grey(through), 2.4)
        draw_centre_line(paper, path, through)
    elif name == "part":
        paper.box(x + 0.4, y - 1.9, 7.0, 3.8, fill=0.93, line=0.0, width_mm=0.7)
    elif name == "first":
        draw_push(paper, (x + 0.6, y), (x + 11.0, y))
    else:
        draw_spot(paper, (x + 2.8, y))


# -- above and below everything ------------------------------------------------------------


def draw_banner(paper: Paper, words: str, at: Point, room_mm: float) -> None:
    """White on black across the page, hanging from ``at``."""
    paper.box(at[0], at[1] - BANNER_MM, room_mm, BANNER_MM, fill=0.0)
    cap = fitting_cap(words, room_mm - 8.0, 6.0, bold=True)
    middle = (at[0] + room_mm / 2.0, at[1] - (BANNER_MM + cap) / 2.0)
    paper.text(middle, words, cap, bold=True, grey=1.0, align="centre")


def draw_foot(paper: Paper, said: SheetWords, page: str, code: LineCode | None) -> None:
    """The line code on the left, what this paper is not on the right."""
    left, bottom = paper.size.margin_mm, paper.size.foot_mm
    right, top = left + paper.size.inner_mm, bottom + FOOT_MM - 1.5
    paper.stroke([(left, top), (right, top)], 0.0, 0.3)
    taken = 0.0
    if code is not None:
        taken = code.wide_mm + 3.0
        draw_line_code(paper, code, (left, top - 1.6 - BARS_MM))
        if width_mm(said.job_id) <= code.wide_mm:
            middle = left + code.wide_mm / 2.0
            paper.text((middle, top - BARS_MM - 5.6), said.job_id, align="centre")
    rows = _foot_rows(said, page, right - left - taken)
    for number, (text, bold) in enumerate(rows):
        paper.text((left + taken, top - CAP_MM - 1.6 - 4.7 * number), text, bold=bold)


def _foot_rows(said: SheetWords, page: str, room_mm: float) -> list[tuple[str, bool]]:
    return [
        *((text, True) for text in wrapped(said.aid, room_mm, bold=True)),
        *((text, False) for text in wrapped(said.local, room_mm)),
        *((text, False) for text in wrapped(f"{said.plan_mark}  ·  {page}", room_mm)),
    ]
