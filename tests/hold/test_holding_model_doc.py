"""docs/holding-model.md: its worked examples by the program, and the tests that it names."""

import dataclasses
import math
import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hold_cases import cases_of, cups_of

from kiosk.hold import airflow
from kiosk.hold.cutter import Cutter, Engagement
from kiosk.hold.cutting import cutter_load
from kiosk.hold.flex import Sheet, Supports, influence, plate_of
from kiosk.hold.materials import Kienzle, Value, materials_from
from kiosk.hold.minimum import Weight, job_minimum
from kiosk.hold.verdict import levels
from kiosk.resources import asset

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "holding-model.md").read_text(encoding="utf-8")
ROWS = dict(re.findall(r"^\| (E\d+) \| ([\d.]+) \|", TEXT, flags=re.MULTILINE))
AIR = 101325.0


def kpa(cups, load, weight=(0.0, 0.0, 0.0), factor=1.0):
    cases = cases_of([load], factor=factor)
    return job_minimum(cups_of(cups), cases, Weight(*weight)).pressure_pa / 1e3


def push_and_pull():
    at = 0.1
    cups = ([at, at, -at, -at], [at, -at, at, -at], [0.045] * 4, 0.4)
    return kpa(cups, (0.0, 0.0, 0.0, 150.0, 0.0, 40.0, 0.0), (30.0, 0.0, 0.0), 2.0)


def one_cup_turned():
    return kpa(([0.0], [0.0], [0.034], 0.45), (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3.0))


def tipping():
    return kpa(([0.0], [0.0], [0.034], 9.0), (0.0, 0.0, 0.02, 40.0, 0.0, 0.0, 0.0))


def tooth():
    mdf = materials_from(asset("materials.toml").read_text(encoding="utf-8"))["mdf"]

    def just(number):
        return Value(number, number, number, "C", "of the example")

    row = Kienzle(just(40e6), just(0.3), just(0.3))
    stuff = dataclasses.replace(mdf, kc_along=row, kc_across=row, kr=just(0.0))
    cutter = Cutter("straight", 12e-3, 2, 0.0, 0.0, "sharp")
    use = Engagement("slot", 6e-3, None, 0.3e-3 * 2 * 300.0, 300.0, False)
    return cutter_load(cutter, stuff, use, None).lateral_n


def start_level():
    return levels(40e3, 20e3, 2e3, 1e3, 1.15).start_pa / 1e3


def one_hole():
    speed = 10.0 / 3600.0
    pump = airflow.Pump(((0.0, speed * (1 - 2000.0 / AIR)), (AIR - 2000.0, 0.0)))
    return airflow.operating_point(pump, (), (airflow.holes(1, 2e-3),), AIR).table_pa / 1e3


def through_board():
    board = airflow.board_face(2e-13, math.pi * 0.1**2 / 4.0, 0.018)
    return airflow.leak_mass(board, 20e3, AIR) * airflow.RT / AIR * 60e3


def overhang():
    loop = np.array([[0.0, 0.0], [0.3, 0.0], [0.3, 0.1], [0.0, 0.1]])
    strip = Sheet(loop, (), 0.018, 3e9, 3e9, 0.0)
    x, y = np.meshgrid(np.linspace(0.0, 0.15, 49), np.linspace(0.0, 0.1, 9))
    root = Supports(x.ravel(), y.ravel(), np.zeros(x.size), 1e12)
    tip = np.array([[0.3, y] for y in np.linspace(0.001, 0.099, 25)])
    return influence(plate_of(strip, root), tip, tip).mean() * 100.0 * 1e3


# example: how the program works it, and how near the hand calculation comes
EXAMPLES = {
    "E1": (push_and_pull, 1e-3),
    "E2": (one_cup_turned, 1e-3),
    "E3": (tipping, 1e-3),
    "E4": (tooth, 1e-3),
    "E5": (start_level, 1e-9),
    "E6": (one_hole, 1e-3),
    "E7": (through_board, 1e-3),
    "E8": (overhang, 2e-2),  # a field of stiff points, not a wall
}


def test_the_document_has_exactly_these_examples():
    assert set(ROWS) == set(EXAMPLES)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_worked_example_of_the_document(name):
    work, within = EXAMPLES[name]
    assert work() == pytest.approx(float(ROWS[name]), rel=within)


def test_every_picture_of_the_document_is_one_that_its_script_draws(monkeypatch):
    folder = ROOT / "docs" / "pictures"
    monkeypatch.syspath_prepend(str(folder))
    from make_model_pictures import PICTURES

    shown = set(re.findall(r"\(pictures/(\S+\.svg)\)", TEXT))
    assert shown == set(PICTURES)
    drawn = PICTURES["model-bending.svg"]()
    assert ElementTree.fromstring(drawn).tag.endswith("svg")
    assert (folder / "model-bending.svg").read_text(encoding="utf-8") == drawn


def test_every_test_and_file_that_the_document_names_is_there():
    named = set(re.findall(r"`(?:tests/hold/)?(test_\w+\.py)`", TEXT))
    assert len(named) >= 7
    assert not [name for name in named if not (ROOT / "tests" / "hold" / name).exists()]
    of_jobs = set(re.findall(r"`(tests/job/test_\w+\.py)`", TEXT))
    assert of_jobs
    assert not [name for name in of_jobs if not (ROOT / name).exists()]
    assert (ROOT / "tests" / "bench" / "bench_minimum.py").exists()
