"""The printed page as a reader finds it: what it says, how large, and that nothing is cut off.

Read back with PDFium, which shares nothing with the library that draws.
"""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from jobs import HEAD, JOB, SITE, SLOT, plan_of
from sheet_reading import PX_PER_MM, Words, document, letters, picture, runs, text_of

from kiosk.job.plan import Finding, Plan, SeatState
from kiosk.job.sheet import sheet_pdf
from kiosk.job.sheet_map import window_of
from kiosk.job.sheet_words import sheet_words
from kiosk.words import Words as Catalogue
from kiosk.words import load

WORDS = load()
PAPERS = ("a4", "letter")
GRID = SITE[SITE.index("pattern") : SITE.index("[cup]")]


def rings(most: int) -> str:
    """A site of concentric rings 100 mm apart."""
    table = "".join(
        f"[[grid.ring]]\nradius_mm = {100.0 * n}\ncount = {6 * n or 1}\n" for n in range(most)
    )
    return SITE.replace(GRID, f'pattern = "rings"\ncentre_mm = [200.0, 150.0]\n{table}')


LIST = SITE.replace(
    GRID,
    'pattern = "list"\n'
    + "".join(
        f'[[grid.seat]]\nname = "{name}"\nx_mm = {x}\ny_mm = {y}\n'
        for name, x, y in (("A1", 60, 60), ("B7", 200, 230), ("A2", 190, 70), ("C3", 340, 220))
    ),
)
TURNED = JOB.replace("angle_deg = 0.0", "angle_deg = 17.0").replace("x_mm = 0.0", "x_mm = 90.0")
BORE = HEAD + "G0 X150. Y150. Z5.\nG1 Z-22. F2000\nG0 Z5.\nM30\n"


def rows(columns: int, count: int) -> tuple[str, str, str]:
    """A job that covers the whole of a grid of 100 mm pitch, its program and its site."""
    site = SITE.replace("count = [6, 4]", f"count = [{columns}, {count}]")
    job = JOB.replace("400.0", f"{100.0 * columns}").replace("300.0", f"{100.0 * count}")
    return job, SLOT.replace("X420.", f"X{100 * columns + 20}."), site


CASES = {
    "10x6": rows(10, 6),
    "20x12": rows(20, 12),
    "3x40": rows(3, 40),
    "60x2": rows(60, 2),
    "1x1": rows(1, 1),
    "staggered": (TURNED, SLOT, SITE.replace('"rows"', '"staggered"')),
    "rings": (JOB, SLOT, rings(3)),
    "many rings": (JOB, SLOT, rings(12)),
    "list": (JOB, SLOT, LIST),
    "bore": (JOB, BORE, SITE),
    "far away": (JOB.replace("x_mm = 0.0", "x_mm = 9000.0"), SLOT, SITE),
}


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Plan]:
    return {name: plan_of(tmp_path_factory.mktemp("page"), *case) for name, case in CASES.items()}


def wordy(plan: Plan) -> Plan:
    """The same plan with as much to say as a plan can have."""
    found = [
        Finding("loose_offcut", "warning", f"Offcut number {n} comes loose near the edge. " * 3)
        for n in range(9)
    ]
    return replace(plan, job_id="W" * 64, title="Grille " * 11, revision="Rev " * 5,
                   findings=(*found, *plan.findings))  # fmt: skip


def squeezed(text: str) -> str:
    return "".join(text.split())


