"""From the finger to the bytes on a real socket, and back."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import screen_scenes as scenes
from screen_desk import Desk
from screen_plan import plan
from screen_scenes import DESK, alarm, snapshot, zones
from screen_server import Server, await_true
from screen_window import WORDS, Screen

from kiosk.link import Link
from kiosk.screen.drawing import Drawing
from kiosk.screen.show import SILENT_S
from kiosk.screen.show.shown import SetupShown

Make = Callable[..., Screen]


@pytest.fixture
def desk(screens: Make, tmp_path: Path) -> Iterator[Callable[..., Desk]]:
    made: list[Desk] = []

    def make(snap: object, a_plan: object = None) -> Desk:
        server = Server(tmp_path / "g.sock", snap, a_plan)  # type: ignore[arg-type]
        made.append(Desk(screens(), server))
        return made[-1]

    yield make
    for one in made:
        one.link.close()
        one.server.close()


def setting(confirmed: str = "ABCD") -> object:
    return snapshot("SET UP", zones=zones(confirmed), part_confirmed=False, seats_up=11,
                    allowed=("confirm_zone", "undo_zone", "confirm_part"))  # fmt: skip


def test_pressing_a_row_sends_that_row_with_epoch_and_plan(desk: Callable[..., Desk]) -> None:
    one = desk(setting(), plan())
    one.draw()
    one.press()
    await_true(lambda: one.sent("confirm_zone"), "nothing was sent")
    (row,) = one.sent("confirm_zone")
    assert row == {"command": "confirm_zone", "zone": "E", "id": row["id"], "epoch": "e1",
                   "plan": "d" * 64}  # fmt: skip


def test_one_press_for_rows_without_cups_sends_each_row_in_order(
    desk: Callable[..., Desk],
) -> None:
    one = desk(setting(""), plan())
    one.until(lambda s: isinstance(s.body, SetupShown) and s.body.map.seats, "no map")
    one.press()
    await_true(lambda: len(one.sent("confirm_zone")) == 2, "not every row was sent")
    assert [row["zone"] for row in one.sent("confirm_zone")] == ["A", "B"]
    assert len({row["id"] for row in one.sent("confirm_zone")}) == 2


def test_a_press_that_is_too_short_sends_nothing(desk: Callable[..., Desk]) -> None:
    one = desk(setting(), plan())
    one.draw()
    one.press(seconds=0.8)
    one.press(at=0, seconds=0.05)  # undo is a tap: it marks that lines do arrive
    await_true(lambda: one.sent("undo_zone"), "the tap did not arrive")
    assert one.sent("confirm_zone") == []
    assert one.sent("undo_zone")[0]["zone"] == "D"


def test_the_plan_is_fetched_once_and_drawn(desk: Callable[..., Desk]) -> None:
    one = desk(setting(), plan())
    shown = one.until(lambda s: isinstance(s.body, SetupShown) and s.body.map.seats, "no map")
    assert isinstance(shown.body, SetupShown)
    assert len(shown.body.map.seats) == 60
    for _ in range(5):
        one.draw()
    assert len(one.sent("get_plan")) == 1


def test_a_refusal_is_said_in_words(desk: Callable[..., Desk]) -> None:
    one = desk(setting(), plan())
    one.server.refuse = "zone_already"
    one.draw()
    one.press()
    shown = one.until(lambda s: s.strip.notice, "no notice")
    assert shown.strip.notice == WORDS.say("refused.zone_already")


def test_no_answer_is_said_too(desk: Callable[..., Desk]) -> None:
    one = desk(setting(), plan())
    one.until(lambda s: isinstance(s.body, SetupShown) and s.body.map.seats, "no map")
    one.server.hold_replies = True
    one.press()
    await_true(lambda: one.sent("confirm_zone"), "nothing was sent")
    shown = one.until(lambda s: s.strip.notice, "no notice")
    assert shown.strip.notice == WORDS.say("refused.no_answer")


def test_a_silent_guard_is_said_within_one_second(desk: Callable[..., Desk]) -> None:
    one = desk(snapshot("CUTTING"), plan())
    assert one.draw().view == "watch"
    one.server.silent = True
    ages: dict[str, list[float]] = {"watch": [], "dead": []}

    def look() -> bool:
        received_s = one.link.view().received_s or 0.0
        before_s = time.monotonic() - received_s
        shown = one.draw()
        ages[shown.view].append(before_s)
        return shown.view == "dead"

    await_true(look, "still shown as living")
    assert max(ages["watch"]) <= SILENT_S < 1.0  # no drawing showed an older one as living
    one.server.silent = False
    one.until(lambda s: s.view == "watch", "did not come back")


def test_a_guard_that_began_again_is_said_and_nothing_pending_stays(
    desk: Callable[..., Desk],
) -> None:
    one = desk(setting(), plan())
    one.draw()
    kept = snapshot("SET UP", epoch="e2", zones=zones(kept=True), map_kept=True,
                    allowed=("confirm_map",))  # fmt: skip
    one.server.publish(kept)
    shown = one.until(lambda s: s.strip.notice, "not said")
    assert shown.strip.notice == WORDS.say("notice.epoch")
    one.press()
    await_true(lambda: one.sent("confirm_map"), "nothing was sent")
    assert one.sent("confirm_map")[0]["epoch"] == "e2"


@pytest.mark.parametrize(
    ("left_s", "then", "said"),
    [(0.2, "READY", True), (31.0, "READY", False), (0.2, "CHECKING", False),
     (None, "READY", False)],
)  # fmt: skip
def test_a_permit_that_ran_out_unused_is_said_until_something_else_comes(
    desk: Callable[..., Desk], left_s: float | None, then: str, said: bool
) -> None:
    one = desk(snapshot("PERMIT", permit_left_s=left_s), plan())
    word = one.draw().strip.word
    one.server.publish(snapshot(then))
    shown = one.until(lambda s: s.strip.word != word or said, "nothing new came")
    if said:
        shown = one.until(lambda s: s.strip.notice, "not said")
    assert shown.strip.notice == (WORDS.say("notice.ran_out") if said else "")
    one.server.publish(snapshot("PERMIT", permit_left_s=60.0))
    one.until(lambda s: s.strip.word == word and not s.strip.notice, "it stays")


def test_a_screen_without_the_right_to_command_says_so_and_offers_nothing(
    desk: Callable[..., Desk],
) -> None:
    ready = snapshot("READY", allowed=("request_permit", "finish"), permissives=())
    one = desk(ready, plan())
    shown = one.draw()
    assert shown.strip.notice == ""
    assert any(button.command and button.enabled for button in shown.rail.buttons)
    one.server.publish(replace(ready, commanding="screen-1"))
    shown = one.until(lambda s: s.strip.notice, "not said")
    assert shown.strip.notice == WORDS.say("notice.reads_only")
    assert not [b for b in shown.rail.buttons if b.command and b.enabled]
    one.server.publish(replace(ready, commanding=None))  # the other one is gone
    one.until(lambda s: not s.strip.notice, "it stays")


def test_a_loss_closes_any_open_sheet(desk: Callable[..., Desk]) -> None:
    one = desk(snapshot("CUTTING"), plan())
    one.draw()
    one.screen.advance(0.4)
    one.screen.press(one.screen.board.rail.details)
    assert one.draw().overlay is not None
    one.server.publish(snapshot("HOLD LOST", alarms=(alarm("A01"),), allowed=("acknowledge",)))
    shown = one.until(lambda s: s.view == "stop", "no Stop card")
    assert shown.overlay is None


def test_reset_goes_through_the_cause(desk: Callable[..., Desk]) -> None:
    snap, _ = scenes.scenes()["hold-lost-resettable"]
    one = desk(snap, plan())
    one.draw()
    one.press(seconds=0.05)
    shown = one.draw()
    assert shown.overlay is not None
    assert one.sent("reset") == []
    one.screen.advance(0.4)
    cause = one.screen.board.sheet._grid.buttons[3]
    one.screen.press(cause)
    one.draw()
    one.screen.advance(0.4)
    one.screen.press(one.screen.board.sheet._buttons[0], 1.15)
    await_true(lambda: one.sent("reset"), "nothing was sent")
    assert one.sent("reset")[0]["cause"] == "part_moved"


def test_every_warning_shown_is_listed_with_the_part(desk: Callable[..., Desk]) -> None:
    snap, _ = scenes.scenes()["set-up-part-warnings"]
    one = desk(snap, scenes.plan_with_findings())
    one.until(lambda s: isinstance(s.body, SetupShown) and s.body.map.seats, "no map")
    for at in (0, 1):
        one.screen.advance(0.4)
        one.screen.press(one.screen.board.view.ids.warnings.buttons[at])
        one.draw()
    one.press()
    await_true(lambda: one.sent("confirm_part"), "nothing was sent")
    assert one.sent("confirm_part")[0]["warnings"] == ["flex_over_limit", "loose_offcut"]


def test_a_job_is_chosen_by_its_file(desk: Callable[..., Desk]) -> None:
    one = desk(scenes.no_plan("SELECT JOB"))
    one.draw()
    one.screen.advance(0.4)
    one.screen.press(one.screen.board.view.ids.jobs.buttons[1])
    await_true(lambda: one.sent("select_job"), "nothing was sent")
    row = one.sent("select_job")[0]
    assert (row["job"], row["plan"]) == ("cover-plate.job.toml", None)


def test_one_alarm_is_acknowledged_by_its_code_and_when_it_came(desk: Callable[..., Desk]) -> None:
    one = desk(snapshot("LOW HOLD", alarms=(alarm("A05"),), allowed=("acknowledge",)), plan())
    one.draw()
    one.screen.advance(0.4)
    one.screen.press(one.screen.board.rail.alarms)
    one.draw()
    one.screen.advance(0.4)
    one.screen.press(one.screen.board.sheet._alarms[0].button)
    await_true(lambda: one.sent("acknowledge"), "nothing was sent")
    sent = one.sent("acknowledge")[0]
    assert (sent["alarm"], sent["came"]) == (["A05"], [alarm("A05").raised_utc])


def test_the_trace_has_what_the_gauge_showed(desk: Callable[..., Desk]) -> None:
    one = desk(snapshot("CUTTING"), plan())
    one.until(lambda s: any(s.body.scale.trace), "no trace")  # type: ignore[union-attr]
    column = next(c for c in reversed(one.draw().body.scale.trace) if c)  # type: ignore[union-attr]
    assert column[0] == pytest.approx(66.0 / 99.9)  # on a scale of the local air pressure


def test_lines_on_the_wire_are_one_json_object_each(desk: Callable[..., Desk]) -> None:
    one = desk(setting(), plan())
    await_true(lambda: any(b'"alive"' in line for line in one.server.lines), "no heartbeat")
    for line in list(one.server.lines):
        assert isinstance(json.loads(line), dict)
        assert len(line) < 64 * 1024


def test_without_drawing_the_heartbeat_stops_and_begins_again_with_it(tmp_path: Path) -> None:
    server = Server(tmp_path / "g.sock", snapshot("PERMIT", permit_left_s=40.0))
    drawing = Drawing()
    link = Link(server.path, alive=drawing.is_fresh)
    link.start()

    def beats() -> int:
        return sum(b'"alive"' in line for line in list(server.lines))

    def beats_while_drawing(least: int) -> bool:
        drawing.done()
        return beats() >= least

    try:
        await_true(lambda: link.view().snapshot, "no snapshot came")
        assert beats() == 0  # nothing has been drawn yet
        await_true(lambda: beats_while_drawing(3), "no heartbeat while drawing")
        frozen_s = time.monotonic()  # from here on nothing is drawn
        await_true(lambda: time.monotonic() - frozen_s >= 0.7, "time stands still")
        before = beats()
        await_true(lambda: time.monotonic() - frozen_s >= 2.0, "time stands still")
        assert beats() == before
        assert link.view().snapshot is not None  # the link itself lives on
        await_true(lambda: beats_while_drawing(before + 2), "no heartbeat after the frost")
    finally:
        link.close()
        server.close()


def test_a_desk_keeps_nothing_of_an_older_part() -> None:
    assert replace(DESK).ticked == frozenset()
