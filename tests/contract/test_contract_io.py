"""What every interface to the machine must do, against the plant over TCP and RTU."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from plant_process import PlantProcess, until

from hardware.catalog import open_io
from hardware.machine_io import MachineIO
from kiosk.interlock.reading import Fault, Signals, Why
from kiosk.site import InputOutput

INPUTS = {"cycle_running": 0, "standstill": 1, "valve_open": 2, "stop_healthy": 3,
          "key_bypass": 4, "contact_feedback": 5}  # fmt: skip
OUTPUTS = {"start_permit": 0, "hold_healthy": 1, "alive": 2, "beacon": 3}


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PlantProcess]:
    with PlantProcess("--serial", str(tmp_path_factory.mktemp("lines"))) as running:
        yield running


@pytest.fixture(scope="module", params=["io", "io_rtu"])
def opened(plant: PlantProcess, request: pytest.FixtureRequest) -> Iterator[MachineIO]:
    io = open_io(InputOutput(plant.ready[request.param], INPUTS, OUTPUTS), time.monotonic)
    yield io
    io.close()


@pytest.fixture
def io(plant: PlantProcess, opened: MachineIO) -> Iterator[MachineIO]:
    until(lambda: isinstance(opened.read_inputs(), Signals), 3.0, "signals")
    yield opened
    plant.clear_faults()


def on(sample: Signals | Fault) -> set[str]:
    """What is on, by name."""
    values = sample.values if isinstance(sample, Signals) else {}
    return {name for name, value in values.items() if value}


class Master:
    """Writes the contacts with ALIVE changing about every 0.2 s."""

    def __init__(self, io: MachineIO) -> None:
        self.io = io
        self.contacts = {"start_permit": False, "hold_healthy": False, "beacon": False}

    def write(self) -> Fault | None:
        return self.io.write({**self.contacts, "alive": int(time.monotonic() * 5.0) % 2 == 1})

    def until(self, condition: object, what: str) -> None:
        assert callable(condition)

        def once() -> bool:  # a busy computer may be late for one
            return self.write() is None and bool(condition())

        until(once, 3.0, what)


def test_what_is_written_reads_back_and_reaches_the_machine(
    plant: PlantProcess, io: MachineIO
) -> None:
    master = Master(io)
    master.contacts |= {"start_permit": True, "beacon": True}
    master.until(lambda: plant.do("status")["contacts"]["start_permit"], "permit at the machine")
    master.until(
        lambda: on(io.read_contacts()) - {"alive"} == {"start_permit", "beacon"}, "contacts"
    )
    master.until(lambda: "contact_feedback" in on(io.read_inputs()), "its feedback")
    master.contacts["start_permit"] = False
    master.until(lambda: not plant.do("status")["coils"]["start_permit"], "permit gone")


def test_inputs_tell_what_the_machine_does(plant: PlantProcess, io: MachineIO) -> None:
    master = Master(io)
    master.contacts |= {"start_permit": True, "hold_healthy": True}
    master.until(lambda: plant.do("cycle_start")["ok"], "cycle started")

    def running() -> bool:
        plant.do("resume")  # refused but after a pause of the computer that opened the contacts
        return {"cycle_running", "standstill"} & on(io.read_inputs()) == {"cycle_running"}

    def held() -> bool:
        inputs = io.read_inputs()
        return isinstance(inputs, Signals) and not inputs.values["cycle_running"]

    master.until(running, "a running cycle")
    master.contacts["hold_healthy"] = False
    master.until(held, "feed hold")
    assert plant.do("status")["held_by_contact"]
    assert plant.do("cycle_end")["ok"]


def test_contacts_open_by_themselves_when_nobody_writes(plant: PlantProcess, io: MachineIO) -> None:
    master = Master(io)
    master.contacts["start_permit"] = True
    master.until(lambda: plant.do("status")["contacts"]["start_permit"], "permit at the machine")
    rows = [plant.do("status")]

    def opened() -> bool:
        rows.append(plant.do("status"))
        return not rows[-1]["coils"]["start_permit"]

    until(opened, 2.0, "coil opened")
    held = [row["now_s"] for row in rows if row["coils"]["start_permit"]]
    first_s = rows[0]["now_s"]
    assert (
        max(held, default=first_s) - first_s <= 1.0 + 0.05
    )  # the module's 1.0 s, on its own clock
    contacts = io.read_contacts()
    assert isinstance(contacts, Signals)
    assert not contacts.values["start_permit"]


def test_what_was_decided_too_long_ago_closes_no_contact(
    plant: PlantProcess, io: MachineIO
) -> None:
    """It opens them: no write of an old decision may leave them as they are."""
    master = Master(io)
    master.contacts.update(start_permit=True, hold_healthy=True)
    master.until(lambda: plant.do("status")["coils"]["hold_healthy"], "closed")
    assert io.write(dict(master.contacts), time.monotonic() - 0.001) is None
    read = io.read_contacts()
    assert isinstance(read, Signals)
    assert not any(read.values.values())


def test_a_stuck_contact_is_seen_in_the_read_back(plant: PlantProcess, io: MachineIO) -> None:
    assert plant.do("fault", name="hold_stuck", on=True)["ok"]
    master = Master(io)
    master.contacts["hold_healthy"] = True
    for _ in range(3):
        assert master.write() is None  # the module acknowledges all the same
    contacts = io.read_contacts()
    assert isinstance(contacts, Signals)
    assert not contacts.values["hold_healthy"]


FAULTS = {"silent": Why.SILENT, "exception": Why.REFUSED, "wrong_function": Why.GARBLED,
          "closed": Why.CLOSED}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_of_the_line_is_a_fault_of_write_and_read(
    plant: PlantProcess, io: MachineIO, fault: str
) -> None:
    assert plant.do("fault", name=fault, on=True, face="io")["ok"]
    until(lambda: (f := io.write({})) is not None and f.why is FAULTS[fault], 3.0, fault)
    inputs, contacts = io.read_inputs(), io.read_contacts()
    assert isinstance(inputs, Fault)
    assert isinstance(contacts, Fault)
    assert plant.do("fault", name=fault, on=False, face="io")["ok"]
    until(lambda: io.write({}) is None, 3.0, "written again")
    until(
        lambda: all(isinstance(s, Signals) for s in (io.read_inputs(), io.read_contacts())),
        3.0,
        "read again",
    )
