"""The Ready board, the details and what sets the minimum: what the screen says."""

from __future__ import annotations

from dataclasses import replace

import pytest
import screen_scenes as scenes
from screen_plan import plan
from screen_scenes import DESK, WORDS, alarm, hold, permissives, plain, shown, snapshot

from kiosk.screen.show import numbers
from kiosk.screen.show.cupmap import shade
from kiosk.screen.show.shown import (
    HoldShown,
    ReadyShown,
    ReleaseShown,
    StopShown,
)

# -- ready board


def test_bad_files_are_listed_with_line_and_mend() -> None:
    snap = scenes.no_plan("SELECT JOB", jobs=(*scenes.JOBS, scenes.BAD_JOB))
    body = shown(snap, a_plan=None).body
    assert isinstance(body, ReadyShown)
    assert body.unusable[0].words == "bracket.job.toml"
    assert body.unusable[0].button is not None
    assert body.unusable[0].button.detail == "line 14: no key 'thicknes_mm'; write thickness_mm"
    assert {row.button.arguments for row in body.jobs if row.button} == {
        (("job", job.file),) for job in scenes.JOBS
    }


def test_a_refusal_stands_on_the_board() -> None:
    body = shown(scenes.no_plan("SELECT JOB", refusal="no cups"), a_plan=None).body
    assert isinstance(body, ReadyShown)
    assert body.refused_text == "no cups"


def test_many_jobs_are_paged() -> None:
    jobs = tuple(replace(scenes.JOBS[0], file=f"{n}.job.toml", id=f"J{n}") for n in range(8))
    snap = scenes.no_plan("SELECT JOB", jobs=jobs)
    first, second = (shown(snap, replace(DESK, page=n), None).body for n in (0, 1))
    assert len(first.jobs) == 6  # type: ignore[union-attr]
    assert [row.words for row in second.jobs] == ["J6", "J7"]  # type: ignore[union-attr]


def test_jobs_stand_by_id_with_numbers_by_size_whatever_their_files_are_called() -> None:
    names = ("PL-10", "pl-2", "AB-3", "PL-1")
    jobs = tuple(replace(scenes.JOBS[0], file=f"{n}.job.toml", id=name)
                 for n, name in enumerate(names))  # fmt: skip
    body = shown(scenes.no_plan("SELECT JOB", jobs=jobs), a_plan=None).body
    assert isinstance(body, ReadyShown)
    assert [row.words for row in body.jobs] == ["AB-3", "PL-1", "pl-2", "PL-10"]


def test_flags_stand_in_the_strip_the_abnormal_first() -> None:
    flags = shown(snapshot("CHECKING", flags=("SIMULATED", "NO DATA"))).strip.flags
    assert [(flag.words, flag.abnormal) for flag in flags] == [
        ("NO DATA", True), ("SIMULATED", False),
    ]  # fmt: skip


def test_the_full_disclaimer_is_one_touch_away() -> None:
    screen = shown(snapshot("READY"))
    assert screen.rail.details.opens == "details"
    sheet = shown(snapshot("READY"), replace(DESK, overlay="details")).overlay
    assert sheet is not None
    said = " ".join(text for _, text in sheet.lines)
    assert WORDS.say("aid.text") in said
    assert WORDS.say("caution.C05.text") in said


def test_the_vented_level_is_the_guard_s_own() -> None:
    snap = snapshot("RELEASE", release="may_release", details={"vented_kpa": 3.5})
    body = shown(snap).body
    assert isinstance(body, ReleaseShown)
    assert plain(body.rows[-1].words) == "Vacuum below 4 kPa"
    assert body.scale.marks[0].level == pytest.approx(3.5 / 99.9)


def test_a_job_can_be_left_only_when_there_is_one() -> None:
    def offered(snap: object) -> list[str]:
        sheet = shown(snap, replace(DESK, overlay="details", page=1), None).overlay
        assert sheet is not None
        return [button.command for button in sheet.buttons if button.command]

    allowed = ("select_job", "cancel_job")
    assert offered(scenes.no_plan("SELECT JOB", allowed=allowed)) == []
    planning = scenes.no_plan("SELECT JOB", allowed=allowed, planning="SR-210")
    assert offered(planning) == ["cancel_job"]
    assert offered(snapshot("SET UP", allowed=allowed)) == ["cancel_job"]


# -- what sets the minimum


@pytest.mark.parametrize(
    ("severity", "shade_shown"),
    [
        (None, 0),
        (0.0, 0),
        (0.49, 0),
        (0.5, 1),
        (0.74, 1),
        (0.75, 2),
        (0.94, 2),
        (0.95, 3),
        (1.0, 3),
    ],
)
def test_a_path_is_darker_the_nearer_it_comes_to_the_minimum(
    severity: float | None, shade_shown: int
) -> None:
    assert shade(severity) == shade_shown