# -- nothing is cut off --------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", sorted(CASES))
@pytest.mark.parametrize(
    "full", [pytest.param(False, marks=pytest.mark.long), True], ids=["plain", "wordy"]
)
def test_nothing_falls_off_the_page(
    plans: dict[str, Plan], name: str, paper: str, full: bool
) -> None:
    """All ink stays 5 mm from the edge, which office printers can print: common practice."""
    plan = wordy(plans[name]) if full else plans[name]
    pdf = sheet_pdf(plan, "Bench", paper=paper)
    edge = round(5.0 * PX_PER_MM)
    for page in range(len(document(pdf))):
        ink = np.array(picture(pdf, page)) < 250
        assert ink[edge:-edge, edge:-edge].any()
        ink[edge:-edge, edge:-edge] = False
        assert not ink.any()


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", sorted(CASES))
@pytest.mark.parametrize(
    "full", [pytest.param(False, marks=pytest.mark.long), True], ids=["plain", "wordy"]
)
def test_no_words_lie_over_others(
    plans: dict[str, Plan], name: str, paper: str, full: bool
) -> None:
    plan = wordy(plans[name]) if full else plans[name]
    pdf = sheet_pdf(plan, "Bench", paper=paper)
    for page in range(len(document(pdf))):
        for a, b in combinations(runs(pdf, page), 2):
            apart = (a.right <= b.left, b.right <= a.left, a.top <= b.bottom, b.top <= a.bottom)
            assert any(apart), (a, b)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["10x6", "20x12", "staggered", "rings"])
def test_one_page_is_enough_for_usual_grids(plans: dict[str, Plan], name: str, paper: str) -> None:
    assert len(document(sheet_pdf(plans[name], "Bench", paper=paper))) == 1


def test_what_has_no_room_goes_to_further_pages_that_say_so(plans: dict[str, Plan]) -> None:
    plan = wordy(plans["20x12"])
    pdf = sheet_pdf(plan, "Bench")
    count = len(document(pdf))
    assert count > 1
    for page in range(count):
        text = document(pdf)[page].get_textpage().get_text_bounded()
        assert f"page {page + 1} of {count}" in text
        assert "W" * 20 in squeezed(text)
        assert plan.digest[:12] in text
        assert WORDS.say("sheet.aid") in " ".join(text.split())


# -- what it says --------------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", sorted(CASES))
def test_every_seat_that_goes_up_is_named(plans: dict[str, Plan], name: str, paper: str) -> None:
    text = text_of(sheet_pdf(plans[name], "Bench", paper=paper))
    table = text[text.index(WORDS.say("sheet.column_up")) :]
    up = {seat.name for seat in plans[name].seats if seat.state is SeatState.UP}
    assert up <= set(re.findall(r"\b[A-Z]{1,2}\d+\b", table))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_page_tells_what_the_plan_says(plans: dict[str, Plan], paper: str) -> None:
    plan = wordy(plans["10x6"])
    text = text_of(sheet_pdf(plan, "Bench 5", paper=paper))
    assert plan.start_kpa is not None
    assert plan.required_kpa is not None
    for words in (
        plan.job_id, plan.title, plan.revision, plan.material, "20 mm", plan.surface, "t.nc",
        "T1 up-cut 10 mm", "Bench 5", f"{plan.start_kpa:.1f}kPa", f"{plan.required_kpa:.1f}kPa",
        f"{plan.ceiling_kpa:.1f}kPa", plan.digest[:12], "Operating aid, not a safety device",
        *(finding.text for finding in plan.findings),
        *(WORDS.say(f"caution.{code}.short") for code in ("C01", "C03", "C05", "C14")),
    ):  # fmt: skip
        assert squeezed(words) in squeezed(text), words


def test_notes_without_room_are_counted_and_the_rest_stays(plans: dict[str, Plan]) -> None:
    plan = plans["20x12"]
    notes = [row for row in plan.findings if row.severity == "note"]
    text = text_of(sheet_pdf(plan, "Bench"))
    assert f"{len(notes)} notes are left out" in text
    discs = Finding("spacer_discs", "note", "Seats with a spacer disc: B4.")
    with_discs = replace(plan, findings=(*plan.findings, discs))
    assert discs.text in text_of(sheet_pdf(with_discs, "Bench"))


@pytest.mark.parametrize("name", ["10x6", "far away"])
def test_a_job_that_does_not_hold_says_so_and_gives_no_number_to_start_with(
    plans: dict[str, Plan], name: str
) -> None:
    reason = Finding("cannot_hold", "refuse", "The blank: no vacuum holds it.")
    plan = replace(plans[name], verdict="does not hold", findings=(reason,))
    text = text_of(sheet_pdf(plan, "Bench"))
    assert text.startswith("DOES NOT HOLD - not for the machine")
    assert reason.text in text
    assert WORDS.say("sheet.start_kpa") not in text
    assert WORDS.say("sheet.cut_kpa") not in text


