"""Set-up map: the rows one by one, then the part, without a window."""

from __future__ import annotations

from dataclasses import replace

import pytest
import screen_scenes as scenes
from screen_plan import plan
from screen_scenes import DESK, WORDS, plain, shown, snapshot, zones

from kiosk.job.plan import SeatState
from kiosk.screen.show import show
from kiosk.screen.show.setup import current_zone
from kiosk.screen.show.shown import SetupShown, Shown


def setting(confirmed: str, **more: object) -> Shown:
    return shown(
        snapshot("SET UP", zones=zones(confirmed), part_confirmed=False, seats_up=5,
                 allowed=("confirm_zone", "undo_zone", "confirm_part"), **more)
    )  # fmt: skip


def test_the_button_names_the_row_and_what_is_up_and_down_in_it() -> None:
    screen = setting("ABCD")
    button = screen.rail.buttons[-1]
    assert plain(button.words) == "Row E is set"
    assert plain(button.detail) == "up 3 to 9  ·  down 1, 2 and 10"
    assert (button.command, button.arguments, button.hold_s) == (
        "confirm_zone", (("zone", "E"),), 1.0,
    )  # fmt: skip


def test_undo_takes_back_the_row_before() -> None:
    undo = setting("ABCD").rail.buttons[0]
    assert (undo.command, undo.arguments) == ("undo_zone", (("zone", "D"),))
    assert plain(undo.words) == "Undo Row D"
    assert len(setting("").rail.buttons) == 1


def test_confirmed_rows_are_filled_open_ones_are_rings_and_cut_seats_hatched() -> None:
    body = setting("ABCD").body
    assert isinstance(body, SetupShown)
    by_place = {(mark.x_mm, mark.y_mm): mark.mark for mark in body.map.seats}
    seats = {seat.name: by_place[seat.x_mm, seat.y_mm] for seat in plan().seats}
    assert seats["D3"] == "up"
    assert seats["E3"] == "turn"
    assert seats["E1"] == "down"
    assert seats["D6"] == "blocked"


def test_a_blocked_seat_says_why() -> None:
    body = setting("ABC").body
    assert isinstance(body, SetupShown)
    assert body.stays == ("D6 stays down: cut through here, line 88",)


def test_several_blocked_seats_share_one_reason() -> None:
    seats = tuple(
        replace(seat, state=SeatState.BLOCKED, why=f"under a through-cut, line {30 + at}")
        if seat.name in ("D4", "D5", "D6") else seat
        for at, seat in enumerate(plan().seats)
    )  # fmt: skip
    snap = snapshot("SET UP", zones=zones("ABC"), part_confirmed=False)
    body = show(WORDS, snap, replace(plan(), seats=seats), DESK).body
    assert isinstance(body, SetupShown)
    assert [plain(line) for line in body.stays] == ["4 to 6 stay down: under a through-cut"]


def test_a_row_without_cups_is_confirmed_as_down() -> None:
    button = setting("ABCDE").rail.buttons[-1]
    assert plain(button.words) == "Row F is down"
    assert button.commands == ({"zone": "F"},)


def test_rows_without_cups_next_to_each_other_are_one_press_and_a_command_each() -> None:
    """Rows A and B of the scene; the band on the map goes round both."""
    screen = setting("")
    button, body = screen.rail.buttons[-1], screen.body
    assert isinstance(body, SetupShown)
    assert plain(button.words) == "Rows A and B are down"
    assert button.commands == ({"zone": "A"}, {"zone": "B"})
    assert button.hold_s == 1.0
    assert plain(body.title) == "Rows A and B"
    assert plain(body.next) == "then Row C"
    assert body.map.band is not None
    seats = [seat for seat in plan().seats if seat.zone in "AB"]
    assert all(body.map.band[1] <= seat.y_mm <= body.map.band[3] for seat in seats)


def test_a_row_with_a_cup_or_without_a_map_is_always_asked_for_by_itself() -> None:
    flat = tuple(replace(zone, up=(), confirmed=False) for zone in zones())
    snap = snapshot("SET UP", zones=flat, part_confirmed=False)
    assert plain(shown(snap).rail.buttons[-1].words) == "Rows A to F are down"
    split = (*flat[:3], replace(flat[3], up=("D4",)), *flat[4:])
    one = shown(replace(snap, zones=split)).rail.buttons[-1]
    assert plain(one.words) == "Rows A to C are down"
    assert plain(shown(snap, a_plan=None).rail.buttons[-1].words) == "Row A is down"


