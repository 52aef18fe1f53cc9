"""The simulated machine, output module and pulse relay: what they do, second by second."""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware.plant.machine import Cycle, MachineNumbers
from hardware.plant.model import TableNumbers
from hardware.plant.plant import Numbers, Plant
from hardware.plant.remote import VERBS, do, parse
from hardware.plant.story import BadStory, file_of, load, names


class Master:
    """Something that writes the contacts: every 50 ms, ALIVE changing every 0.25 s."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.permit = False
        self.healthy = False
        self.alive_stopped = False
        self.quiet = False
        self._steps = 0

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.05)):
            self._steps += 0 if self.alive_stopped else 1
            if not self.quiet:
                self.plant.write_coils({
                    "start_permit": self.permit,
                    "hold_healthy": self.healthy,
                    "alive": self._steps // 5 % 2 == 1,
                    "beacon": False,
                })  # fmt: skip
            self.plant.advance(self.plant.now_s + 0.0500001)


@pytest.fixture
def plant() -> Plant:
    return Plant(Numbers(machine=MachineNumbers(stop_s=0.3, coast_s=2.0, hold_spindle_stop_s=1.0)))


@pytest.fixture
def master(plant: Plant) -> Master:
    return Master(plant)


def allowed(master: Master) -> None:
    """Both contacts closed and seen by the machine."""
    master.permit = master.healthy = True
    master.run(0.5)
    assert master.plant.contact("start_permit")
    assert master.plant.contact("hold_healthy")


def test_cycle_start_is_refused_without_the_permit(plant: Plant, master: Master) -> None:
    master.run(1.0)
    assert do(plant, {"do": "cycle_start"}) == {
        "ok": False,
        "why": "no permit: the start permit contact is open",
    }
    assert not plant.inputs()["cycle_running"]


def test_cycle_start_works_with_the_permit_and_ends_with_a_spindle_that_coasts(
    plant: Plant, master: Master
) -> None:
    allowed(master)
    assert do(plant, {"do": "cycle_start"})["ok"]
    master.run(1.0)
    assert plant.inputs()["cycle_running"]
    assert not plant.inputs()["standstill"]
    assert do(plant, {"do": "cycle_end"})["ok"]
    master.run(1.5)
    assert not plant.inputs()["cycle_running"]
    assert not plant.inputs()["standstill"]  # the spindle takes 2 s
    master.run(0.6)
    assert plant.inputs()["standstill"]


def test_the_permit_coil_alone_does_nothing_without_pulses(plant: Plant, master: Master) -> None:
    """The relay in series opens 1.0 s after the last change of ALIVE."""
    allowed(master)
    master.alive_stopped = True  # just after a change
    master.run(0.85)
    assert plant.contact("start_permit")
    master.run(0.2)
    assert plant.module.coils["start_permit"]
    assert not plant.contact("start_permit")
    assert not do(plant, {"do": "cycle_start"})["ok"]


def test_a_quiet_master_opens_every_coil_within_a_second(plant: Plant, master: Master) -> None:
    allowed(master)
    master.quiet = True
    master.run(0.85)
    assert plant.module.coils["hold_healthy"]
    master.run(0.2)
    assert not any(plant.module.coils.values())
    assert not plant.contact("hold_healthy")


def test_the_machine_holds_when_the_hold_contact_opens(plant: Plant, master: Master) -> None:
    allowed(master)
    do(plant, {"do": "cycle_start"})
    master.run(1.0)
    master.healthy = False
    master.run(0.2)
    assert plant.machine.cycle is Cycle.STOPPING
    assert plant.inputs()["cycle_running"]
    master.run(0.2)
    assert plant.machine.cycle is Cycle.HELD
    assert not plant.inputs()["cycle_running"]
    assert plant.table.vacuum_on is False
    assert plant.status()["held_by_contact"]
    master.run(1.0)  # then its own sequence stops the spindle
    assert not plant.machine.spindle_on
    master.run(2.1)
    assert plant.inputs()["standstill"]


def test_resume_needs_both_contacts(plant: Plant, master: Master) -> None:
    allowed(master)
    do(plant, {"do": "cycle_start"})
    assert do(plant, {"do": "feed_hold"})["ok"]
    master.run(0.5)
    master.permit = False
    master.run(0.2)
    assert not do(plant, {"do": "resume"})["ok"]
    master.permit = True
    master.run(0.2)
    assert do(plant, {"do": "resume"})["ok"]
    assert plant.inputs()["cycle_running"]


def test_the_spindle_goes_on_in_a_hold_by_the_operator(plant: Plant, master: Master) -> None:
    allowed(master)
    do(plant, {"do": "cycle_start"})
    do(plant, {"do": "feed_hold"})
    master.run(5.0)
    assert not plant.inputs()["cycle_running"]
    assert not plant.inputs()["standstill"]


def test_a_forced_start_runs_until_the_hold_contact_stops_it(plant: Plant, master: Master) -> None:
    master.run(0.5)
    assert do(plant, {"do": "cycle_start", "force": True})["ok"]
    master.run(0.1)
    assert plant.inputs()["cycle_running"]
    master.run(0.5)
    assert plant.machine.cycle is Cycle.HELD


def test_a_machine_that_ignores_the_hold_goes_on(plant: Plant, master: Master) -> None:
    do(plant, {"do": "fault", "name": "ignores_hold", "on": True})
    do(plant, {"do": "cycle_start", "force": True})
    master.run(2.0)
    assert plant.inputs()["cycle_running"]


def test_the_key_stands_for_both_contacts(plant: Plant, master: Master) -> None:
    do(plant, {"do": "key", "on": True})
    master.run(0.5)
    assert plant.inputs()["key_bypass"]
    assert do(plant, {"do": "cycle_start"})["ok"]
    master.run(2.0)
    assert plant.inputs()["cycle_running"]


def test_the_emergency_stop_stops_motion_and_leaves_the_vacuum(
    plant: Plant, master: Master
) -> None:
    do(plant, {"do": "vacuum", "on": True})
    allowed(master)
    do(plant, {"do": "cycle_start"})
    master.run(1.0)
    do(plant, {"do": "estop"})
    assert not plant.inputs()["stop_healthy"]
    assert not plant.inputs()["cycle_running"]
    assert plant.inputs()["valve_open"]
    assert not do(plant, {"do": "cycle_start"})["ok"]
    do(plant, {"do": "estop", "on": False})
    assert plant.inputs()["stop_healthy"]


def test_release_waits_for_standstill(plant: Plant, master: Master) -> None:
    do(plant, {"do": "vacuum", "on": True})
    allowed(master)
    do(plant, {"do": "cycle_start"})
    master.run(0.5)
    assert not do(plant, {"do": "release"})["ok"]
    do(plant, {"do": "cycle_end"})
    master.run(2.2)
    assert do(plant, {"do": "release"})["ok"]
    master.run(5.0)
    assert plant.table.vacuum_kpa < 0.1
    assert not plant.inputs()["valve_open"]


def test_a_stuck_coil_reads_back_as_it_sticks(plant: Plant, master: Master) -> None:
    allowed(master)
    do(plant, {"do": "fault", "name": "permit_stuck", "on": True})
    master.permit = False
    master.run(0.5)
    assert plant.module.coils["start_permit"]


def test_a_module_whose_watch_is_off_stays_as_it_was_written(plant: Plant, master: Master) -> None:
    allowed(master)
    do(plant, {"do": "fault", "name": "watch_off", "on": True})
    plant.advance(plant.now_s + 5.0)
    assert plant.module.coils["start_permit"]
    assert not plant.contact("start_permit")  # the pulse relay opens all the same
    do(plant, {"do": "fault", "name": "watch_off", "on": False})
    plant.advance(plant.now_s + 0.1)
    assert not plant.module.coils["start_permit"]


def test_inputs_without_wire_or_supply_read_off(plant: Plant, master: Master) -> None:
    assert plant.inputs()["standstill"]
    do(plant, {"do": "fault", "name": "inputs_dead", "on": True})
    assert not any(plant.inputs().values())
    do(plant, {"do": "fault", "name": "inputs_dead", "on": False})
    allowed(master)
    assert do(plant, {"do": "cycle_start"})["ok"]
    assert plant.inputs()["cycle_running"]
    do(plant, {"do": "fault", "name": "running_lost", "on": True})
    assert not plant.inputs()["cycle_running"]
    assert plant.machine.cycle_running


def test_the_feedback_input_tells_the_permit_as_the_machine_sees_it(
    plant: Plant, master: Master
) -> None:
    allowed(master)
    assert plant.inputs()["contact_feedback"]
    master.alive_stopped = True
    master.run(1.3)
    assert not plant.inputs()["contact_feedback"]
    do(plant, {"do": "fault", "name": "feedback_wrong", "on": True})
    assert plant.inputs()["contact_feedback"]


def test_a_pump_that_stands_still_lets_the_vacuum_go_while_its_valve_says_open(
    plant: Plant, master: Master
) -> None:
    do(plant, {"do": "vacuum", "on": True})
    master.run(5.0)
    before = plant.table.vacuum_kpa
    do(plant, {"do": "fault", "name": "pump_off", "on": True})
    master.run(2.0)
    assert plant.table.vacuum_kpa < before - 1.0
    assert plant.inputs()["valve_open"]


def test_a_program_with_a_length_ends_by_itself() -> None:
    plant = Plant(Numbers(machine=MachineNumbers(program_s=2.0)))
    master = Master(plant)
    allowed(master)
    do(plant, {"do": "cycle_start"})
    master.run(1.8)
    assert plant.inputs()["cycle_running"]
    master.run(0.3)
    assert not plant.inputs()["cycle_running"]


@pytest.mark.parametrize(
    "request_",
    [
        {"do": "explode"}, {}, {"do": 5}, {"do": "leak", "bore_mm": "wide"},
        {"do": "leak", "bore_mm": -1}, {"do": "leak", "bore_mm": float("nan")},
        {"do": "vacuum", "on": 1}, {"do": "fault", "name": "none such"},
        {"do": "fault", "name": "silent", "face": "door"}, {"do": "seats", "up": True},
        {"do": "cycle_end"}, {"do": "resume"}, {"do": "feed_hold"},
    ],
    ids=str,
)  # fmt: skip
def test_a_request_that_cannot_be_done_says_why(plant: Plant, request_: dict[str, object]) -> None:
    reply = do(plant, request_)
    assert reply["ok"] is False
    assert reply["why"]


@pytest.mark.parametrize("line", [b"", b"{", b"[1]\n", b"3\n", b"\xff\n"])
def test_a_line_that_is_no_object_is_told_apart(line: bytes) -> None:
    assert parse(line) is None


@pytest.mark.parametrize("name", names())
def test_every_story_loads_and_its_events_can_be_done(name: str) -> None:
    story = load(file_of(name))
    plant = Plant(story.numbers)
    for event in story.events:
        assert event.request["do"] in VERBS
        do(plant, event.request)
    plant.advance(1.0)
    assert plant.now_s == pytest.approx(1.0, abs=0.011)


def test_the_demo_story_draws_twelve_cups_to_a_working_vacuum_in_ten_seconds() -> None:
    plant = Plant(load(file_of("demo")).numbers)
    do(plant, {"do": "vacuum", "on": True})
    plant.advance(6.0)
    assert 60.0 < plant.table.vacuum_kpa < 75.0
    plant.advance(10.0)
    assert 75.0 < plant.table.vacuum_kpa < 82.0


WRONG = {
    "format": ("title = 'x'\n", "format = 1"),
    "syntax": ("format = 1\n[table\n", "line 2"),
    "unknown": ("format = 1\n[table]\nvolume = 3\n", ":3: volume is not known here"),
    "text": ("format = 1\n[table]\nvolume_l = 'big'\n", ":3: volume_l is a number"),
    "negative": ("format = 1\n[gauge]\nlag_s = -1\n", ":3: lag_s is 0 or more"),
    "zero": ("format = 1\n[table]\nvolume_l = 0\n", ":3: volume_l is more than 0"),
    "curve": ("format = 1\n[table]\npump_curve = [[0, 1]]\n", ":3: pump_curve is two or more"),
    "falling": ("format = 1\n[table]\npump_curve = [[9, 1], [3, 0]]\n", ":3: pump_curve: vacuum"),
    "event": ("format = 1\n[[event]]\nat_s = 1\ndo = 'fly'\n", ":2: an event needs"),
    "top": ("format = 1\ncolour = 2\n", ":2: colour is not known here"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_story_is_one_line_with_file_line_and_mend(name: str, tmp_path: Path) -> None:
    text, words = WRONG[name]
    path = tmp_path / "wrong.toml"
    path.write_text(text)
    with pytest.raises(BadStory) as caught:
        load(path)
    assert words in str(caught.value)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_story_that_is_not_there_names_those_that_are() -> None:
    with pytest.raises(BadStory, match="demo"):
        file_of("no such story")


def test_numbers_in_a_story_reach_the_plant(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("format = 1\n[table]\nvolume_l = 33\nseats_up = 4\n[[event]]\n"
                    "at_s = 2\ndo = 'leak'\nbore_mm = 3.0\n")  # fmt: skip
    story = load(path)
    assert story.numbers.table == TableNumbers(volume_l=33.0, seats_up=4)
    assert [(e.at_s, e.request) for e in story.events] == [(2.0, {"do": "leak", "bore_mm": 3.0})]
