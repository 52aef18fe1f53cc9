"""When a piece counts as free, skins and tabs, and what is said of pieces that hang on little."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.jobs import HEAD, JOB, codes, plan_of

KEEP_BOTH = JOB.replace("thickness_mm", "keep = [[20.0, 20.0], [390.0, 20.0]]\nthickness_mm", 1)
DOWN = "G0 X310. Y-20. Z5.\nG1 Z{z} F3000\nG1 Y320.\nG0 Z5.\n"  # parts off 85 x 300 mm, column 4


def program(*depths: float) -> str:
    return HEAD + "".join(DOWN.format(z=z) for z in depths) + "M30\n"


def model(folder: Path, text: str, job: str = KEEP_BOTH) -> float:
    found = plan_of(folder, job, text).model_kpa
    assert found is not None
    return found


def test_an_early_pass_pushes_the_blank_and_not_the_piece_that_a_later_one_frees(
    tmp_path: Path,
) -> None:
    """After 19 mm of 20 in one pass only 1 mm is left for the pass that goes through."""
    at_once = model(tmp_path, program(-20.3))
    skinned = model(tmp_path, program(-19.0, -20.3))
    uncut = model(tmp_path, program(-19.0))
    assert skinned < 0.6 * at_once
    assert skinned == pytest.approx(uncut, rel=0.02)


def test_whatever_cuts_a_piece_after_it_is_through_pushes_it_on_its_own_cups(
    tmp_path: Path,
) -> None:
    slot = "G0 X360. Y-20. Z5.\nG1 Z-4. F3000\nG1 Y320.\nG0 Z5.\n"
    body = DOWN.format(z=-19.0) + DOWN.format(z=-20.3)
    before = model(tmp_path, HEAD + slot + body + "M30\n")
    after = model(tmp_path, HEAD + body + slot + "M30\n")
    assert after > 1.3 * before


@pytest.mark.parametrize(("left_mm", "free"), [(0.6, False), (0.5, True), (0.0, True)])
def test_a_skin_thicker_than_declared_keeps_it_one_piece(
    tmp_path: Path, left_mm: float, free: bool
) -> None:
    plan = plan_of(tmp_path, JOB, program(-20.0 + left_mm))
    assert ("loose_offcut" in codes(plan)) is free
    assert bool(plan.loose) is free


def test_tabs_keep_it_one_piece_until_a_later_cut_takes_them(tmp_path: Path) -> None:
    tabbed = (
        "G0 X310. Y-20. Z5.\nG1 Z-20.3 F3000\nG1 Y140.\nG1 Z-17.\nG1 Y160.\nG1 Z-20.3\n"
        "G1 Y320.\nG0 Z5.\n"
    )
    kept_whole = plan_of(tmp_path, JOB, HEAD + tabbed + "M30\n")
    assert "loose_offcut" not in codes(kept_whole)
    last = "G0 X310. Y130. Z5.\nG1 Z-20.3 F1000\nG1 Y170.\nG0 Z5.\n"
    cut = plan_of(tmp_path, JOB, HEAD + tabbed + last + "M30\n")
    (finding,) = [f for f in cut.findings if f.code == "loose_offcut"]
    assert "line 14" in finding.text  # the move along Y that takes the tab


def test_a_loose_offcut_is_drawn_where_it_lies(tmp_path: Path) -> None:
    """Cut at x 310 with a 10 mm cutter: the offcut reaches from 315 to 400."""
    job = JOB.replace("x_mm = 0.0\ny_mm = 0.0", "x_mm = 20.0\ny_mm = 30.0")
    (loop,) = plan_of(tmp_path, job, program(-20.3)).loose
    xs, ys = zip(*loop, strict=True)
    assert (min(xs), max(xs)) == pytest.approx((335.0, 420.0))
    assert (min(ys), max(ys)) == pytest.approx((30.0, 330.0))


def test_a_piece_on_one_cup_is_warned_of(tmp_path: Path) -> None:
    """A second cut at y 100 leaves 85 x 95 mm over the one cup at (350, 50)."""
    across = "G0 X420. Y100. Z5.\nG1 Z-20.3 F3000\nG1 X310.\nG0 Z5.\n"
    alone = HEAD + DOWN.format(z=-20.3) + across + "M30\n"
    text = [f.text for f in plan_of(tmp_path, KEEP_BOTH, alone).findings
            if f.code == "one_cup_piece"]  # fmt: skip
    assert len(text) == 1
    assert "on 1 cup" in text[0]
    assert "one_cup_piece" not in codes(plan_of(tmp_path, KEEP_BOTH, program(-20.3)))


def test_a_piece_is_loose_from_its_rough_cut_and_not_from_its_trimming(tmp_path: Path) -> None:
    """A last cut 0.5 mm further in makes the final border; the piece was free before it."""
    trim = "G0 X310.5 Y-20. Z5.\nG1 Z-20.3 F3000\nG1 Y320.\nG0 Z5.\n"
    rough = model(tmp_path, program(-20.3))
    trimmed = model(tmp_path, HEAD + DOWN.format(z=-20.3) + trim + "M30\n")
    assert trimmed == pytest.approx(rough, rel=0.05)
