"""Lines of the socket, plans and snapshots, damaged in every way: a value or a ValueError."""

from __future__ import annotations

import contextlib
import json
import sys
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import pytest

from kiosk.guard import wire
from kiosk.interlock import snapshot as snapshots
from kiosk.interlock.commands import Name
from kiosk.interlock.states import State
from kiosk.job import plan as plans
from kiosk.job.planning import make_plan
from kiosk.site import load_site
from tests.fuzz.amounts import amounts
from tests.fuzz.damage import SLOWEST_S, damaged, damaged_json, timed

ROOT = Path(__file__).parents[2]
sys.path.append(str(ROOT / "tests" / "interlock"))

from interlock_world import World, reach  # noqa: E402

COMMAND = {"command": "confirm_zone", "id": "a1", "epoch": "e1", "plan": "d1", "zone": "A",
           "warnings": ["x"], "alarm": None, "cause": "other", "job": "SR-1"}  # fmt: skip
DEEP = [b"[" * 60_000, b'{"a":' * 12_000, b'{"command":' + b"[" * 50_000]


def line_of(good: Any, chance: Random) -> bytes:
    """A JSON line made wrong in its values or in its bytes."""
    if chance.random() < 0.5:
        return damaged(json.dumps(good).encode(), chance)
    return json.dumps(damaged_json(good, chance)).encode()


@pytest.fixture(scope="module")
def plan_row() -> Any:
    site = load_site(ROOT / "hardware" / "site" / "demo.site.toml")
    return json.loads(make_plan(ROOT / "assets" / "jobs" / "bracket-pair.job.toml", site).to_json())


@pytest.mark.parametrize("count", amounts(2_000, 1_000_000))
def test_any_line_to_the_guard_is_a_message_or_damaged(count: int) -> None:
    slowest_s, damages = 0.0, 0
    for seed in range(count):
        for line in line_of(COMMAND, Random(seed)).split(b"\n"):
            got: list[wire.Message] = []
            slowest_s = max(slowest_s, timed(lambda line=line, got=got: got.append(
                wire.read(line, "s1"))))  # fmt: skip
            assert isinstance(got[0], wire.Alive | wire.Command | wire.Damaged)
            damages += isinstance(got[0], wire.Damaged)
            if isinstance(got[0], wire.Damaged) and got[0].reply is not None:
                assert wire.reply(got[0].reply).count(b"\n") == 1
    assert slowest_s < SLOWEST_S
    assert count / 10 < damages < 2 * count  # both ways were gone


@pytest.mark.parametrize("name", [[], {}, [[]], None, 1.5, True, "", "reset\x00", ["reset"]])
def test_a_command_that_is_no_name_is_unknown(name: object) -> None:
    line = json.dumps({**COMMAND, "command": name}).encode()
    got = wire.read(line, "s1")
    assert isinstance(got, wire.Damaged)
    assert got.reply is not None
    assert got.reply.refused == "unknown_command"


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999"])
def test_what_is_no_json_number_is_a_damaged_line(number: str) -> None:
    """RFC 8259, section 6."""
    line = json.dumps(COMMAND).replace('"other"', number).encode()
    assert wire.read(line, "s1") == wire.Damaged(None)


@pytest.mark.parametrize("line", DEEP)
def test_brackets_without_end_are_a_damaged_line(line: bytes) -> None:
    assert wire.read(line, "s1") == wire.Damaged(None)
    for read in (snapshots.from_json, plans.from_json):
        with pytest.raises(ValueError, match="nested too deep"):
            read(line)


@pytest.mark.parametrize("count", amounts(800, 200_000))
def test_a_damaged_snapshot_is_a_snapshot_of_the_declared_types_or_a_value_error(
    count: int,
) -> None:
    world = reach(State.CUTTING)
    row = json.loads(world.shown.to_json())
    refused = 0
    for seed in range(count):
        line = line_of(row, Random(seed))
        try:
            shown = snapshots.from_json(line)
        except ValueError:
            refused += 1
            continue
        assert snapshots.from_json(shown.to_json()) == shown
    assert count / 2 < refused < count


@pytest.mark.parametrize("count", amounts(200, 20_000))
def test_a_damaged_plan_is_a_plan_of_the_declared_types_or_a_value_error(
    count: int, plan_row: Any
) -> None:
    refused = 0
    for seed in range(count):
        line = line_of(plan_row, Random(seed))
        try:
            plan = plans.from_json(line)
        except ValueError:
            refused += 1
            continue
        assert plans.from_json(plan.to_json()) == plan
    assert count / 3 < refused < count


# -- the decision ----------------------------------------------------------------------------


def strange_command(world: World, chance: Random) -> None:
    """One command with arguments of any kind, perhaps of another epoch, plan or client."""
    row = damaged_json(COMMAND, chance)
    arguments = {key: value for key, value in row.items() if key in (
        "zone", "warnings", "alarm", "cause", "job", "standstill")}  # fmt: skip
    world.queue(chance.choice(tuple(Name)), chance.choice(("d1", None, "d2", "")), **arguments)


@pytest.mark.parametrize("count", amounts(60, 10_000))
def test_strange_commands_never_bring_a_permit_while_the_hold_is_not_enough(count: int) -> None:
    replies = 0
    for seed in range(count):
        chance = Random(seed)
        world = reach(chance.choice((State.SELECT_JOB, State.SET_UP, State.CHECKING)))
        world.set_ratio(chance.choice((0.0, 0.5, 1.0, 1.14)))
        for _ in range(12):
            for _ in range(chance.randrange(8)):
                strange_command(world, chance)
            replies += len(world.step().replies)
            assert world.outputs == (False, False)
            json.loads(world.shown.to_json())
    assert replies > count


@pytest.mark.parametrize("count", amounts(60, 10_000))
def test_strange_readings_and_plans_never_bring_a_permit(count: int) -> None:
    wild = (float("nan"), float("inf"), -float("inf"), 1e308, -1e308, 0.0, -0.0, -5.0, 5.0e-324)
    for seed in range(count):
        chance = Random(seed)
        world = World()
        world.step()
        changes: dict[str, Any] = {"minimum_kpa": chance.choice(wild)}
        if chance.random() < 0.5:
            changes = {chance.choice(("drops_kpa", "errors_kpa")): chance.choice(
                ({}, {"table": chance.choice(wild[:3])}, {"pump": 1.0}))}  # fmt: skip
        assert world.plan is not None
        world.plan = replace(world.plan, **changes)
        with contextlib.suppress(AssertionError):  # such a plan may well be refused on the way
            world.select()
            world.confirm()
        for _ in range(20):
            world.vacuum["table"] = chance.choice((*wild, 20.0))
            world.queue(Name.REQUEST_PERMIT)
            world.step()
            assert world.outputs == (False, False)
