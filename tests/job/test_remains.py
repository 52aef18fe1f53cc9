"""What the program leaves of a part, by hand, and that no more than that helps to hold it."""

from __future__ import annotations

from pathlib import Path

import pytest
from shapely import Polygon, box

from kiosk.job.remains import remains_of
from kiosk.job.stock import Stock
from tests.job.jobs import HEAD, JOB, plan_of

THICK_MM = 20.0
BLANK = box(0.0, 0.0, 400.0, 300.0)


def halved() -> Stock:
    """Left of x = 200 it is milled down to 8 mm."""
    stock = Stock(BLANK, THICK_MM, 10.0)
    stock.height[:, stock.x < 200.0] = 8.0
    return stock


def test_a_half_milled_down_weighs_less_and_its_centre_moves_away() -> None:
    """200 x 300 x 8 round x = 100 and 200 x 300 x 20 round x = 300: centre at 6800 / 28."""
    found = remains_of(BLANK, THICK_MM, halved())
    assert found.volume_mm3 == pytest.approx(200.0 * 300.0 * 28.0, rel=1e-3)
    assert (found.x_mm, found.y_mm) == pytest.approx((6800.0 / 28.0, 150.0), abs=0.5)


def test_a_piece_that_nothing_thins_weighs_what_it_did() -> None:
    piece = Polygon([(210.0, 20.0), (380.0, 40.0), (330.0, 250.0)])
    found = remains_of(piece, THICK_MM, halved())
    assert found.volume_mm3 == pytest.approx(piece.area * THICK_MM, rel=1e-12)
    assert (found.x_mm, found.y_mm) == pytest.approx((piece.centroid.x, piece.centroid.y))
    assert remains_of(piece, THICK_MM, None) == found


def test_a_piece_of_which_nothing_is_left_weighs_nothing() -> None:
    stock = halved()
    stock.height[:] = 0.0
    assert remains_of(BLANK, THICK_MM, stock).volume_mm3 == 0.0


def test_a_narrow_groove_is_seen_on_a_large_sheet() -> None:
    """3 x 2 m in cells of 1.2 mm, taken together: grooves 4 mm wide and 20 mm apart, half deep."""
    sheet = box(0.0, 0.0, 3000.0, 2000.0)
    stock = Stock(sheet, THICK_MM, 10.0)
    stock.height[:, stock.x % 20.0 < 4.0] = 10.0
    volume = 3000.0 * 2000.0 * THICK_MM
    assert remains_of(sheet, THICK_MM, stock).volume_mm3 == pytest.approx(0.9 * volume, rel=5e-3)


# -- in a job ------------------------------------------------------------------------------

OAK = JOB.replace('"mdf"', '"oak"').replace('"machined"', '"planed"')
OAK = OAK.replace('cups_up = "auto"', 'cups_up = ["A1", "A4"]')
THIN = OAK.replace("thickness_mm = 20.0", "thickness_mm = 8.0")


def faced() -> str:
    """All over down to 8 mm, in three light layers, 8 mm apart."""
    rows = [f"G0 X-20. Y{y}. Z5.\nG1 Z{{z}} F900\nG1 X420.\n" for y in range(0, 304, 8)]
    return "".join(row.format(z=z) for z in (-4, -8, -12) for row in rows) + "G0 Z5.\n"


def slot(top_mm: float) -> str:
    """4 mm deep from there, at a good feed."""
    return f"G0 X60. Y150. Z5.\nG1 Z{top_mm - 4.0} F600\nG1 X340. F6000\nG0 Z5.\nM30\n"


@pytest.mark.parametrize("mass", ["", "mass_kg = {}\n"])
def test_what_was_milled_away_does_not_help_to_hold(tmp_path: Path, mass: str) -> None:
    """A blank of 20 mm that is faced to 8 mm first, against a blank of 8 mm: the same slot in the
    same floor asks for the same.  Stated, the mass is that of the blank before.
    """

    def needs(job: str, mass_kg: float, program: str) -> float:
        line = mass.format(mass_kg)
        found = plan_of(tmp_path, job.replace("surface =", line + "surface ="), HEAD + program)
        assert found.governed_by is not None
        assert found.governed_by.line == program.count("\n", 0, program.index("G1 X340.")) + 4
        assert found.model_kpa is not None
        return found.model_kpa

    thick = needs(OAK, 1.5, faced() + slot(-12.0))
    thin = needs(THIN, 0.6, slot(0.0))
    assert thick == pytest.approx(thin, rel=1e-3)
