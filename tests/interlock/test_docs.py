"""docs/interlock.md against the rows in the code: every table there says what is done here."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kiosk.interlock import alarm_rows, alarms, codes, permissives, table
from kiosk.interlock.commands import BYPASS_REASONS, RESET_CAUSES, SHELVE_REASONS, Name
from kiosk.interlock.events import Event
from kiosk.interlock.judge import BY_NAME
from kiosk.interlock.states import Flag, State

TEXT = (Path(__file__).resolve().parents[2] / "docs" / "interlock.md").read_text(encoding="utf-8")


def section(title: str) -> str:
    """The text under one heading."""
    return TEXT.split(f"\n## {title}\n", 1)[1].split("\n## ", 1)[0]


def rows(text: str, head: str) -> list[list[str]]:
    """The cells of the table that has this first heading cell."""
    lines = text.splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith(f"| {head} |"))
    found = []
    for line in lines[first + 2 :]:
        if not line.startswith("|"):
            break
        found.append([cell.strip() for cell in line.strip().strip("|").split("|")])
    return found


def test_states_and_their_contacts() -> None:
    told = {
        row[0]: (row[2] == "on", row[3] == "on")
        for row in rows(section("States and contacts"), "state")
    }
    assert told == {state.value: table.CONTACTS.get(state, (False, False)) for state in State}


def test_the_moves_are_the_table_of_the_code() -> None:
    block = re.search(r"```\n(.*?)```", section("Events and moves"), re.DOTALL)
    assert block is not None
    assert table.parse(block.group(1)) == table.TABLE


def test_the_order_of_events_is_the_order_of_judging() -> None:
    block = re.search(r"```\n(.*?)```", section("Events and moves"), re.DOTALL)
    assert block is not None
    assert [line.split()[0] for line in block.group(1).splitlines()[1:]] == list(Event)


def test_every_choice_is_explained() -> None:
    told = {row[0].strip("`") for row in rows(section("Events and moves"), "choice")}
    assert told == set(table.CHOICES)


def test_commands_and_where_they_are_allowed() -> None:
    told = {row[0].strip("`"): row for row in rows(section("Commands"), "command")}
    assert set(told) == {name.value for name in Name}
    for name, row in told.items():
        states = set(State) if row[1] == "any" else {State(word) for word in row[1].split(", ")}
        assert states == set(BY_NAME[Name(name)].states), name
        assert (row[3] == "yes") is BY_NAME[Name(name)].names_plan, name


@pytest.mark.parametrize(
    ("label", "known"),
    [
        ("Causes", RESET_CAUSES),
        ("Bypass reasons", BYPASS_REASONS),
        ("Shelf reasons", SHELVE_REASONS),
        ("Refusals", codes.REFUSALS),
    ],
)
def test_lists_of_codes(label: str, known: tuple[str, ...]) -> None:
    text = re.search(rf"{label}: (.*?)\.\n\n", section("Commands"), re.DOTALL)
    assert text is not None
    assert tuple(re.findall(r"`(\w+)`", text.group(1))) == known


def test_permissives_in_order_with_their_marks() -> None:
    told = [(row[0].strip("`"), row[2]) for row in rows(section("Permissives"), "code")]
    marks = [
        (
            row.code,
            ", ".join(
                ["own"] * (row.own is not None)
                + ["pause"] * row.in_pause
                + ["bypass"] * row.bypassable
                + ["site"] * (row.there is not permissives._always)
            ),
        )
        for row in permissives.ROWS
    ]
    assert told == marks


def test_alarms_with_priority_and_marks() -> None:
    told = [(row[0], int(row[1]), row[4], row[5]) for row in rows(section("Alarms"), "code")]
    marks = [
        (
            row.code,
            row.priority,
            f"{row.on_s:g} / {row.off_s:g} s" if row.on_s or row.off_s else "",
            ", ".join(
                ["cut"] * row.in_cut
                + ["latched"] * row.latches
                + ["first-out"] * row.in_group
                + ["site"] * (row.exists is not alarm_rows._always)
            ),
        )
        for row in alarms.ROWS
    ]
    assert told == marks


def test_results_flags_and_releases_are_named() -> None:
    for result in codes.RESULTS:
        assert f"`{result}`" in section("The cycle in the log")
    for flag in Flag:
        assert flag.value in section("States and contacts")
    for word in codes.RELEASES:
        assert f"`{word}`" in section("Commands")