def test_zones_name_runs_of_seats_and_what_may_never_go_up(tmp_path: Path) -> None:
    """A slot right through along y = 150 blocks row B (centres at y = 150) under the blank."""
    through = SLOT.replace("Z-5.", "Z-21.")
    pdf = sheet_pdf(plan_of(tmp_path, JOB, through), "Bench")
    text = text_of(pdf)
    assert "A A1 A2 A3 A4 A5, A6" in text
    assert "B none B5, B6 B1 to B4" in text
    assert "D none every cup" in text


# -- how large it says it ------------------------------------------------------------------


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["10x6", "20x12", "rings"])
def test_no_letter_is_smaller_than_3_mm(plans: dict[str, Plan], name: str, paper: str) -> None:
    """The ink of flat-topped capitals and figures is measured, 0.05 mm off for rounding."""
    found = [
        letter
        for letter in letters(sheet_pdf(plans[name], "Bench", paper=paper))
        if letter.text in "BDEFHIKLMNPRTXZ1457"
    ]
    assert len(found) > 100
    assert min(letter.top - letter.bottom for letter in found) >= 2.95


def label(pdf: bytes, text: str) -> Words:
    """The label of a row or column of the map: the highest run of just these letters."""
    return max((run for run in runs(pdf) if run.text == text), key=lambda run: run.top)


def scale_of(pdf: bytes) -> float:
    """Table over paper, as the page states it."""
    stated = re.search(r"Scale 1 : ([\d.]+)", text_of(pdf))
    assert stated is not None
    return float(stated.group(1))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_map_is_to_the_scale_that_it_states(tmp_path: Path, paper: str) -> None:
    """Columns 1 and 6 of a grid of 100 mm pitch are 500 mm apart."""
    pdf = sheet_pdf(plan_of(tmp_path), "Bench", paper=paper)
    one, six = label(pdf, "1"), label(pdf, "6")
    on_paper = (six.left + six.right) / 2.0 - (one.left + one.right) / 2.0
    assert on_paper * scale_of(pdf) == pytest.approx(500.0, rel=0.02)
    low, high = label(pdf, "A"), label(pdf, "D")
    assert (high.bottom - low.bottom) * scale_of(pdf) == pytest.approx(300.0, rel=0.02)


# -- the marks, in grey --------------------------------------------------------------------


def darkness(pdf: bytes, plan: Plan) -> dict[str, float]:
    """Share of dark dots in each seat's mark, found from the labels of row A and columns."""
    scale, one, row_a = 1.0 / scale_of(pdf), label(pdf, "1"), label(pdf, "A")
    x0, y0 = (one.left + one.right) / 2.0, (row_a.bottom + row_a.top) / 2.0
    dots = np.array(picture(pdf)) < 128
    across = np.arange(dots.shape[1])[None, :] / PX_PER_MM
    up = (dots.shape[0] - np.arange(dots.shape[0])[:, None]) / PX_PER_MM
    first, radius = plan.seats[0], 0.75 * plan.outer_diameter_mm / 2.0 * scale
    found = {}
    for seat in plan.seats:
        x, y = x0 + (seat.x_mm - first.x_mm) * scale, y0 + (seat.y_mm - first.y_mm) * scale
        inside = (across - x) ** 2 + (up - y) ** 2 < radius**2
        found[seat.name] = float(dots[inside].mean())
    return found


def test_the_place_that_goes_first_is_on_the_map_when_it_lies_beside_part_and_grid(
    tmp_path: Path,
) -> None:
    """A cut round the outside of a blank at the corner of the grid is governed from there."""
    plan = plan_of(tmp_path)
    corner = min(seat.x_mm for seat in plan.seats), min(seat.y_mm for seat in plan.seats)
    beside = (corner[0] - 60.0, corner[1] - 60.0)
    assert not window_of(replace(plan, governed_grid_mm=None)).holds(beside)
    for push in ((0.6, 0.8), (-0.6, 0.8), (0.6, -0.8), (-0.6, -0.8)):
        window = window_of(replace(plan, governed_grid_mm=beside, governed_push=push))
        assert window.holds(beside)
        assert window.holds((beside[0] - 40.0 * push[0], beside[1] - 40.0 * push[1]))


