"""What the screen says, without a window."""

from __future__ import annotations

from dataclasses import replace

import pytest
import screen_scenes as scenes
from screen_plan import plan
from screen_scenes import DESK, WORDS, alarm, hold, permissives, plain, shown, snapshot, zones

from kiosk.interlock.states import State
from kiosk.screen.show import CAUTION_OF, SILENT_S, VIEW_OF
from kiosk.screen.show.frame import STEP_OF
from kiosk.screen.show.scale import ratio_at
from kiosk.screen.show.shown import (
    DeadShown,
    HoldShown,
    ReleaseShown,
    SetupShown,
    StopShown,
    WatchShown,
)


@pytest.mark.parametrize("state", list(State))
def test_every_state_has_a_view_a_caution_and_a_step(state: State) -> None:
    assert {state.value} <= VIEW_OF.keys() & CAUTION_OF.keys() & STEP_OF.keys()
    screen = shown(snapshot(state.value))
    assert screen.strip.word == WORDS.say(f"state.{state.value.replace(' ', '_')}")
    assert screen.foot.text
    assert screen.foot.aid


@pytest.mark.parametrize("state", list(State))
def test_no_screen_offers_what_only_the_machine_may_do(state: State) -> None:
    everything = (
        "select_job", "cancel_job", "confirm_zone", "undo_zone", "confirm_part", "confirm_map",
        "retake_plan", "request_permit", "withdraw", "finish", "next_part", "job_done",
        "acknowledge", "reset",
    )  # fmt: skip
    screen = shown(snapshot(state.value, allowed=everything, alarms=(alarm("A05"),)))
    for button in screen.rail.buttons:
        assert button.command in ("", *everything)


@pytest.mark.parametrize("sheet", ["", "alarms"])
def test_seen_is_said_of_what_is_shown_and_a_new_alarm_is_another_act(sheet: str) -> None:
    """A press that began before the new one came is given up: nobody has read it yet."""
    desk = replace(DESK, overlay=sheet)
    few = (alarm("A06"), alarm("A01"), alarm("A05", acknowledged=True))
    before, after = (
        next(
            button
            for button in (screen.overlay.buttons if screen.overlay else screen.rail.buttons)
            if button.command == "acknowledge"
        )
        for alarms in (few, (*few, alarm("A02")))
        for screen in [shown(snapshot("HOLD LOST", alarms=alarms, allowed=("acknowledge",)), desk)]
    )
    for button, codes in ((before, ("A01", "A06")), (after, ("A01", "A02", "A06"))):
        when = tuple(alarm(code).raised_utc for code in codes)
        assert button.arguments == (("alarm", codes), ("came", when))
    assert before.act != after.act


def test_a_silent_guard_blanks_every_number_within_a_second() -> None:
    assert SILENT_S < 1.0
    screen = shown(snapshot("CUTTING"), replace(DESK, silent_s=SILENT_S + 0.01))
    assert screen.view == "dead"
    assert screen.strip.word == WORDS.say("state.NO_GUARD")
    assert screen.rail.buttons == ()
    assert screen.rail.alarms.words == ""
    sheet = shown(snapshot("CUTTING"), replace(DESK, silent_s=2.0, overlay="details")).overlay
    assert sheet is not None
    assert WORDS.say("aid.text") in " ".join(text for _, text in sheet.lines)
    assert not any(ch.isdigit() for ch in screen.body.title)  # type: ignore[union-attr]


def test_of_what_to_do_without_a_guard_staying_out_comes_first() -> None:
    body = shown(snapshot("CUTTING"), replace(DESK, silent_s=2.0)).body
    assert isinstance(body, DeadShown)
    assert [(row.mark, row.present) for row in body.steps] == [
        ("1", True), ("2", False), ("3", False)]  # fmt: skip


def test_a_screen_that_never_heard_the_guard_says_so() -> None:
    assert shown(None, replace(DESK, silent_s=None)).view == "dead"


def test_another_plans_map_is_never_shown() -> None:
    other = replace(plan(), digest="f" * 64)
    body = shown(snapshot("SET UP", zones=zones("AB"), part_confirmed=False), a_plan=other).body
    assert isinstance(body, SetupShown)
    assert body.map.seats == ()
    assert body.map.empty == WORDS.say("setup.no_plan")
    assert body.title == plain(body.title)[:0] + "Row\u00a0C"


# -- hold check


def test_the_missing_condition_stands_on_top_with_its_remedy() -> None:
    snap = snapshot("CHECKING", permissives=permissives(("gauge_fresh", "hold_enough", "asked")))
    body = shown(snap).body
    assert isinstance(body, HoldShown)
    assert body.title == WORDS.say("permissive.gauge_fresh.no")
    assert body.text == WORDS.say("permissive.gauge_fresh.do")


