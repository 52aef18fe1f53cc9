"""The page: blocks from top to bottom, the map shrunk until all fit, further pages if they do not.

Every block is at most a few lines high, so that none is cut off whatever the job.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import takewhile

from kiosk.job.sheet_blocks import (
    GAP_MM,
    Block,
    apart,
    facts,
    paragraph,
    remark,
    titled,
    together,
    zone_table,
)
from kiosk.job.sheet_codes import line_code
from kiosk.job.sheet_map import CupMap
from kiosk.job.sheet_paper import Paper, PaperSize, Point
from kiosk.job.sheet_parts import (
    BANNER_MM,
    BARS_MM,
    FOOT_MM,
    LINE_CODE_ROOM_MM,
    draw_banner,
    draw_foot,
    figures,
    head,
    legend,
    short_head,
)
from kiosk.job.sheet_words import Remark, SheetWords

_MAP_MOST_MM = 150.0
# Tried in this order until all is on one page: whether notes are told in full, and the least
# share of the map's height at full width.  When none does it, the first one takes further pages.
_WAYS = ((True, 0.62), (False, 0.62), (False, 0.36))


def draw_sheet(paper: Paper, said: SheetWords, cup_map: CupMap) -> int:
    """Draw all pages; returns how many."""
    pages = pages_of(paper.size, said, cup_map)
    code = None
    if said.banner is None:
        code = line_code(said.job_id, LINE_CODE_ROOM_MM, BARS_MM)
    for number, blocks in enumerate(pages, 1):
        at = (paper.size.margin_mm, paper.size.height_mm - paper.size.foot_mm)
        if said.banner is not None:
            draw_banner(paper, said.banner, at, paper.size.inner_mm)
            at = (at[0], at[1] - BANNER_MM - GAP_MM)
        _draw_blocks(paper, blocks, at)
        words = said.page.format(number=number, count=len(pages))
        draw_foot(paper, said, words, code if number == 1 else None)
        paper.turn()
    return len(pages)


def _draw_blocks(paper: Paper, blocks: Sequence[Block], at: Point) -> None:
    x, y = at
    for number, block in enumerate(blocks):
        y -= block.gap_mm if number else 0.0
        block.draw(paper, (x, y))
        y -= block.high_mm


def pages_of(size: PaperSize, said: SheetWords, cup_map: CupMap) -> list[list[Block]]:
    """All blocks shared out over pages, one if that is possible."""
    ways = [_pages(size, said, cup_map, notes, least) for notes, least in _WAYS]
    return next((pages for pages in ways if len(pages) == 1), ways[0])


def _pages(
    size: PaperSize, said: SheetWords, cup_map: CupMap, notes: bool, least: float
) -> list[list[Block]]:
    """The map takes what height is left on the first page."""
    room = size.inner_mm
    banner = 0.0 if said.banner is None else BANNER_MM + GAP_MM
    high = size.height_mm - 2.0 * size.foot_mm - FOOT_MM - banner
    above, below = _above(said, room), _below(said, room, notes)
    key = legend(said, room, 1.0, cup_map.window.cut)
    most = min(cup_map.high_mm(room), _MAP_MOST_MM)
    left = high - _taken([*above, *key, *below]) - GAP_MM
    map_mm = min(max(left, least * most), most)
    key = legend(said, room, cup_map.scale(room, map_mm), cup_map.window.cut)
    blocks = [*above, _map(cup_map, room, map_mm), *key, *below]
    return _shared_out(blocks, short_head(said, room), high)


def _taken(blocks: Sequence[Block]) -> float:
    return sum(block.high_mm + block.gap_mm for block in blocks)


def _above(said: SheetWords, room: float) -> list[Block]:
    why = [block for words in said.why for block in paragraph(words, room)]
    return [
        head(said, room),
        *facts(said.facts, room),
        figures(said.figures, room),
        *apart(why),
    ]


def _below(said: SheetWords, room: float, notes: bool) -> list[Block]:
    findings = _remarks(said.findings, room)
    return [
        *zone_table(said.headings, said.zones, room, said.nothing),
        *(titled(said.findings_title, findings) if findings else ()),
        *(_notes(said, room, notes) if said.notes else ()),
        *titled(said.cautions_title, _remarks(said.cautions, room)),
    ]


def _notes(said: SheetWords, room: float, in_full: bool) -> list[Block]:
    if in_full:
        return titled(said.notes_title, _remarks(said.notes, room))
    return apart(paragraph(said.notes_left_out, room))


def _remarks(rows: Sequence[Remark], room: float) -> list[Block]:
    return [block for row in rows for block in together(remark(row, room))]


def _map(cup_map: CupMap, room: float, high: float) -> Block:
    def draw(paper: Paper, at: Point) -> None:
        cup_map.draw(paper, at, room, high)

    return Block(high, draw, keep=True, gap_mm=GAP_MM)


def _shared_out(blocks: Sequence[Block], first: Block, high: float) -> list[list[Block]]:
    """Fill page after page; each further one begins with ``first``.

    Blocks that are to be kept together are, unless they are too many for a whole page.
    """
    pages: list[list[Block]] = [[]]
    used = 0.0
    for number, block in enumerate(blocks):
        kept = list(takewhile(lambda b: b.keep, blocks[number:]))
        need = _taken(blocks[number : number + len(kept) + 1])
        if need > high - first.high_mm:
            need = _taken([block])
        if used + need > high + 1e-6 and pages[-1]:
            pages.append([first])
            used = first.high_mm
        pages[-1].append(block)
        used += block.high_mm + block.gap_mm
    return pages