def test_up_down_and_blocked_are_told_apart_without_colour(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, JOB, SLOT.replace("Z-5.", "Z-21."))
    dark = darkness(sheet_pdf(plan, "Bench"), plan)
    states = {seat.name: seat.state for seat in plan.seats}
    assert set(states.values()) == set(SeatState)
    for name, share in dark.items():
        least, most = {
            SeatState.UP: (0.6, 1.0), SeatState.BLOCKED: (0.15, 0.55), SeatState.DOWN: (0.0, 0.1)
        }[states[name]]  # fmt: skip
        assert least <= share <= most, name


# -- words ---------------------------------------------------------------------------------


def test_every_row_of_the_catalogue_is_said_and_nothing_else(
    plans: dict[str, Plan], tmp_path: Path
) -> None:
    """Each row is marked with its key; the marks are looked for in all kinds of sheet."""
    own = {key for key in WORDS.rows if key.startswith("sheet.")}
    marked = Catalogue({k: f"{v}⟦{k}⟧" if k in own else v for k, v in WORDS.rows.items()})
    loads = JOB[: JOB.index("[program]")] + "[[load]]\nat_mm = [9.0, 9.0, 20.0]\nforce_n = {}\n"
    loads = loads.replace('surface = "clean"\n', "") + "[hold]\nfriction = 0.3\n"
    governed = plans["10x6"].governed_by
    assert governed is not None
    kinds = [
        *plans.values(),
        plan_of(tmp_path, loads.format("[900.0, 0.0, 10.0]")),
        plan_of(tmp_path, loads.format("[0.0, 0.0, 1500.0]")),
        plan_of(tmp_path, JOB, SLOT.replace("Z-5.", "Z-21.")),
        replace(plans["10x6"], predicted_kpa=75.0, pins=((0.0, 0.0),)),
        replace(plans["10x6"], verdict="does not hold",
                findings=(Finding("cannot_hold", "refuse", "No."),)),
        replace(plans["10x6"], findings=(Finding("loose_offcut", "warning", "Loose."),),
                governed_push=None, governed_by=replace(governed, mode="lift")),
    ]  # fmt: skip
    said = "".join(repr(sheet_words(marked, plan, "Bench", True)) for plan in kinds)
    assert set(re.findall(r"⟦(.*?)⟧", said)) == own


def test_no_word_is_missing_from_the_catalogue(plans: dict[str, Plan]) -> None:
    marked = Catalogue({key: f"{value}⟦⟧" for key, value in WORDS.rows.items()})
    for plan in plans.values():
        said = sheet_words(marked, plan, "Bench", True)
        rows = [said.aid, said.local, said.side, said.beyond, said.nothing, said.notes_title,
                said.findings_title, said.cautions_title, *said.legend.values(),
                *(label for label, _ in said.facts), *(row.label for row in said.figures),
                *said.why, *(row.signal for row in (*said.findings, *said.notes)),
                *(words for row in said.cautions for words in (row.signal, row.text)),
                said.headings.name, said.headings.up, said.headings.down,
                said.headings.blocked]  # fmt: skip
        assert [words for words in rows if not words.endswith("⟦⟧")] == []


def test_the_legend_has_the_lines_that_the_map_has_and_no_other(tmp_path: Path) -> None:
    """A slot 5 mm deep into 20 mm is dashed; one through it is a full line."""
    shallow, through = plan_of(tmp_path), plan_of(tmp_path, JOB, SLOT.replace("Z-5.", "Z-20.3"))
    for plan, drawn, absent in ((shallow, "cut, not through", "cut through"),
                                (through, "cut through", "cut, not through")):  # fmt: skip
        text = text_of(sheet_pdf(plan, "Bench"))
        assert drawn in text
        assert absent not in text
    both = replace(shallow, paths=(*shallow.paths, *through.paths))
    text = text_of(sheet_pdf(both, "Bench"))
    assert "cut through" in text
    assert "cut, not through" in text