def test_the_permit_can_be_asked_for_only_when_the_guard_allows_it() -> None:
    ask = shown(snapshot("CHECKING", permissives=permissives(("hold_enough",)))).rail.buttons[-1]
    assert (ask.enabled, ask.detail) == (False, "not yet: 1 missing")
    ready = snapshot("READY", permissives=permissives(("asked",)), allowed=("request_permit",))
    ask = shown(ready).rail.buttons[-1]
    assert (ask.enabled, ask.command, ask.hold_s) == (True, "request_permit", 1.0)


def test_advice_only_never_offers_a_permit() -> None:
    snap = snapshot("READY", flags=("ADVICE ONLY",), allowed=("request_permit", "finish"))
    commands = [button.command for button in shown(snap).rail.buttons]
    assert "request_permit" not in commands
    assert commands[-1] == "finish"  # the only way on has the large place


def test_the_strip_says_thickness_and_surface_first() -> None:
    detail = shown(snapshot("CHECKING")).strip.job_detail
    assert detail == "22 mm clean · beech · rev C"


def test_a_held_part_says_which_plan_is_taken_again() -> None:
    snap = scenes.scenes()["part-held-advice"][0]
    assert snap is not None
    on = shown(snap)
    assert on.rail.buttons[-1].detail == "CP-045-B: nothing counts as confirmed"
    assert isinstance(on.body, ReleaseShown)
    assert on.body.text.endswith("release at the machine.")


def test_without_inputs_a_person_says_standstill_with_the_finish() -> None:
    snap = snapshot("READY", flags=("ADVICE ONLY",), allowed=("finish",))
    finish = next(b for b in shown(snap).rail.buttons if b.command == "finish")
    assert finish.arguments == (("standstill", True),)
    assert finish.detail == "I see standstill"


def test_a_hold_that_is_there_but_not_long_enough_is_not_called_low() -> None:
    rows = tuple(
        replace(row, value=1.48, limit=1.15) if row.code == "hold_enough" else row
        for row in permissives(("hold_enough", "asked"))
    )
    snap = snapshot("CHECKING", permissives=rows)
    body = shown(snap).body
    assert isinstance(body, HoldShown)
    assert body.title == "Start level must last 3 s"
    sheet = shown(snap, replace(DESK, overlay="permissives")).overlay
    assert sheet is not None
    assert sheet.rows[0].words == body.title


def test_no_leak_is_hinted_at_while_the_vacuum_is_off_or_still_drawn() -> None:
    missing = permissives(("hold_enough", "asked"))
    off = snapshot("CHECKING", permissives=missing, hold=hold(0.3))
    drawing = snapshot("CHECKING", permissives=missing, hold=hold(30.0, drawing_down_s=12.0))
    late = snapshot("CHECKING", permissives=missing, hold=hold(30.0, drawing_down_s=31.0))
    said = [plain(shown(snap).body.text) for snap in (off, drawing, late)]  # type: ignore[union-attr]
    assert said == [
        "Switch the vacuum on at the machine.",
        "Drawing down for 12 s. Wait.",
        "Look for a leak at the part's edge.",
    ]


def test_nobody_is_sent_to_a_part_that_a_program_is_held_in() -> None:
    begun = {"details": {"cut_begun": True}}
    low = permissives(("hold_enough", "asked"))
    falling = hold(40.0, drawing_down_s=2.0)
    checking = shown(snapshot("CHECKING", permissives=low, hold=falling, **begun))
    ready = shown(snapshot("READY", permissives=permissives(("asked",)), **begun))
    permit = shown(snapshot("PERMIT", **begun))
    assert plain(checking.body.text) == "Stay out until standstill. Then look for a leak."  # type: ignore[union-attr]
    assert plain(ready.body.text) == "Stay out. Then press and hold."  # type: ignore[union-attr]
    assert plain(permit.body.title) == "Go on at the machine"  # type: ignore[union-attr]
    assert "do not reach in" in plain(checking.foot.text)
    assert not any("by hand" in plain(screen.foot.text) for screen in (checking, ready, permit))


def test_the_alarm_colour_is_kept_for_the_cut() -> None:
    tones = {
        state: shown(snapshot(state, hold=hold(40.0))).body.scale.tone  # type: ignore[union-attr]
        for state in ("CHECKING", "CUTTING", "HOLD LOST")
    }
    assert tones == {"CHECKING": "plain", "CUTTING": "lost", "HOLD LOST": "lost"}