def test_the_path_that_needs_most_lies_on_top() -> None:
    body = shown(snapshot("CHECKING")).body
    assert isinstance(body, HoldShown)
    assert [path.shade for path in body.map.paths] == [0, 2, 3]


def test_the_ten_that_need_most_are_listed_worst_first_with_line_and_tool() -> None:
    snap = snapshot("CHECKING", allowed=("cancel_job",))
    sheet = shown(snap, replace(DESK, overlay="details", page=2)).overlay
    assert sheet is not None
    assert (sheet.kind, len(sheet.rows)) == ("table", 10)
    first, second = sheet.rows[:2]
    assert plain(first.words) == "slides: line 148, tool 3, 212 N"
    assert (first.mark, plain(first.detail)) == ("1", "50 kPa")
    # 180, 112 and 40 N at right angles: 215.8 N
    assert plain(second.words) == "lifts: line 1001, tool 1, 216 N"
    assert [button.opens for button in sheet.buttons] == ["page:0", "page:1", ""]


def test_the_sheet_of_the_job_has_no_map_and_says_nothing_of_here() -> None:
    desk = replace(DESK, overlay="details", page=1)
    one = replace(plan(), program=replace(plan().program, tools=(3,)))  # type: ignore[type-var]
    for a_plan, tools in ((plan(), "tools 3, 1, 2."), (one, "tool 3.")):
        sheet = shown(snapshot("CHECKING"), desk, a_plan).overlay
        assert sheet is not None
        text = plain(sheet.lines[0][1])
        assert "First to slide: line 148, tool 3, 212 N." in text
        assert "here" not in text
        assert text.endswith(tools)


def test_the_alarm_of_a_calibration_names_the_gauge_and_its_date() -> None:
    due = alarm("A19", value=12.0, limit=30.0, unit="d")
    told = {"calibration": {"gauge": "table", "due": "2026-12-10"}}
    for details, said in ((told, "gauge table, due 2026-12-10"), ({}, "12, limit 30 d")):
        snap = scenes.no_plan("SELECT JOB", alarms=(due,), details=details)
        sheet = shown(snap, replace(DESK, overlay="alarms"), None).overlay
        assert sheet is not None
        assert sheet.alarms[0].facts.split(" · ")[-1] == said


def test_the_alarm_of_a_leak_names_the_row_and_how_many_times_its_baseline_it_is() -> None:
    leaks = alarm("A15", value=2.4, limit=2.0, unit="ratio", about="C")
    again, better = ({"leak": {"zone": zone, "ratio": 2.01}} for zone in ("C", "B"))
    for details, ratio in ((again, "2.01"), (better, "2.40"), ({}, "2.40")):
        said = f"row C, {ratio} times its baseline"
        snap = scenes.no_plan("SELECT JOB", alarms=(leaks,), details=details)
        sheet = shown(snap, replace(DESK, overlay="alarms"), None).overlay
        assert sheet is not None
        assert sheet.alarms[0].facts.split(" · ")[-1] == said


def test_the_weakest_number_is_named_with_its_grade() -> None:
    sheet = shown(snapshot("CHECKING"), replace(DESK, overlay="details", page=1)).overlay
    assert sheet is not None
    said = "Weakest number: cutting force across the grain, 125 N/mm2 (a judgement)"
    assert said in plain(sheet.lines[0][1])


def test_without_a_load_there_is_no_table_to_turn_to() -> None:
    bare = replace(plan(), governed_by=None, runners_up=())
    sheet = shown(snapshot("CHECKING"), replace(DESK, overlay="details", page=2), bare).overlay
    assert sheet is not None
    assert (sheet.kind, sheet.rows) == ("details", ())


def test_a_loose_frame_leaves_out_the_piece_that_it_goes_round() -> None:
    frame = ((0.0, 0.0), (100.0, 0.0), (100.0, 80.0), (0.0, 80.0))
    inside = ((10.0, 10.0), (90.0, 10.0), (90.0, 70.0), (10.0, 70.0))
    apart = ((200.0, 10.0), (290.0, 10.0), (290.0, 70.0), (200.0, 70.0))
    body = shown(
        snapshot("CHECKING"), a_plan=replace(plan(), loose=(frame,), keeps=(inside, apart))
    ).body
    assert isinstance(body, HoldShown)
    assert body.map.loose == ((frame, inside),)


def checks(state: str, rows: object, **more: object) -> dict[str, tuple[str, str]]:
    """Mark and number of each line of the list of checks, by its words."""
    snap = snapshot(state, permissives=rows, **more)
    sheet = shown(snap, replace(DESK, overlay="permissives")).overlay
    assert sheet is not None
    return {row.words: (row.mark, plain(row.detail)) for row in sheet.rows}


