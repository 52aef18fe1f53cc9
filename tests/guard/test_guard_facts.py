"""What the guard tells the decision of site, plan and clock, and what it adds to an alarm's row."""

from __future__ import annotations

import ctypes
from dataclasses import replace
from pathlib import Path

import pytest

from kiosk import words
from kiosk.guard import clock
from kiosk.guard.gather import plan_facts, site_facts
from kiosk.guard.main import monotonic_s
from kiosk.guard.told import with_text
from kiosk.interlock.decision import Note
from kiosk.site import load_site
from kiosk.site.types import Pump
from tests.records.log_story import a_plan

ROOT = Path(__file__).resolve().parents[2]
SITE = load_site(ROOT / "hardware" / "site" / "demo.site.toml")


def test_dates_and_times_of_the_site_reach_the_decision() -> None:
    gauge = replace(SITE.gauges[0], frozen_s=90.0, calibration_due="2027-01-31")
    site = replace(
        SITE,
        gauges=(gauge,),
        pump=Pump(((0.0, 40.0), (90.0, 0.0)), 4.5),
        lockout_inspected="2026-03-01",
    )
    facts = site_facts(site)
    assert (facts.gauges[0].frozen_s, facts.gauges[0].calibration_due) == (90.0, "2027-01-31")
    assert (facts.pull_down_s, facts.lockout_inspected) == (4.5, "2026-03-01")
    assert facts.digest == site.digest
    assert site_facts(replace(site, pump=None)).pull_down_s is None


@pytest.mark.parametrize(("material", "leaks"), [("beech", False), ("mdf", True)])
def test_a_board_that_air_comes_through_is_known_by_its_material(
    material: str, leaks: bool
) -> None:
    assert plan_facts(replace(a_plan(), material=material)).leaks is leaks


@pytest.mark.parametrize(("answer", "synced"), [(0, True), (3, True), (5, False), (-1, None)])
def test_the_clock_is_synchronised_unless_the_kernel_says_error(
    answer: int, synced: bool | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """adjtimex(2): 5 is TIME_ERROR, 0 to 4 are states of a synchronised clock, -1 a failure."""

    class Library:
        @staticmethod
        def adjtimex(_: object) -> int:
            return answer

    monkeypatch.setattr(clock.sys, "platform", "linux")
    monkeypatch.setattr(ctypes, "CDLL", lambda name: Library)
    assert clock.synced() is synced


def test_where_the_kernel_cannot_be_asked_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock.sys, "platform", "plan9")
    assert clock.synced() is None
    monkeypatch.setattr(clock.sys, "platform", "linux")
    monkeypatch.setattr(ctypes, "CDLL", lambda name: object())
    assert clock.synced() is None


def test_this_kernel_answers_one_of_three() -> None:
    assert clock.synced() in (True, False, None)


def changes(notes: tuple[Note, ...]) -> list[object]:
    return [note.data["change"] for note in notes]


@pytest.mark.parametrize(
    ("utc", "step_s"), [("2026-11-28T10:00:03.001Z", 2.001), ("2026-11-28T09:59:58.000Z", -3.0)]
)
def test_a_wall_clock_that_was_set_is_told_with_both_times(utc: str, step_s: float) -> None:
    """More than 2 s beside what the monotonic clock says has passed."""
    watch = clock.ClockWatch()
    watch.look(50.0, "2026-11-28T10:00:00.000Z", True, None)
    (note,) = watch.look(51.0, utc, True, "c-1")
    assert (note.kind, note.cycle) == ("clock", "c-1")
    assert note.data == {
        "change": "set", "from": "2026-11-28T10:00:01.000Z", "to": utc, "step_s": step_s,
        "synced": True,
    }  # fmt: skip
    assert watch.look(52.0, utc.replace("03.001", "04.001"), True, None) == ()


@pytest.mark.parametrize("utc", ["2026-11-28T10:00:03.000Z", "2026-11-28T09:59:59.000Z"])
def test_a_wall_clock_that_is_led_slowly_is_not_told(utc: str) -> None:
    watch = clock.ClockWatch()
    watch.look(50.0, "2026-11-28T10:00:00.000Z", True, None)
    assert watch.look(51.0, utc, True, None) == ()


def test_whether_the_wall_clock_follows_a_server_is_told_at_first_and_when_it_changes() -> None:
    watch, utc = clock.ClockWatch(), "2026-11-28T10:00:00.000Z"
    assert changes(watch.look(50.0, utc, None, None)) == ["synced"]
    assert changes(watch.look(50.1, utc, None, None)) == []
    (note,) = watch.look(50.2, utc, False, None)
    assert note.data == {"change": "synced", "synced": False}


def test_an_alarm_s_row_has_the_text_that_was_shown_and_its_language() -> None:
    catalogue = words.load()
    told = with_text(Note("alarm", "c-1", {"code": "A17", "change": "raised"}), catalogue)
    assert told.data["text"] == catalogue.say("alarm.A17.title")
    assert told.data["language"] == "en"
    other = Note("plan", None, {"change": "dropped"})
    assert with_text(other, catalogue) is other


def test_the_guard_s_clock_is_in_whole_microseconds() -> None:
    for at_s in (monotonic_s() for _ in range(100)):
        assert round(at_s * 1e6) / 1e6 == at_s