def test_an_alarm_that_is_only_unseen_does_not_cover_the_cut() -> None:
    gone = alarm("A23", active=False)
    note = shown(snapshot("CUTTING", alarms=(gone,))).rail.note
    assert note is not None
    assert note.priority == 0
    assert shown(snapshot("CUTTING", alarms=(gone,))).rail.alarms.priority == 2


def test_the_reason_of_the_minimum_names_place_line_tool_and_force() -> None:
    body = shown(snapshot("CHECKING")).body
    assert isinstance(body, HoldShown)
    # 180 N and 112 N at right angles: 212.0 N by Pythagoras
    assert plain(body.why) == "It would slide here first: line 148, tool 3, 212 N"
    assert body.map.push is not None
    assert body.map.push.at == plan().governed_grid_mm


def test_the_levels_are_marked_by_the_definition_of_r_on_a_scale_of_the_air_pressure() -> None:
    # R = (gauge - error - drop) / minimum: (53 - 1 - 2) / 50 = 1.00; (60.5 - 3) / 50 = 1.15
    row = hold()
    assert ratio_at(row, 53.0) == pytest.approx(1.00)
    assert ratio_at(row, 60.5) == pytest.approx(1.15)
    scale = shown(snapshot("CHECKING")).body.scale  # type: ignore[union-attr]
    levels = {mark.weight: mark.level for mark in scale.marks}
    assert levels == pytest.approx({"limit": 53.0 / 99.9, "level": 60.5 / 99.9, "hint": 68 / 99.9})
    said = {mark.weight: (plain(mark.left), plain(mark.right)) for mark in scale.marks}
    assert said["limit"] == ("53 kPa", "100 % required")
    assert said["level"] == ("61 kPa", "115 % start")


@pytest.mark.parametrize("state", ["CHECKING", "CUTTING", "LOW HOLD", "HOLD LOST", "RELEASE"])
def test_every_view_has_the_same_scale_and_no_fall_is_hidden_at_its_top(state: str) -> None:
    def level(kpa: float) -> float:
        low = hold(kpa, minimum_kpa=20.0, ratio=(kpa - 3.0) / 20.0)
        return shown(snapshot(state, hold=low)).body.scale.level  # type: ignore[union-attr]

    # 82 kPa are 395 % of a minimum of 20 kPa, 62 kPa are 295 %
    assert level(82.0) == pytest.approx(82.0 / 99.9)
    assert level(62.0) == pytest.approx(62.0 / 99.9)


def test_the_narrow_scale_of_the_stop_card_names_its_levels_in_kpa() -> None:
    marks = shown(snapshot("HOLD LOST")).body.scale.marks  # type: ignore[union-attr]
    assert [plain(mark.right) for mark in marks] == ["53 kPa required", "61 kPa start"]


def test_permit_shows_the_time_left_and_can_be_withdrawn() -> None:
    screen = shown(snapshot("PERMIT", permit_left_s=43.9, allowed=("withdraw",)))
    assert isinstance(screen.body, HoldShown)
    assert plain(screen.body.text) == "43 s left"
    assert screen.rail.buttons[-1].command == "withdraw"


# -- cutting and loss


def test_a_stopped_program_is_said_to_have_ended_or_to_be_held() -> None:
    """One signal goes for both, so neither is claimed, and each has its way on."""
    screen = shown(snapshot("PAUSED", pause_left_s=96.0, allowed=("withdraw", "finish")))
    body = screen.body
    assert isinstance(body, HoldShown)
    assert body.title == "Program has ended or is held"
    assert plain(body.text) == "Ended: finish the part. Held: go on at the machine within 96 s."
    assert [button.command for button in screen.rail.buttons[1:]] == ["withdraw", "finish"]


def test_cut_watch_says_r_slope_and_time_left() -> None:
    snap = snapshot("LOW HOLD", hold=hold(56.8, -0.12, time_left_s=38.4), alarms=(alarm("A06"),))
    screen = shown(snap)
    assert isinstance(screen.body, WatchShown)
    # (56.8 - 3) / 50 = 107.6 %
    assert (screen.body.percent, plain(screen.body.slope)) == ("107", "falling 0.1 kPa/s")
    assert plain(screen.body.left) == "38 s to the minimum"
    assert screen.rail.note is not None
    assert screen.rail.note.priority == 2


def test_little_time_left_stands_out_before_any_alarm() -> None:
    def near(time_left_s: float | None) -> tuple[str, bool]:
        body = shown(snapshot("CUTTING", hold=hold(72.0, -1.9, time_left_s=time_left_s))).body
        assert isinstance(body, WatchShown)
        return plain(body.left), body.near

    assert near(6.4) == ("6 s to the minimum", True)
    assert near(59.9) == ("59 s to the minimum", True)
    assert near(60.0) == ("60 s to the minimum", False)
    assert near(None) == ("", False)


