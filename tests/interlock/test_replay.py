"""A logged cycle decided again from its facts: the same, whatever happened in it."""

from __future__ import annotations

import json
import sqlite3
import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import nan
from pathlib import Path
from random import Random
from typing import Any

import pytest
from interlock_site import OFFER, TWO_GAUGES, UTC, site_of
from interlock_world import World

from kiosk.cli import main as cli
from kiosk.interlock import delays, moves
from kiosk.interlock.codes import CAUTIONS
from kiosk.interlock.commands import Name
from kiosk.interlock.decision import Decision, Note
from kiosk.interlock.facts import Facts, PeopleFacts
from kiosk.interlock.memory import Memory
from kiosk.interlock.reading import Why
from kiosk.interlock.states import State
from kiosk.mistakes import BadInput
from kiosk.records import review
from kiosk.records.facts import PIECE_STEPS, Keeper, Piece, difference, followed, told, unpacked
from kiosk.records.replay import replay
from kiosk.records.thaw import frozen, thawed
from kiosk.records.writer import Writer


@dataclass
class Kept(World):
    """A world whose cycles are kept with their facts, beside what was decided."""

    keeper: Keeper = field(default_factory=Keeper)
    pieces: list[Note] = field(default_factory=list)
    log_of: list[Note] = field(default_factory=list)
    jitter: Random = field(default_factory=lambda: Random(3))

    def step(self, advance_s: float | None = None) -> Decision:
        before, seen = self.memory, []
        facts = self.facts

        def look() -> Facts:
            seen.append(facts())
            return seen[-1]

        self.facts = look  # type: ignore[method-assign]
        uneven_s = self.step_s + self.jitter.randint(-9000, 9000) / 1e6
        decision = super().step(uneven_s if advance_s is None else advance_s)
        self.facts = facts  # type: ignore[method-assign]
        pieces = list(self.keeper.keep(before, seen[0], self.utc, decision))
        self.pieces += pieces
        self.log_of += [*decision.notes, *pieces]
        return decision

    def set_noise(self, ratio: float) -> None:
        """Vacuum for this R with the digits that a 32-bit number brings."""
        self.set_ratio(ratio + self.jitter.gauss(0.0, 0.004))


def written(world: Kept, folder: Path) -> Path:
    """The log of a world, by the real writer."""
    path = folder / "log.db"
    writer = Writer(path, world.epoch, lambda: world.now_s)
    writer.start()
    for note in world.log_of:
        writer.note(note, world.now_s, UTC)
    assert writer.close(20.0), writer.status
    return path


def good_part(world: Kept) -> None:
    world.cut()
    for _ in range(200):
        world.set_noise(1.5)
        world.step()
    world.ramp(1.05)
    world.run(3.0)
    world.ramp(1.5)
    world.run(6.0)
    world.cycle(False)
    world.send(Name.FINISH)
    world.see(comment="seen")
    world.set_vacuum(0.4)
    world.run(4.0)
    world.send(Name.NEXT_PART)
    assert world.state is State.SET_UP


def lost_part(world: Kept) -> None:
    world.cut()
    world.vacuum["table"] = Why.GARBLED
    world.run(0.4)
    world.set_vacuum(nan)
    world.run(0.3)
    world.set_ratio(1.5)
    world.run(1.0)
    world.io = False
    world.run(4.0)
    world.io = True
    world.ramp(0.9)
    world.run(1.0)
    world.cycle(False)
    world.send(Name.RESET, cause="part_moved")
    world.set_vacuum(0.4)
    world.run(4.0)
    world.send(Name.JOB_DONE)


def bypassed_part(world: Kept) -> None:
    world.confirm()
    world.people = PeopleFacts(True, "supervisor", "the supervisor")
    world.send(Name.CONFIRM_CAUTIONS, cautions=CAUTIONS, texts="0a1b")
    world.send(Name.BYPASS, check="signed_on", reason="other")
    world.people = PeopleFacts(True)
    world.stuck["hold_healthy"] = True
    world.run(0.7)
    world.stuck.clear()
    world.leak_ratio, world.leak_zone = 2.5, "B"
    world.screen_alive = False
    world.run(3.0)
    world.screen_alive = True
    world.log_alive = False
    world.run(6.0)
    world.log_alive = True
    world.loop_late_s = 0.7
    world.step()
    world.loop_late_s = 0.2
    world.utc = "2026-11-26T00:00:00.500Z"
    world.run(1.0)
    world.send(Name.CANCEL_JOB)


STORIES: dict[str, Callable[[Kept], None]] = {
    "a good part": good_part, "a lost part": lost_part, "checks and people": bypassed_part,
}  # fmt: skip


@pytest.mark.parametrize("two", [False, True], ids=["one gauge", "two gauges"])
@pytest.mark.parametrize("story", STORIES)
def test_a_cycle_is_decided_again_the_same(story: str, two: bool, tmp_path: Path) -> None:
    world = Kept(site=site_of(gauges=TWO_GAUGES) if two else site_of())
    STORIES[story](world)
    done = replay(written(world, tmp_path), "1")
    assert done.differences == ()
    assert done.whole
    assert done.steps > 60
    assert done.events == len([n for n in world.notes if n.cycle == "e1-1"])


def test_every_cycle_of_a_log_has_its_own_facts(tmp_path: Path) -> None:
    world = Kept()
    good_part(world)
    world.confirm()
    world.run(1.0)
    world.send(Name.CANCEL_JOB)
    path = written(world, tmp_path)
    for number in ("1", "2"):
        done = replay(path, number)
        assert (done.cycle, done.differences, done.whole) == (f"e1-{number}", (), True)


