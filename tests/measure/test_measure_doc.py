"""docs/measure.md: its example is read, its keys are all there, its sums are right."""

from __future__ import annotations

import argparse
import dataclasses
import math
import re
from pathlib import Path

import pytest

from kiosk.leaks import load_leaks
from kiosk.measure import cutting, friction, leak
from kiosk.measure import main as command
from kiosk.shop import repeats
from kiosk.shop.cutting import LEAST_SHARE
from kiosk.shop.friction import LIGHT_KPA, LIGHT_SHARE, SHAKING_SHARE
from kiosk.shop.reader import RENEW_MONTHS
from kiosk.toml_lines import Table
from tests.measure.shop_files import CUT, PULL, TILT, shop_of

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "docs" / "measure.md").read_text(encoding="utf-8")
LEAKS, EXAMPLE = re.findall(r"```toml\n(.*?)```", TEXT, flags=re.S)


def test_the_example_is_a_shop_file(tmp_path: Path) -> None:
    text = EXAMPLE.replace('materials = "our-boards.toml"', "#")
    shop = shop_of(tmp_path, head=text)
    assert (len(shop.friction), len(shop.cutting), shop.renew_months) == (1, 1, RENEW_MONTHS)


def test_the_example_of_a_leak_test_is_its_file(tmp_path: Path) -> None:
    path = tmp_path / "leaks.toml"
    path.write_text(LEAKS)
    (test,) = load_leaks(path, "Demonstration router", ("A", "B"))
    assert (test.rise_kpa_min, test.baseline) == (2.0, True)


def test_every_key_of_the_shop_file_is_documented(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: set[str] = set()
    done = Table.done

    def note(table: Table) -> None:
        asked.update(table.known)
        done(table)

    monkeypatch.setattr(Table, "done", note)
    shop_of(tmp_path, PULL, TILT, CUT)
    assert {"renew_months", "angles_deg", "pulls_n", "idle_w", "grain"} <= asked
    rows = [line for line in TEXT.splitlines() if line.startswith("| `")]
    said = {name for row in rows for name in re.findall(r"`(\w+)`", row.split("|")[1])}
    assert asked - said - {"friction", "cutting"} == set()


@pytest.mark.parametrize("flag", ["--keep-unusual", "--efficiency", "--shop", "--materials",
                                  "--data", "--grain", "--baseline"])  # fmt: skip
def test_every_option_that_the_page_names_is_there(flag: str) -> None:
    assert flag in TEXT
    parser = argparse.ArgumentParser()
    command.arguments(parser)
    known = "".join(
        sub.format_help()
        for action in parser._actions
        if isinstance(action, argparse._SubParsersAction)
        for sub in action.choices.values()
    )
    assert flag in known


def test_the_rules_of_the_page_are_those_of_the_program() -> None:
    assert f"{repeats.LEAST} at least, {repeats.MOST} at most" in TEXT
    assert (f"up to {100 * repeats.GOOD_SPREAD:.0f} % good; up to {100 * repeats.MOST_SPREAD:.0f} %"
            f" with {repeats.SPREAD_REPEATS} repeats") in TEXT  # fmt: skip
    assert f"friction x {SHAKING_SHARE:g} |" in TEXT
    assert f"friction x {LIGHT_SHARE:g} |" in TEXT
    assert f"under {LIGHT_KPA:g} kPa" in TEXT
    assert f"at least {100 * LEAST_SHARE:.0f} % to the idle power" in TEXT


def test_the_sums_of_the_page(tmp_path: Path) -> None:
    pull = dataclasses.replace(
        shop_of(tmp_path, PULL).friction[0], cups=4, seal_diameter_mm=68.0, vacuum_kpa=50.0,
        pulls_n=(436.0,) * 3,
    )  # fmt: skip
    assert f"{pull.pressing_n():.1f} N" == "745.9 N" in TEXT
    assert f"friction {pull.repeats.mean:.3f}." == "friction 0.584." in TEXT
    assert f"tan 31 = {math.tan(math.radians(31.0)):.3f}" in TEXT
    cut = dataclasses.replace(shop_of(tmp_path, CUT).cutting[0], powers_w=(1944.0,) * 3)
    assert f"{cut.removal_mm3_s:,.0f} mm3/s" == "38,400 mm3/s" in TEXT
    assert f"= {cut.repeats.mean:.1f} N/mm2" in TEXT
    assert f"{cut.chip_mm:.3f} mm" == "0.255 mm" in TEXT
    hard = dataclasses.replace(pull, vacuum_kpa=60.0)
    assert hard.pressing_n() * 0.6 == pytest.approx(500.0, rel=0.07)  # "about 500 N"


def test_the_cautions_come_before_the_steps_on_the_page_and_in_the_program() -> None:
    assert TEXT.index("**Before you pull.**") < TEXT.index("**How.**")
    for rows in (friction.CAUTIONS, cutting.CAUTIONS, leak.CAUTIONS):
        assert "not a safety device" in rows[0]
        assert "local rules" in rows[0]
    assert "Never under a turning spindle" in TEXT