def test_without_a_value_no_old_number_stays() -> None:
    body = shown(snapshot("CUTTING", hold=hold(None, None))).body
    assert isinstance(body, WatchShown)
    assert not any(ch.isdigit() for ch in body.percent + body.now)
    assert body.scale.level is None


def test_a_slow_gauge_is_said() -> None:
    snap = snapshot("CUTTING")
    slow = replace(snap, gauges=(replace(snap.gauges[0], rate_hz=6.0),))
    assert shown(slow).body.extra == WORDS.say("watch.late")  # type: ignore[union-attr]


def test_stop_card_names_the_first_out_in_local_time() -> None:
    first = alarm("A06", first=True, since_s=14.0)
    snap = snapshot("HOLD LOST", alarms=(alarm("A01", since_s=12.0), first), hold=hold(46.0))
    body = shown(snap).body
    assert isinstance(body, StopShown)
    # 09:47:12 UTC is 10:47:12 one hour east of it
    assert body.first == "First, 10:47:12: Hold is falling"
    assert (body.percent, len(body.steps)) == ("86", 4)
    seen = replace(first, active=False, acknowledged=True)
    after = shown(replace(snap, alarms=(alarm("A01", since_s=12.0), seen))).body
    assert isinstance(after, StopShown)
    assert after.first == body.first


@pytest.mark.parametrize("state", ["HOLD LOST", "NO PERMIT"])
@pytest.mark.parametrize(
    ("running", "still", "step"),
    [(True, False, 1), (False, False, 1), (True, True, 1), (None, None, 1), (False, None, 1),
     (None, True, 1), (False, True, 3)],
)  # fmt: skip
def test_the_step_to_do_now_is_looking_once_the_machine_stands_still(
    state: str, running: bool | None, still: bool | None, step: int
) -> None:
    snap = snapshot(state, inputs={"cycle_running": running, "standstill": still})
    body = shown(snap).body
    assert isinstance(body, StopShown)
    assert [row.mark for row in body.steps if row.present] == [str(step)]


def test_reset_says_what_forbids_it_and_names_the_cause_when_it_may() -> None:
    snap = snapshot("HOLD LOST", forbids_reset=("standstill_unknown", "cause_missing"))
    reset = shown(snap).rail.buttons[-1]
    assert (reset.enabled, reset.detail) == (False, "not yet: standstill is not shown yet")
    free = replace(snap, forbids_reset=("cause_missing",), allowed=("reset",))
    assert shown(free).rail.buttons[-1].opens == "causes"
    sheet = shown(free, replace(DESK, overlay="causes", cause="part_moved")).overlay
    assert sheet is not None
    assert sheet.buttons[0].arguments == (("cause", "part_moved"),)
    assert sheet.buttons[0].hold_s == 1.0
    bare = shown(free, replace(DESK, overlay="causes")).overlay
    assert bare is not None
    assert not bare.buttons[0].enabled


def test_a_screen_that_only_reads_says_so_at_the_reset() -> None:
    free = snapshot("HOLD LOST", forbids_reset=("cause_missing",), allowed=("reset", "acknowledge"),
                    alarms=(alarm("A01"),))  # fmt: skip
    seen, reset = shown(free, replace(DESK, reads_only=True)).rail.buttons
    assert (seen.enabled, reset.enabled) == (False, False)
    assert reset.detail == "not yet: another screen has the right to command"


def test_priority_one_is_pressed_the_others_tapped() -> None:
    snap = snapshot("HOLD LOST", alarms=(alarm("A01"), alarm("A05")))
    sheet = shown(snap, replace(DESK, overlay="alarms")).overlay
    assert sheet is not None
    assert [row.button.hold_s for row in sheet.alarms if row.button] == [1.0, 0.0]


# -- release


@pytest.mark.parametrize(
    ("stage", "word"),
    [("not_yet", "NOT YET"), ("may_release", "MAY RELEASE"), ("vented", "VENTED")],
)
def test_release_guide_says_one_of_three(stage: str, word: str) -> None:
    body = shown(snapshot("RELEASE", release=stage)).body
    assert isinstance(body, ReleaseShown)
    assert body.word == word


def test_lost_signals_count_as_running_in_the_release_guide() -> None:
    body = shown(snapshot("RELEASE", release="not_yet", forbids_release=("inputs_lost",))).body
    assert isinstance(body, ReleaseShown)
    assert [row.mark for row in body.rows] == ["wait", "wait", "wait"]