def test_a_cycle_that_a_power_cut_ended_is_replayed_as_far_as_it_goes(tmp_path: Path) -> None:
    world = Kept()
    world.cut()
    for _ in range(PIECE_STEPS + 20):
        world.step()
    done = replay(written(world, tmp_path), "last")
    assert (done.whole, done.differences) == (False, ())
    assert done.steps == PIECE_STEPS


def test_another_decision_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The replay is no use if it cannot fail: a program with another pause answers otherwise."""
    world = Kept()
    good_part(world)
    path = written(world, tmp_path)
    monkeypatch.setattr(moves.permissives, "may_pause", lambda turn: False)
    done = replay(path, "1")
    assert any("PAUSED" in line for line in done.differences)


def test_a_difference_that_no_event_shows_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether a check holds for a while shows in the sum over the steps."""
    world = Kept()
    bypassed_part(world)
    path = written(world, tmp_path)
    monkeypatch.setattr(delays, "LOOP_LATE_S", 0.8)
    done = replay(path, "1")
    assert any("within its" in line for line in done.differences)


def test_a_cycle_without_facts_says_so(tmp_path: Path) -> None:
    world = Kept()
    good_part(world)
    world.log_of = [note for note in world.log_of if note.kind != "facts"]
    with pytest.raises(BadInput, match="has no facts"):
        replay(written(world, tmp_path), "1")


@pytest.mark.parametrize("damage", ["!", "AAAA", Piece({}).text()])
def test_damaged_facts_are_one_clear_message(damage: str, tmp_path: Path) -> None:
    world = Kept()
    good_part(world)
    world.log_of = [
        replace(n, data={**n.data, "piece": damage}) if n.kind == "facts" else n
        for n in world.log_of
    ]
    with pytest.raises(BadInput, match="cannot be read"):
        replay(written(world, tmp_path), "1")


def test_the_command_says_it_and_ends_with_0_or_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    world = Kept()
    good_part(world)
    written(world, tmp_path)
    monkeypatch.setattr(sys, "argv", ["holdpoint"])
    assert cli(["log", "replay", "last", "--data", str(tmp_path)]) == 0
    assert "Every decision is the same." in capsys.readouterr().out
    assert cli(["log", "replay", "last", "--data", str(tmp_path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["differences"] == []
    monkeypatch.setattr(moves.permissives, "may_pause", lambda turn: False)
    assert cli(["log", "replay", "last", "--data", str(tmp_path)]) == 1
    assert cli(["log", "show", "last", "--data", str(tmp_path)]) == 0
    assert "facts" not in capsys.readouterr().out


def test_facts_are_in_the_chain_and_in_no_list_for_people(tmp_path: Path) -> None:
    world = Kept()
    good_part(world)
    path = written(world, tmp_path)
    with sqlite3.connect(path) as db:
        (kept,) = db.execute("SELECT count(*) FROM event WHERE kind = 'facts'").fetchone()
    assert kept == len(world.pieces) >= 2
    assert all(event.kind != "facts" for event in review.events(path))
    assert all(event.kind != "facts" for event in review.cycle(path, "1").events)


# -- forms -------------------------------------------------------------------------------------


def test_memory_and_facts_come_back_equal_from_every_state() -> None:
    world = Kept(site=site_of(gauges=TWO_GAUGES))
    lost_part(world)
    for _ in range(3):
        world.send(Name.SELECT_JOB, job=OFFER.file)
        facts = world.facts()
        assert thawed(Facts, json.loads(json.dumps(frozen(facts)))) == facts
        text = json.loads(json.dumps(frozen(world.memory)))
        assert thawed(Memory, text) == world.memory


def test_times_that_are_no_whole_microseconds_come_back_too() -> None:
    world = World()
    world.step()
    before = told(world.facts())
    world.now_s += 0.05 + 1e-9 / 3.0
    after = told(world.facts())
    row = json.loads(json.dumps(difference(before, after)))
    assert followed(before, row) == after


@pytest.mark.parametrize(
    "kpa", [0.1, 61.534614562988281, 2.0**-149, 3.4e38, 1e39, -0.0, nan, 70.0, 1.0 / 3.0]
)
def test_every_value_comes_back_exactly(kpa: float) -> None:
    """Also the 32-bit numbers of IEEE 754 from the least to the greatest, told in 9 digits."""
    world = World()
    world.step()
    before = told(world.facts())
    world.vacuum["table"] = kpa
    world.now_s = round(world.now_s + 0.05, 6)
    after = told(world.facts())
    row = json.loads(json.dumps(difference(before, after)))
    again = followed(before, row).gauges["table"]
    assert repr(again) == repr(after.gauges["table"])


def test_a_piece_comes_back() -> None:
    rows = [{"n": 1, "g": {"table": [3, 61.5]}}, {"n": 2}]
    piece = Piece({"utc": UTC})
    for row in rows:
        piece.add(row)
    assert unpacked(piece.text()) == {"utc": UTC, "rows": rows}


def test_no_step_has_a_whole_piece_to_pack(monkeypatch: pytest.MonkeyPatch) -> None:
    """The steps of a cut come every 50 ms: each writes its own row, whoever ends the piece too."""
    world = Kept()
    world.confirm()
    longest, dumps = 0, json.dumps

    def watched(value: Any, **how: Any) -> str:
        nonlocal longest
        text = dumps(value, **how)
        longest = max(longest, len(text))
        return text

    monkeypatch.setattr(json, "dumps", watched)
    for number in range(PIECE_STEPS + 5):
        world.set_vacuum(60.0 + 0.01 * (number % 7))
        world.step()
    whole = unpacked(str(world.pieces[-1].data["piece"]))
    assert len(whole["rows"]) == PIECE_STEPS
    assert 0 < longest < len(dumps(whole)) / 10
