"""Leak tests: the sum, the file, and ``holdpoint measure leak`` typed."""

from __future__ import annotations

import datetime
import io
from dataclasses import replace
from pathlib import Path

import pytest

from kiosk import cli
from kiosk.hold.airflow import leak_from_rise
from kiosk.leaks import LeakTest, found, load_leaks, worst
from kiosk.measure.leak import LEAKS_HEAD, leak_row
from kiosk.mistakes import BadInput
from kiosk.places import is_there
from kiosk.site import load_site

SITE = Path(__file__).resolve().parents[2] / "hardware" / "site" / "demo.site.toml"
DAY = datetime.date(2026, 11, 20)
BASE = LeakTest("Demonstration router", "B", DAY, "07", "mdf blank", 70.0, 68.0, 60.0, True)
ZONES = tuple("ABCDEF")


def test_the_rise_is_that_of_a_constant_mass_flow() -> None:
    """40 CFR 1065.644, vacuum-decay leak rate, its worked example: 2.000 L, 25.3 to 50.6 kPa
    absolute in 70 s at 293.15 K is 3.0e-4 mol/s; R = 8.314 J/(mol K)."""
    test = replace(BASE, begin_kpa=101.0 - 25.3, end_kpa=101.0 - 50.6, seconds=70.0)
    flow = leak_from_rise(0.002, test.rise_kpa_min * 1000.0, 60.0)  # Pa m3/s
    assert flow / (8.314 * 293.15) == pytest.approx(3.0e-4, rel=0.02)


@pytest.mark.parametrize(("end", "ratio"), [(66.0, 2.0), (65.99, 2.005), (68.0, 1.0), (70.0, 0.0)])
def test_the_newest_is_compared_with_the_newest_baseline_up_to_it(end: float, ratio: float) -> None:
    later = replace(BASE, end_kpa=end, date=datetime.date(2026, 11, 25), baseline=False)
    newer = replace(BASE, end_kpa=61.0, date=datetime.date(2026, 11, 21))
    both = found((later, BASE))
    assert both is not None
    assert both.ratio == pytest.approx(ratio)
    third = found((later, newer, BASE))
    assert third is not None
    assert third.base is newer


def test_a_tight_baseline_counts_as_half_a_kpa_and_more_in_a_shorter_test() -> None:
    tight = replace(BASE, end_kpa=70.0)
    for seconds, floor in ((120.0, 0.5), (60.0, 0.5), (10.0, 3.0)):
        pair = found((tight, replace(BASE, seconds=seconds, baseline=False)))
        assert pair is not None
        assert pair.floor_kpa_min == pytest.approx(floor)
        assert pair.ratio == pytest.approx(2.0 / seconds * 60.0 / floor)


def test_the_worst_zone_of_this_machine_counts() -> None:
    leaky = replace(BASE, zone="C", end_kpa=69.0)
    rows = (BASE, leaky, replace(leaky, end_kpa=67.0, baseline=False),
            replace(BASE, site="Another", end_kpa=50.0))  # fmt: skip
    one = worst(rows, BASE.site)
    assert one is not None
    assert (one.test.zone, one.ratio) == ("C", pytest.approx(3.0))
    assert worst(rows, "Nobody") is None


