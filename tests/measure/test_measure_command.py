"""``holdpoint measure`` with options only: what it shows, keeps, refuses."""

from __future__ import annotations

import datetime
import io
import re
from pathlib import Path

import pytest

from kiosk import cli
from kiosk.shop import load_shop
from tests.measure.measure_lines import CUT_LINE, PULL_LINE, TILT_LINE, words_of
from tests.measure.shop_files import HEAD, PULL, TODAY

ROOT = Path(__file__).resolve().parents[2]
HELD = ("--cups", "--seal-mm", "--vacuum-kpa", "--gauge-error-kpa")
DEMO_SITE = str(ROOT / "hardware" / "site" / "demo.site.toml")


@pytest.fixture(autouse=True)
def no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())


class Run:
    """Runs a command line with a data folder of its own."""

    def __init__(self, data: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.data = data
        self._capsys = capsys

    def __call__(self, *words: str) -> tuple[int, str, str]:
        status = cli.main([*words, "--data", str(self.data)])
        shown = self._capsys.readouterr()
        return status, shown.out, shown.err

    @property
    def shop_file(self) -> Path:
        return self.data / "shop.toml"


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    return Run(tmp_path / "data", capsys)


def test_a_pull_is_shown_step_by_step_as_worked_by_hand(run: Run) -> None:
    """60 kPa x 4 x 3631.68 mm2 = 871.60 N, 2 kg = 19.61 N: 300 N over 891.22 N is 0.3366.

    0.3366, 0.3478, 0.3422: mean 0.3422, s 0.00561, low end 0.3422 - 2.920 s / sqrt 3 = 0.3328;
    x 0.75 = 0.2496.
    """
    status, out, err = run(*words_of("friction", PULL_LINE), "--cautions-read")
    assert (status, err) == (0, "")
    assert "repeats    0.337 0.348 0.342" in out
    assert "mean       0.342, spread 3 %" in out
    assert "low end    0.333" in out
    assert "x 0.750    a cutter shakes the part" in out
    assert "counts as  0.249" in out
    assert "the table  0.150 counts" in out
    assert not run.shop_file.exists()  # nobody asked to keep it


def test_the_tilt_of_31_degrees(run: Run) -> None:
    status, out, _ = run(*words_of("friction", TILT_LINE), "--cautions-read")
    assert status == 0
    assert "mean       0.601" in out  # tan 31 deg = 0.60086
    assert "x 0.800    a held lip is pressed harder" in out
    assert "counts as  0.360" in out  # 0.60086 x 0.75 x 0.8 = 0.36052


def test_power_in_particleboard_is_its_published_cutting_force(run: Run) -> None:
    # Palubicki, Materials 14 (2021) 2208: 37.6 N/mm2; 1444 W over 38,400 mm3/s
    status, out, _ = run(*words_of("cutting", CUT_LINE), "--cautions-read")
    assert status == 0
    assert "repeats    37.6 37.1 38.1 at a mean chip of 0.255 mm" in out


@pytest.mark.parametrize(("what", "line"), [("friction", PULL_LINE), ("friction", TILT_LINE),
                                            ("cutting", CUT_LINE)])  # fmt: skip
def test_the_cautions_come_first_and_must_be_read(
    run: Run, what: str, line: dict[str, str]
) -> None:
    status, out, err = run(*words_of(what, line))
    assert (status, out) == (2, "")  # all on one stream, the cautions above what is missing
    cautions, told = err.split("--cautions-read: ")
    assert "not a safety device" in cautions
    assert "spindle" in cautions.lower()
    assert "in line with the" in re.sub(r"\s+", " ", cautions)
    assert told.startswith("is missing: read the cautions above")
    assert len(told.splitlines()) == 1


def test_cautions_that_were_read_are_shown_with_the_result(run: Run) -> None:
    status, out, err = run(*words_of("friction", PULL_LINE), "--cautions-read")
    assert (status, err) == (0, "")
    assert out.index("not a safety device") < out.index("repeats")


def test_what_is_kept_is_read_back_as_it_was_given(run: Run) -> None:
    for what, line in (("friction", PULL_LINE), ("friction", TILT_LINE), ("cutting", CUT_LINE)):
        status, out, err = run(*words_of(what, line), "--cautions-read", "--keep")
        assert (status, err) == (0, "")
        assert f"Kept in {run.shop_file}" in out
        assert "by no other guard" in out
    shop = load_shop(run.shop_file, TODAY)
    pull, tilt = shop.friction
    assert (pull.pulls_n, pull.vacuum_kpa, pull.cups) == ((300.0, 310.0, 305.0), 60.0, 4)
    assert (pull.person, pull.date) == ("07", datetime.date(2026, 11, 20))
    assert pull.used == 0.249
    assert (tilt.angles_deg, tilt.used) == ((31.0, 31.0, 31.0), 0.360)
    (cut,) = shop.cutting
    assert (cut.powers_w, cut.idle_w, cut.grain) == ((1944.0, 1924.0, 1964.0), (500.0,), None)


STOP_LINE = {**PULL_LINE, "--contact": "stop", "--lip": None, "--pull-n": "200 205 210"}
WEIGHT_LINE = {
    **{key: value for key, value in PULL_LINE.items() if key not in HELD},
    "--method": "weight",
    "--pull-n": "4 4.1 4.2",
}


@pytest.mark.parametrize("line", [STOP_LINE, WEIGHT_LINE])
def test_the_other_ways_are_kept_too(run: Run, line: dict[str, str]) -> None:
    # 4 N moves 2 kg (19.61 N): 0.204; 200 N moves 891.22 N: 0.224
    status, _, err = run(*words_of("friction", line), "--cautions-read", "--keep")
    assert (status, err) == (0, "")
    (test,) = load_shop(run.shop_file, TODAY).friction
    assert (test.method, test.contact) == (line["--method"], line["--contact"])


def test_words_of_any_script_and_with_quotes_survive_the_file(run: Run) -> None:
    odd = 'Stäube "fein" \\ 21 °C'
    run(*words_of("friction", PULL_LINE, conditions=odd), "--cautions-read", "--keep")
    assert load_shop(run.shop_file, TODAY).friction[0].conditions == odd


def test_a_persons_remarks_in_the_file_stay(run: Run) -> None:
    run.data.mkdir()
    run.shop_file.write_text(HEAD + "# remeasure in May\n" + PULL, encoding="utf-8")
    run(*words_of("cutting", CUT_LINE), "--cautions-read", "--keep")
    text = run.shop_file.read_text(encoding="utf-8")
    assert text.startswith(HEAD + "# remeasure in May\n" + PULL)
    assert (len(load_shop(run.shop_file, TODAY).friction), text.count("[[cutting]]")) == (1, 1)
    assert [path.name for path in run.data.iterdir()] == ["shop.toml"]


def test_a_wrong_shop_file_is_told_before_anything_is_measured(run: Run) -> None:
    run.data.mkdir()
    run.shop_file.write_text(HEAD + PULL.replace("cups = 1", "cups = 0"), encoding="utf-8")
    before = run.shop_file.read_bytes()
    status, out, err = run(*words_of("friction", PULL_LINE), "--cautions-read", "--keep")
    assert (status, out) == (2, "")
    assert err.startswith("shop.toml:12: cups is 0")
    assert run.shop_file.read_bytes() == before


def test_a_named_shop_file_is_written(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "router-2.shop.toml"
    run(*words_of("cutting", CUT_LINE), "--cautions-read", "--keep", "--shop", str(path))
    assert len(load_shop(path, TODAY).cutting) == 1
    assert not run.shop_file.exists()


def test_a_measurement_that_cannot_be_written_is_not_lost(run: Run) -> None:
    status, _, err = run(*words_of("cutting", CUT_LINE), "--cautions-read", "--keep", "--shop",
                         "/proc/none/shop.toml")  # fmt: skip
    assert status == 2
    assert err.startswith("/proc/none/shop.toml: cannot be written")
    assert "powers_w = [1944.0, 1924.0, 1964.0]" in err


def test_the_site_gives_lip_seal_and_gauge_error(run: Run) -> None:
    line = {k: v for k, v in PULL_LINE.items()
            if k not in ("--contact", "--lip", "--seal-mm", "--gauge-error-kpa")}  # fmt: skip
    status, out, err = run(*words_of("friction", line), "--cautions-read", "--keep",
                           "--site", DEMO_SITE)  # fmt: skip
    assert (status, err) == (0, "")
    (test,) = load_shop(run.shop_file, TODAY).friction
    assert (test.lip, test.contact, test.seal_diameter_mm, test.gauge_error_kpa) == (
        "nitrile", "lip", 68.0, 1.0,
    )  # fmt: skip
    # 891.22 N pressed as shown, 905.74 N with the gauge 1 kPa off
    assert "x 0.984    the gauge may show too little" in out
    other = ("--contact", "stop")
    status, out, err = run(*words_of("friction", line), "--cautions-read", "--site", DEMO_SITE,
                           *other)  # fmt: skip
    assert (status, err) == (0, "")
    assert "on a stop" in out


# -- numbers that are not kept -------------------------------------------------------------


@pytest.mark.parametrize(
    ("pulls", "words"),
    [
        ("300 310", "2 repeats: 3 at least are needed"),
        ("300 310 360", "measure 2 more"),  # 60 / 323 = 19 %
        ("300 310 430", "find what differs and measure again"),  # 130 / 347 = 38 %
        (" ".join(["300"] * 21), "21 repeats: 20 at most"),
    ],
)
def test_repeats_that_scatter_or_lack_give_no_number(run: Run, pulls: str, words: str) -> None:
    line = words_of("friction", PULL_LINE, pull_n=pulls)
    status, out, _ = run(*line, "--cautions-read", "--keep")
    assert status == 1
    assert words in re.sub(r"\s+", " ", out)
    assert not run.shop_file.exists()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (words_of("friction", PULL_LINE, pull_n="900 910 905"), "above all that the table knows"),
        (words_of("cutting", CUT_LINE, power_w="700 700 700"), "below all that the table knows"),
    ],
)
def test_a_number_bolder_than_the_table_is_kept_only_when_said_twice(
    run: Run, line: list[str], words: str
) -> None:
    status, out, _ = run(*line, "--cautions-read", "--keep")
    assert status == 1
    assert words in re.sub(r"\s+", " ", out)
    assert "add --keep-unusual" in out
    assert not run.shop_file.exists()
    status, _, _ = run(*line, "--cautions-read", "--keep", "--keep-unusual")
    assert status == 0
    assert run.shop_file.exists()