def test_the_part_names_its_tools_and_cannot_be_confirmed_before_each_warning_is_read() -> None:
    snap = snapshot(
        "SET UP", part_confirmed=False, allowed=("confirm_part",), warnings=("flex_over_limit",)
    )
    findings = scenes.plan_with_findings()
    unread = show(WORDS, snap, findings, DESK)
    assert not unread.rail.buttons[-1].enabled
    read = show(WORDS, snap, findings, replace(DESK, ticked=frozenset({"flex_over_limit"})))
    button = read.rail.buttons[-1]
    assert button.enabled
    assert button.arguments == (("warnings", ("flex_over_limit",)),)
    body = read.body
    assert isinstance(body, SetupShown)
    assert "T3 compression 12" in plain(body.rows[-1].words)
    assert body.warnings[0].words == scenes.FINDINGS[0].text


def test_a_map_kept_from_before_is_asked_for_once_as_a_whole() -> None:
    snap = snapshot("SET UP", zones=zones(kept=True), map_kept=True, allowed=("confirm_map",))
    (button,) = shown(snap).rail.buttons
    assert button.command == "confirm_map"
    assert current_zone(snap) is not None


def test_a_part_is_confirmed_on_the_pins_only_where_there_are_some() -> None:
    snap = snapshot("SET UP", part_confirmed=False, allowed=("confirm_part",))
    for pins, words, detail in (
        (plan().pins, "Part lies on the pins", "on the pins"),
        ((), "Part lies where the map shows it", "as on the map"),
    ):
        on = show(WORDS, snap, replace(plan(), pins=pins), DESK)
        assert isinstance(on.body, SetupShown)
        assert on.body.rows[0].words == words
        assert on.rail.buttons[-1].detail.startswith(detail)


def test_read_warnings_make_room_for_the_map_and_can_be_read_again() -> None:
    """The part lies as on the map: the map is there when that is confirmed."""
    snap = snapshot("SET UP", part_confirmed=False, allowed=("confirm_part",),
                    warnings=("flex_over_limit", "loose_offcut"))  # fmt: skip
    both = replace(DESK, ticked=frozenset(snap.warnings))
    screen = show(WORDS, snap, scenes.plan_with_findings(), both)
    assert isinstance(screen.body, SetupShown)
    (place,) = screen.body.warnings
    assert place.mark == "yes"
    assert place.button is not None
    assert place.button.opens == "untick:"
    assert screen.rail.buttons[-1].enabled


def test_of_many_warnings_the_unread_come_first() -> None:
    codes = ("a_one", "b_two", "c_three")
    snap = snapshot("SET UP", part_confirmed=False, allowed=("confirm_part",), warnings=codes)
    body = shown(snap, replace(DESK, ticked=frozenset({"a_one"}))).body
    assert isinstance(body, SetupShown)
    assert [row.words for row in body.warnings] == ["b two", "c three"]


@pytest.mark.parametrize(
    ("file", "said"),
    [
        ("cover.nc", "cover.nc is loaded and zero is set"),
        ("one-of-24-letters-abc.nc", "one-of-24-letters-abc.nc is loaded and zero is set"),
        ("one-of-25-letters-abcd.nc", "one-of-25-…tters-abcd.nc is loaded and zero is set"),
        (None, "Zero is set"),
    ],
)
def test_the_part_page_names_the_program_that_the_cups_stand_clear_of(
    file: str | None, said: str
) -> None:
    """The middle of a long name is left out: its end tells revisions apart."""
    known = plan().program
    assert known is not None
    program = None if file is None else replace(known, file=file)
    snap, desk = scenes.scenes()["set-up-part"]
    assert snap is not None
    drawn = shown(snap, desk, replace(plan(), program=program))
    assert isinstance(drawn.body, SetupShown)
    assert said in [plain(row.words) for row in drawn.body.rows]
    details = " ".join(plain(button.detail) for button in drawn.rail.buttons)
    assert ("program" in details) is (file is not None)