@pytest.mark.parametrize(
    ("was", "becomes", "line", "mend"),
    [
        ("rise_kpa_min = 2.0", "rise_kpa_min = 2.1", 14, "write that, or mend the readings"),
        ('zone = "B"', 'zone = "Q"', 7, "one that it has (A, B, C"),
        ("end_kpa = 68.0", "end_kpa = 71.0", 12, "close the valve"),
        ("date = 2026-11-20", 'date = "soon"', 8, "write date = 2026-01-31"),
        ("seconds = 60.0", "seconds = 5.0", 13, "write a number from 10 to 600"),
        ("baseline = true", "baseline = 1", 15, "write true or false"),
        ('person = "07"', 'persn = "07"', 9, 'write "person"'),
    ],
)
def test_a_mistake_is_told_with_its_line_and_its_mend(
    was: str, becomes: str, line: int, mend: str, tmp_path: Path
) -> None:
    text = LEAKS_HEAD + "\n" + leak_row(BASE)
    assert was in text
    path = tmp_path / "leaks.toml"
    path.write_text(text)
    assert load_leaks(path, BASE.site, ZONES) == (BASE,)
    path.write_text(text.replace(was, becomes))
    with pytest.raises(BadInput) as bad:
        load_leaks(path, BASE.site, ZONES)
    (mistake,) = bad.value.mistakes
    assert mistake.line == line
    assert mend in mistake.text


def test_a_date_ahead_is_a_mistake_for_who_knows_the_day(tmp_path: Path) -> None:
    path = tmp_path / "leaks.toml"
    path.write_text(LEAKS_HEAD + "\n" + leak_row(BASE))
    assert load_leaks(path, BASE.site, ZONES, BASE.date) == (BASE,)
    with pytest.raises(BadInput, match="is after today: write the day of the test"):
        load_leaks(path, BASE.site, ZONES, BASE.date - datetime.timedelta(days=1))


def test_a_test_before_the_newest_kept_one_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())
    words = ("--begin-kpa", "70", "--end-kpa", "68", "--keep", "--date")
    assert run(tmp_path, *words, "2026-11-20") == 0
    assert run(tmp_path, *words, "2026-11-20") == 0
    assert run(tmp_path, *words, "2026-11-19", "--baseline") == 2
    assert "--date: zone B has a newer test, of 2026-11-20" in capsys.readouterr().err


def test_a_folder_that_may_not_be_entered_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "stat", refuse)
    with pytest.raises(BadInput, match="cannot be read"):
        is_there(Path("leaks.toml"))


def run(data: Path, *words: str) -> int:
    return cli.main(["measure", "leak", "--site", str(SITE), "--data", str(data), "--zone", "B",
                     "--seconds", "60", "--person", "07", "--conditions", "mdf blank",
                     "--cautions-read", *words])  # fmt: skip


def test_typed_tests_are_told_and_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert run(tmp_path, "--begin-kpa", "70", "--end-kpa", "68", "--keep") == 0
    assert "baseline   this test" in capsys.readouterr().out
    assert run(tmp_path, "--begin-kpa", "70", "--end-kpa", "65", "--keep") == 0
    said = capsys.readouterr().out
    assert "rise       5.00 kPa/min" in said
    assert "ratio      2.50 times the baseline" in said
    assert "Look at lips, seals, check ball and seat of zone B" in said
    assert run(tmp_path, "--begin-kpa", "70", "--end-kpa", "65", "--baseline", "--keep") == 1
    assert "add --keep-unusual" in capsys.readouterr().out
    rows = load_leaks(tmp_path / "leaks.toml", load_site(SITE).name, ZONES)
    assert [(row.end_kpa, row.baseline) for row in rows] == [(68.0, True), (65.0, False)]


# 320 m: 97.54 kPa (ISO 2533); x (1 - 0.5283), the critical pressure ratio of air, = 46.0 kPa
@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--begin-kpa", "70", "--end-kpa", "45.9"), "--end-kpa: under 46.0 kPa the air comes"),
        (("--begin-kpa", "70", "--end-kpa", "71"), "--end-kpa: the vacuum is greater at the end"),
        (("--begin-kpa", "70"), "--end-kpa: is missing"),
        (("--begin-kpa", "70", "--end-kpa", "68", "--zone", "Q"), "--zone: give one of A, B"),
    ],
)
def test_what_is_no_test_is_refused_and_nothing_kept(
    words: tuple[str, ...], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr("sys.stdin", io.StringIO())
    assert run(tmp_path, *words, "--keep") == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "leaks.toml").exists()