def test_a_number_more_cautious_than_the_table_is_kept_at_once(run: Run) -> None:
    line = words_of("friction", PULL_LINE, pull_n="120 121 122")
    assert run(*line, "--cautions-read", "--keep")[0] == 0
    heavy = words_of("cutting", CUT_LINE, power_w="4000 4010 4020")
    assert run(*heavy, "--cautions-read", "--keep")[0] == 0


# -- what a person can get wrong -----------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "line", "changes", "told"),
    [
        ("friction", PULL_LINE, {"material": "mfd"}, ["--material: give one of beech, "]),
        ("friction", PULL_LINE, {"underside": "rough", "surface": "sandy"},
         ["--underside: give one of planed", "--surface: give one of clean"]),
        ("friction", PULL_LINE, {"vacuum_kpa": "-60"}, ["--vacuum-kpa: give a number from 5 to"]),
        ("friction", PULL_LINE, {"vacuum_kpa": "nan"}, ["--vacuum-kpa: give a number from 5 to"]),
        ("friction", PULL_LINE, {"pull_n": "300 inf 310"}, ["--pull-n: give a number from 0.1"]),
        ("friction", PULL_LINE, {"cups": None, "mass_kg": None},
         ["--mass-kg: is missing", "--cups: is missing"]),
        ("friction", PULL_LINE, {"pull_n": None}, ["--pull-n: is missing"]),
        ("friction", PULL_LINE, {"angle_deg": "30"}, ["--angle-deg: does not go with the method"]),
        ("friction", PULL_LINE, {"contact": "stop"}, ["--lip: does not go with a stop"]),
        ("friction", TILT_LINE, {"cups": "3"}, ["--cups: does not go with the method tilt"]),
        ("friction", TILT_LINE, {"angle_deg": "30 80 31"}, ["--angle-deg: give a number from 1"]),
        ("friction", PULL_LINE, {"person": None}, ["--person: is missing"]),
        ("friction", PULL_LINE, {"person": "x" * 21}, ["--person: give plain text of at most 20"]),
        ("friction", PULL_LINE, {"conditions": "a\tb"}, ["--conditions: give plain text"]),
        ("friction", PULL_LINE, {"date": "2999-01-01"}, ["--date: 2999-01-01 is after today"]),
        ("cutting", CUT_LINE, {"grain": "along"}, ["--grain: Particleboard cuts the same all"]),
        ("cutting", CUT_LINE, {"material": "oak"}, ["--grain: is missing"]),
        ("cutting", CUT_LINE, {"material": "oak", "grain": "along"}, ['--grain: is "along"']),
        ("cutting", CUT_LINE, {"width_mm": "21"}, ["--width-mm: is wider than the cutter"]),
        ("cutting", CUT_LINE, {"idle_w": "500 510"}, ["--idle-w: needs one number, or one for"]),
        ("cutting", CUT_LINE, {"efficiency": "80"}, ["--efficiency: give a number from 0.5 to 1"]),
        ("cutting", CUT_LINE, {"flutes": "0", "power_w": None},
         ["--flutes: give a number from 1", "--power-w: is missing"]),
    ],
)  # fmt: skip
def test_wrong_answers_are_told_all_at_once_and_nothing_is_kept(
    run: Run, what: str, line: dict[str, str], changes: dict[str, str | None], told: list[str]
) -> None:
    status, _, err = run(*words_of(what, line, **changes), "--cautions-read", "--keep")
    assert status == 2
    lines = err.splitlines()
    assert len(lines) == len(told)
    assert all(shown.startswith(start) for shown, start in zip(lines, told, strict=True))
    assert not run.shop_file.exists()


def test_everything_that_is_missing_is_told_at_once(run: Run) -> None:
    status, _, err = run("measure", "friction", "--method", "pull")
    assert status == 2
    told = [line.split(":")[0] for line in err.splitlines()]
    assert [option for option in told if option.startswith("--")] == [
        "--cautions-read", "--material", "--underside", "--surface", "--contact", "--lip",
        "--mass-kg", "--cups", "--seal-mm", "--vacuum-kpa", "--pull-n",
    ]  # fmt: skip


def test_a_cut_that_hardly_shows_gives_no_number(run: Run) -> None:
    line = words_of("cutting", CUT_LINE, power_w="550 555 552")
    status, out, _ = run(*line, "--cautions-read", "--keep")
    assert status == 1
    assert "cut deeper or feed faster" in re.sub(r"\s+", " ", out)