def test_asking_is_next_only_when_nothing_is_missing() -> None:
    early = checks("CHECKING", permissives(("hold_enough", "asked")))
    assert early["Permit is not asked for yet"] == ("wait", "")
    assert [words for words, (mark, _) in early.items() if mark == "no"] == [
        "Hold is below start level"
    ]
    ready = checks("READY", permissives(("asked",)))
    assert next(iter(ready)) == "Next: ask for the permit"
    assert {mark for mark, _ in ready.values()} == {"ask", "yes"}
    advice = checks("READY", permissives(("asked",)), flags=("ADVICE ONLY",))
    assert advice["No permit here: contacts are not wired"] == ("wait", "")


def test_a_proved_hold_tells_the_level_that_it_must_keep() -> None:
    assert checks("READY", scenes.kept())["Hold is proved"] == ("yes", "247 %, must keep 110 %")
    low = checks("CHECKING", permissives(("hold_enough", "asked")))
    assert low["Hold is below start level"] == ("no", "108 %, needs 115 %")


def test_checks_tell_a_number_only_where_it_helps() -> None:
    said = {words: number for words, (_, number) in checks("READY", scenes.kept()).items()}
    assert {words: number for words, number in said.items() if number} == {
        "Hold is proved": "247 %, must keep 110 %",
        "Log has room": "30 % free, needs 5 %",
        "Gauges agree": "0.42 apart, limit 3 kPa",
        "Minimum is worked out": "35 kPa",  # a need of 34.4 is rounded up, as on the instrument
        "Vacuum is steady": "0.2, limit 0.5 kPa/s",
    }
    old = checks("CHECKING", permissives(("gauge_fresh",)))
    assert old["Gauge value is old"] == ("no", "0.04 s old")


@pytest.mark.parametrize(
    ("value", "said"), [(-0.004, "0"), (-0.0, "0"), (-0.25, "-0.25"), (-30.2, "-30")]
)
def test_nought_has_no_sign(value: float, said: str) -> None:
    assert numbers.plain(value) == said


def test_in_a_loss_alarms_that_can_wait_are_not_counted() -> None:
    quiet, loss = alarm("A20", quiet=True), alarm("A01")
    place = shown(snapshot("HOLD LOST", alarms=(loss, quiet))).rail.alarms
    assert place == shown(snapshot("HOLD LOST", alarms=(loss,))).rail.alarms
    sheet = shown(snapshot("HOLD LOST", alarms=(loss, quiet)), replace(DESK, overlay="alarms"))
    assert sheet.overlay is not None
    assert [row.code for row in sheet.overlay.alarms] == ["A01", "A20"]


def test_an_alarm_that_the_end_of_the_cut_cleared_does_not_read_as_gone() -> None:
    def told(code: str, **more: object) -> list[str]:
        row = alarm(code, active=False, **more)
        sheet = shown(snapshot("HOLD LOST", alarms=(row,)), replace(DESK, overlay="alarms"))
        assert sheet.overlay is not None
        return sheet.overlay.alarms[0].facts.split(" · ")[1:-1]

    latched = ["not cutting any more", "needs reset"]
    assert told("A01", cut_over=True) == told("A01", cut_over=True, acknowledged=True) == latched
    assert told("A05", cut_over=True) == ["not cutting any more"]
    assert told("A01", acknowledged=True) == ["needs reset"]
    assert told("A05") == ["gone, not seen"]


def test_a_refusal_says_which_job_it_is_about() -> None:
    snap = scenes.scenes()["select-job-refused"][0]
    assert snap is not None
    for details, said in (
        ({"refused_job": "cover-plate.job.toml"}, "Refused: CP-044"),
        ({"refused_job": "gone.job.toml"}, "Refused: gone.job.toml"),
        ({}, "Refused"),
    ):
        body = shown(replace(snap, details=details)).body
        assert isinstance(body, ReadyShown)
        assert body.refused == said


def test_a_hold_below_nothing_is_called_nothing_everywhere() -> None:
    rows = tuple(
        replace(row, value=-0.1, limit=1.15) if row.code == "hold_enough" else row
        for row in permissives(("hold_enough", "asked"))
    )
    snap = snapshot("CHECKING", permissives=rows, hold=hold(0.4))
    on = shown(snap, replace(DESK, overlay="permissives"))
    assert isinstance(on.body, HoldShown)
    assert on.body.percent == "0"
    assert on.overlay is not None
    below = next(row for row in on.overlay.rows if "below start level" in row.words)
    assert plain(below.detail) == "0 %, needs 115 %"


@pytest.mark.parametrize(("active", "step"), [(True, "Axes still moving"), (False, "Press feed")])
def test_a_feed_hold_that_is_not_answered_is_a_matter_for_the_emergency_stop(
    active: bool, step: str
) -> None:
    ran_on = replace(scenes.alarm("A26"), active=active)
    body = shown(snapshot("NO PERMIT", alarms=(ran_on,))).body
    assert isinstance(body, StopShown)
    assert body.steps[0].words.startswith(step)
