"""Blocks: pieces of a page that are stacked from top to bottom, none higher than a few lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from kiosk.job.sheet_paper import CAP_MM, LINE_MM, SOFT, Paper, Point, width_mm, wrapped
from kiosk.job.sheet_words import Remark, ZoneRow

GAP_MM = 2.5
_BASE_MM = CAP_MM + 0.9  # from the top of a line to its baseline
_SIGNAL_GAP_MM = 1.8
_COLUMN_GAP_MM = 4.0
_ROW_MM = 5.3


@dataclass(frozen=True, slots=True)
class Block:
    """Something this high that is drawn hanging from a point at the left margin.

    ``keep``: never the last on a page.  ``gap_mm``: room above it, but for the first on a page.
    """

    high_mm: float
    draw: Callable[[Paper, Point], None]
    keep: bool = False
    gap_mm: float = 0.0


def apart(blocks: Sequence[Block]) -> list[Block]:
    """The same blocks with room above the first."""
    return [replace(block, gap_mm=0.0 if number else GAP_MM) for number, block in enumerate(blocks)]


def together(blocks: Sequence[Block]) -> list[Block]:
    """The same blocks, all on one page."""
    return [replace(block, keep=True) for block in blocks[:-1]] + list(blocks[-1:])


def line(words: str, bold: bool = False, grey: float = 0.0) -> Block:
    """One line of words."""

    def draw(paper: Paper, at: Point) -> None:
        paper.text((at[0], at[1] - _BASE_MM), words, bold=bold, grey=grey)

    return Block(LINE_MM, draw)


def paragraph(words: str, room_mm: float, bold: bool = False) -> list[Block]:
    """Words over as many lines as they need."""
    return [line(row, bold) for row in wrapped(words, room_mm, bold=bold)]


def titled(title: str, blocks: Sequence[Block]) -> list[Block]:
    """A heading that stays with what follows it."""
    return apart([replace(line(title, bold=True), keep=True), *blocks])


def remark(row: Remark, room_mm: float) -> list[Block]:
    """A signal word in bold, then its sentence, whose further lines stand below the sentence."""
    inset = width_mm(row.signal, bold=True) + _SIGNAL_GAP_MM
    lines = wrapped(row.text, room_mm - inset)

    def draw(paper: Paper, at: Point) -> None:
        paper.text((at[0], at[1] - _BASE_MM), row.signal, bold=True)
        _shifted(line(lines[0]), inset).draw(paper, at)

    return [Block(LINE_MM, draw), *(_shifted(line(words), inset) for words in lines[1:])]


def _shifted(block: Block, right_mm: float) -> Block:
    def draw(paper: Paper, at: Point) -> None:
        block.draw(paper, (at[0] + right_mm, at[1]))

    return replace(block, draw=draw)


def facts(rows: Sequence[tuple[str, str]], room_mm: float) -> list[Block]:
    """Labels and values in bold, as many in a line as fit; a long value runs over lines."""
    blocks: list[Block] = []
    waiting: list[tuple[str, str]] = []
    for row in rows:
        if waiting and _facts_wide(waiting) + _facts_wide([row]) > room_mm:
            blocks += _fact_line(waiting, room_mm)
            waiting = []
        waiting.append(row)
    return apart([*blocks, *_fact_line(waiting, room_mm)])


_FACT_GAP_MM = 5.0


def _facts_wide(rows: Sequence[tuple[str, str]]) -> float:
    return sum(width_mm(f"{label} ") + width_mm(value, bold=True) + _FACT_GAP_MM
               for label, value in rows)  # fmt: skip


def _fact_line(rows: Sequence[tuple[str, str]], room_mm: float) -> list[Block]:
    if _facts_wide(rows) - _FACT_GAP_MM > room_mm:  # a single one: facts() sees to it
        label, value = rows[0]
        inset = width_mm(f"{label} ")
        lines = [_shifted(line(text, bold=True), inset)
                 for text in wrapped(value, room_mm - inset, bold=True)]  # fmt: skip
        return [_over(line(label, grey=SOFT), lines[0]), *lines[1:]]

    def draw(paper: Paper, at: Point) -> None:
        x, y = at[0], at[1] - _BASE_MM
        for label, value in rows:
            paper.text((x, y), label, grey=SOFT)
            x += width_mm(f"{label} ")
            paper.text((x, y), value, bold=True)
            x += width_mm(value, bold=True) + _FACT_GAP_MM

    return [Block(LINE_MM, draw)]


def _over(first: Block, second: Block) -> Block:
    def draw(paper: Paper, at: Point) -> None:
        first.draw(paper, at)
        second.draw(paper, at)

    return replace(first, draw=draw)


# -- the table of zones --------------------------------------------------------------------


def zone_table(
    headings: ZoneRow, rows: Sequence[ZoneRow], room_mm: float, nothing: str
) -> list[Block]:
    """The table, one block a line of text; the heading stays with the first row.

    ``nothing`` stands for an empty cell; a column that has nothing in any row is left out.
    """
    table = [_cells(row) for row in rows]
    shown = [n for n in range(4) if any(cells[n] for cells in table)]
    head = [_cells(headings)[n] for n in shown]
    body = [[cells[n] or nothing for n in shown] for cells in table]
    wide = _column_widths([head, *body], room_mm)
    first = replace(_table_line(head, wide, ruled=False, bold=len(head)), keep=True)
    return apart([first, *(line for cells in body for line in _table_row(cells, wide))])


def _cells(row: ZoneRow) -> tuple[str, str, str, str]:
    return row.name, row.up, row.down, row.blocked


def _table_row(cells: Sequence[str], wide: Sequence[float]) -> list[Block]:
    columns = [wrapped(c, w, bold=n < 2) for n, (c, w) in enumerate(zip(cells, wide, strict=True))]
    return [
        _table_line(texts, wide, ruled=number == 0, bold=2)
        for number, texts in enumerate(zip_longest(*columns, fillvalue=""))
    ]


def _column_widths(rows: Sequence[Sequence[str]], room_mm: float) -> list[float]:
    """Each as wide as its longest cell; what is too much is taken off the widest ones.

    The widest become equally wide, the others keep their width; room to spare goes to all but
    the first.
    """
    columns = zip(*rows, strict=True)
    natural = [max(width_mm(cell, bold=True) for cell in cells) + 0.1 for cells in columns]
    room = room_mm - _COLUMN_GAP_MM * (len(natural) - 1)
    spare = room - sum(natural)
    if spare >= 0.0:
        return [natural[0], *(w + spare / (len(natural) - 1) for w in natural[1:])]
    return _levelled(natural, room)


def _levelled(natural: Sequence[float], room: float) -> list[float]:
    """Widths cut at one level, which is such that their sum is ``room``."""
    left, ordered = room, sorted(natural)
    for number, wide in enumerate(ordered):
        level = left / (len(ordered) - number)
        if wide > level:
            return [min(w, level) for w in natural]
        left -= wide
    return list(natural)


def _table_line(cells: Sequence[str], wide: Sequence[float], ruled: bool, bold: int) -> Block:
    """One line of the table; the first ``bold`` cells are bold."""

    def draw(paper: Paper, at: Point) -> None:
        x, y = at
        if ruled:
            across = sum(wide) + _COLUMN_GAP_MM * (len(wide) - 1)
            paper.stroke([(x, y), (x + across, y)], 0.6, 0.2)
        for number, (cell, w) in enumerate(zip(cells, wide, strict=True)):
            paper.text((x, y - _BASE_MM - 0.2), cell, bold=number < bold)
            x += w + _COLUMN_GAP_MM

    return Block(_ROW_MM, draw)
