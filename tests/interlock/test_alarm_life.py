"""The life of one alarm, each turn of it by itself.

States as in IEC 62682 (open text of the same states: OPC 10000-9, 4.8).  Rows and alarms here are
made up, so that each test says all that it depends on.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from interlock_world import reach

from kiosk.interlock import alarms
from kiosk.interlock.alarm_rows import AlarmRow
from kiosk.interlock.alarms import Alarm
from kiosk.interlock.memory import Cycle
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at
from kiosk.interlock.turn import Turn

UNTIL_S = 1e6
CHECKING = reach(State.CHECKING)  # walked here, by the real rows, before a test replaces them
STANDING = Alarm(
    "A05", 2, True, False, False, False, 90.0, "then", 1.0, 1.1, "ratio", raised_utc="then"
)


def turn_with(*kept: Alarm, **memory: Any) -> Turn:
    """A turn in CHECKING, 10 s after an alarm like ``STANDING`` came."""
    world = CHECKING.twin()
    world.now_s = 100.0
    return look_at(
        replace(world.memory, alarms=kept, **memory), replace(world.facts(), now_s=100.0), "now"
    )


def after_one(
    monkeypatch: pytest.MonkeyPatch, row: AlarmRow, *kept: Alarm, **memory: Any
) -> tuple[Turn, list[Alarm]]:
    """The turn and its alarms after one step with only this row."""
    monkeypatch.setattr(alarms, "ROWS", (row,))
    turn = turn_with(*kept, **memory)
    alarms.run(turn)
    return turn, list(turn.memory.alarms)


def row(stands: bool, **more: Any) -> AlarmRow:
    return AlarmRow("A05", 2, lambda _: stands, **more)


def told(turn: Turn) -> list[object]:
    return [note.data["change"] for note in turn.notes]


@pytest.mark.parametrize(
    ("active", "acknowledged", "latched", "word", "stands"),
    [
        (True, False, False, "unacknowledged", True),
        (True, True, False, "acknowledged", True),
        (True, False, True, "unacknowledged", True),
        (True, True, True, "acknowledged", True),
        (False, False, False, "returned", True),
        (False, True, False, "normal", False),
        (False, False, True, "latched", True),
        (False, True, True, "latched", True),
    ],
)
def test_each_state_has_its_word(
    active: bool, acknowledged: bool, latched: bool, word: str, stands: bool
) -> None:
    alarm = replace(STANDING, active=active, acknowledged=acknowledged, latched=latched)
    assert (alarms.life(alarm), alarm.stands, alarm.is_over) == (word, stands, not stands)
    shelved = replace(alarm, shelved_until_s=UNTIL_S)
    assert (alarms.life(shelved), shelved.stands, shelved.is_over) == ("shelved", stands, False)


# -- coming and going --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("exists", "stands", "raised"), [(True, True, 1), (False, True, 0), (True, False, 0)]
)
def test_it_comes_where_it_exists(
    monkeypatch: pytest.MonkeyPatch, exists: bool, stands: bool, raised: int
) -> None:
    turn, kept = after_one(monkeypatch, row(stands, exists=lambda _: exists))
    assert (len(kept), len(told(turn))) == (raised, raised)


def test_a_new_one_has_what_it_was_judged_by(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = row(True, measured=lambda _: (0.9, 1.0, "ratio"))
    turn, (alarm,) = after_one(monkeypatch, plain)
    assert alarm == replace(
        STANDING, since_s=100.0, utc="now", value=0.9, limit=1.0, raised_utc="now"
    )
    assert turn.memory.first_out is None


@pytest.mark.parametrize("advice_only", [False, True])
def test_it_latches_where_contacts_are(monkeypatch: pytest.MonkeyPatch, advice_only: bool) -> None:
    monkeypatch.setattr(alarms, "ROWS", (row(True, latches=True),))
    turn = turn_with()
    turn.facts = replace(turn.facts, site=replace(turn.site, advice_only=advice_only))
    alarms.run(turn)
    assert turn.memory.alarms[0].latched is not advice_only


def test_what_still_stands_says_nothing_more(monkeypatch: pytest.MonkeyPatch) -> None:
    turn, kept = after_one(monkeypatch, row(True), STANDING)
    assert (kept, told(turn)) == ([STANDING], [])


def test_what_is_gone_stays_to_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    turn, kept = after_one(monkeypatch, row(False), STANDING)
    assert (kept, told(turn)) == ([replace(STANDING, active=False)], ["cleared"])
    turn, kept = after_one(monkeypatch, row(False), replace(STANDING, active=False))
    assert (kept, told(turn)) == ([replace(STANDING, active=False)], [])


def test_what_is_gone_and_seen_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    _, kept = after_one(monkeypatch, row(False), replace(STANDING, acknowledged=True))
    assert kept == []


@pytest.mark.parametrize("keeps", [True, False])
def test_a_row_may_keep_it_longer_and_never_bring_it(
    monkeypatch: pytest.MonkeyPatch, keeps: bool
) -> None:
    lasting = row(False, keeps=lambda _: keeps)
    _, kept = after_one(monkeypatch, lasting, STANDING)
    assert [alarm.active for alarm in kept] == [keeps]
    assert after_one(monkeypatch, lasting)[1] == []
    gone = replace(STANDING, active=False)
    assert after_one(monkeypatch, lasting, gone)[1] == [gone]
    assert after_one(monkeypatch, row(True, keeps=lambda _: keeps), STANDING)[1] == [STANDING]


@pytest.mark.parametrize(("since_s", "turns"), [(97.0, True), (97.001, False), (None, False)])
@pytest.mark.parametrize("stands", [True, False])
def test_it_comes_and_goes_after_its_delays(
    monkeypatch: pytest.MonkeyPatch, stands: bool, since_s: float | None, turns: bool
) -> None:
    slow = row(stands, on_s=3.0 if stands else 9.0, off_s=9.0 if stands else 3.0)
    kept = () if stands else (STANDING,)
    turning = {} if since_s is None else {"A05": since_s}
    turn, after = after_one(monkeypatch, slow, *kept, turning_s=turning)
    assert any(alarm.active for alarm in after) is (stands is turns)
    expected = {} if turns else {"A05": 100.0 if since_s is None else since_s}
    assert turn.memory.turning_s == expected


def test_it_lapses_only_when_it_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    gone = replace(STANDING, active=False)
    for kept, stands, lapses, left in (
        (STANDING, True, True, [STANDING]),
        (STANDING, False, True, []),
        (gone, False, True, []),
        (gone, False, False, [gone]),
    ):
        lapsing = row(stands, lapses=lambda _, lapses=lapses: lapses)
        assert after_one(monkeypatch, lapsing, kept)[1] == left


def test_one_that_comes_again_is_to_be_seen_again_with_its_new_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(alarms, "GROUP", frozenset({"A05"}))
    seen = replace(STANDING, active=False, latched=True, acknowledged=True)
    turn, (again,) = after_one(monkeypatch, row(True), seen, first_out="A01")
    assert (again.active, again.acknowledged, again.first) == (True, False, False)
    assert (again.since_s, again.utc) == (100.0, "now")
    assert told(turn) == ["raised"]


def test_on_the_shelf_it_comes_and_goes_unseen(monkeypatch: pytest.MonkeyPatch) -> None:
    shelved = replace(
        STANDING, active=False, acknowledged=True, shelved_until_s=UNTIL_S, shelved_why="filter"
    )
    _, (again,) = after_one(monkeypatch, row(True), shelved)
    assert (again.acknowledged, again.shelved_until_s, again.shelved_why) == (
        True, UNTIL_S, "filter",
    )  # fmt: skip
    _, (gone,) = after_one(monkeypatch, row(False), shelved)
    assert gone == shelved


# -- first of its group ------------------------------------------------------------------------


OTHER = replace(STANDING, code="A01", first=True)
OVER = replace(OTHER, active=False)


@pytest.mark.parametrize(
    ("in_group", "before", "first"),
    [
        (True, (), True),
        (True, (OTHER,), False),
        (True, (replace(OVER, latched=True),), False),
        (True, (OVER,), True),  # over, and only not seen yet
        (False, (), False),
        (False, (OVER,), False),
    ],
)
def test_the_first_is_of_the_group_and_nothing_of_it_stands_before(
    monkeypatch: pytest.MonkeyPatch, in_group: bool, before: tuple[Alarm, ...], first: bool
) -> None:
    monkeypatch.setattr(alarms, "GROUP", frozenset({"A01", "A05"} if in_group else {"A01"}))
    other = AlarmRow("A01", 1, lambda _: OTHER in before, in_group=True)
    monkeypatch.setattr(alarms, "ROWS", (other, row(True, in_group=in_group)))
    was = before[0].code if before else None
    turn = turn_with(*before, first_out=was)
    alarms.run(turn)
    assert [alarm.code for alarm in turn.memory.alarms if alarm.first] == (
        ["A05"] if first else [code for code in (was,) if code]
    )
    assert turn.memory.first_out == ("A05" if first else was)


def test_one_of_no_group_that_comes_with_it_is_not_the_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(alarms, "GROUP", frozenset({"A01"}))
    first = AlarmRow("A01", 1, lambda _: True, in_group=True)
    monkeypatch.setattr(alarms, "ROWS", (row(True), first))
    turn = turn_with()
    alarms.run(turn)
    assert [alarm.code for alarm in turn.memory.alarms if alarm.first] == ["A01"]


@pytest.mark.parametrize("latched", [True, False])
def test_a_first_that_comes_again_keeps_its_place_and_the_time_of_the_same_loss(
    monkeypatch: pytest.MonkeyPatch, latched: bool
) -> None:
    monkeypatch.setattr(alarms, "GROUP", frozenset({"A05"}))
    first = replace(STANDING, active=False, first=True, latched=latched)
    _, (again,) = after_one(monkeypatch, row(True, in_group=True), first, first_out="A05")
    assert again.first
    assert (again.since_s, again.utc) == ((90.0, "then") if latched else (100.0, "now"))
    assert again.raised_utc == "now"  # to be seen again, whoever saw it then


@pytest.mark.parametrize(("group", "stays"), [({"A05", "A07"}, True), ({"A05"}, False)])
def test_a_first_that_is_over_stays_while_its_group_stands(
    monkeypatch: pytest.MonkeyPatch, group: set[str], stays: bool
) -> None:
    over = replace(STANDING, active=False, acknowledged=True, first=True)
    other = replace(STANDING, code="A07")
    monkeypatch.setattr(alarms, "GROUP", frozenset(group))
    turn = turn_with(over, other, first_out="A05")
    alarms.acknowledge(turn, [("A07", None)])
    seen = replace(other, acknowledged=True)
    assert turn.memory.alarms == ((over, seen) if stays else (seen,))
    assert turn.memory.first_out == ("A05" if stays else None)


def test_of_a_group_on_the_shelf_none_is_first_any_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alarms, "GROUP", frozenset({"A05"}))
    shelved = replace(
        STANDING, active=False, acknowledged=True, first=True, shelved_until_s=UNTIL_S
    )
    turn = turn_with(shelved, first_out="A05")
    assert not alarms.acknowledge(turn, [("A05", None)])
    assert turn.memory.alarms == (replace(shelved, first=False),)
    assert turn.memory.first_out is None


# -- what a person does ------------------------------------------------------------------------


@pytest.mark.parametrize("came", [None, "then"])
def test_only_what_was_shown_and_not_seen_yet_is_acknowledged(came: str | None) -> None:
    new, seen = STANDING, replace(STANDING, code="A07", acknowledged=True)
    turn = turn_with(new, seen)
    assert alarms.acknowledge(turn, [("A07", None), ("A08", None)]) is False
    assert alarms.acknowledge(turn, [("A05", "before"), ("A05", 7), ("A07", "then")]) is False
    assert (turn.memory.alarms, told(turn)) == ((new, seen), [])
    assert alarms.acknowledge(turn, [("A05", came), ("A07", None)], "heard") is True
    assert turn.memory.alarms == (replace(new, acknowledged=True), seen)
    (note,) = turn.notes
    assert (note.data["code"], note.data["comment"]) == ("A05", "heard")
    assert (note.data["change"], note.data["state"]) == ("acknowledged", "acknowledged")


@pytest.mark.parametrize(("latched", "stands"), [(True, True), (False, True), (False, False)])
def test_a_reset_leaves_what_is_not_latched_or_still_stands(
    monkeypatch: pytest.MonkeyPatch, latched: bool, stands: bool
) -> None:
    monkeypatch.setattr(alarms, "BY_CODE", {"A05": row(stands)})
    turn = turn_with(alarm := replace(STANDING, latched=latched))
    alarms.reset(turn)
    assert (turn.memory.alarms, told(turn)) == ((alarm,), [])


def test_a_reset_ends_a_latch_whose_condition_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alarms, "BY_CODE", {"A05": row(stands=False)})
    turn = turn_with(replace(STANDING, latched=True))
    alarms.reset(turn)
    assert turn.memory.alarms == ()
    (note,) = turn.notes
    assert (note.data["change"], note.data["state"]) == ("reset", "normal")


def test_a_shelf_has_a_reason_and_an_end() -> None:
    turn = turn_with(alarm := STANDING, other := replace(STANDING, code="A07"))
    alarms.shelve(turn, alarm, "filter on order", 12.34567)
    shelved = replace(
        alarm, acknowledged=True, shelved_until_s=112.34567, shelved_why="filter on order"
    )
    assert turn.memory.alarms == (shelved, other)
    (note,) = turn.notes
    assert (note.data["change"], note.data["shelf_reason"], note.data["shelf_s"]) == (
        "shelved", "filter on order", 12.346,
    )  # fmt: skip


@pytest.mark.parametrize(("until_s", "back"), [(100.0, True), (100.001, False), (99.0, True)])
def test_it_is_back_when_its_time_is_up(
    monkeypatch: pytest.MonkeyPatch, until_s: float, back: bool
) -> None:
    shelved = replace(STANDING, acknowledged=True, shelved_until_s=until_s, shelved_why="filter")
    turn, after = after_one(monkeypatch, row(True), shelved)
    assert after == [STANDING if back else shelved]
    assert told(turn) == (["unshelved"] if back else [])


def test_only_what_is_named_and_on_the_shelf_is_put_back() -> None:
    shelved = replace(STANDING, acknowledged=True, shelved_until_s=UNTIL_S, shelved_why="filter")
    gone = replace(shelved, code="A07", active=False)
    listed = replace(STANDING, code="A08", acknowledged=True)
    other = replace(shelved, code="A09")
    turn = turn_with(shelved, gone, listed, other)
    alarms.unshelve(turn, frozenset({"A05", "A07", "A08"}))
    assert turn.memory.alarms == (STANDING, listed, other)
    assert told(turn) == ["unshelved", "unshelved"]


# -- what the log is told ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "before", "after"),
    [
        ("raised", (), ("A05",)),
        ("raised", ("A01",), ("A01", "A05")),
        ("raised", ("A05",), ("A05",)),
        ("cleared", (), ()),
    ],
)
def test_an_open_cycle_remembers_what_was_raised_in_it(
    change: str, before: tuple[str, ...], after: tuple[str, ...]
) -> None:
    turn = turn_with(cycle=Cycle(id="e1-1", alarms=before))
    alarms.note(turn, STANDING, change)
    assert turn.memory.cycle is not None
    assert turn.memory.cycle.alarms == after


def test_without_a_cycle_it_is_told_all_the_same() -> None:
    turn = turn_with(cycle=None, plan=None)
    alarms.note(turn, STANDING, "raised")
    (note,) = turn.notes
    assert (turn.memory.cycle, note.cycle, note.data["job_id"]) == (None, None, None)
    assert (note.data["shelf_reason"], note.data["shelf_s"]) == (None, None)
