"""What every gauge must do, run over every kind against the plant in its own process."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from gauge_kinds import KINDS, LINES, GaugeKind
from plant_process import PlantProcess, until

from hardware.gauge import Gauge
from kiosk.interlock.reading import Fault, Reading, Why

LONGEST_POLL_S = 3.0  # ``Gauge.poll`` promises 1.0 s; a busy computer is given more


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PlantProcess]:
    """A plant that stands at a steady vacuum well away from zero, its gauge frozen there."""
    with PlantProcess("--serial", str(tmp_path_factory.mktemp("lines"))) as running:
        running.do("vacuum", on=True)
        until(lambda: running.do("status")["vacuum_kpa"] > 20.0, 15.0, "20 kPa drawn")
        yield running


@pytest.fixture(autouse=True)
def frozen(plant: PlantProcess) -> Iterator[None]:
    """The plant's gauge says one number for the length of a test."""
    assert plant.do("fault", name="stuck", on=True)["ok"]
    yield
    plant.clear_faults()


@pytest.fixture(scope="module", params=KINDS, ids=lambda kind: kind.id)
def kind(request: pytest.FixtureRequest) -> GaugeKind:
    row: GaugeKind = request.param
    return row


@pytest.fixture(params=LINES, ids=lambda kind: kind.id)
def on_a_line(plant: PlantProcess, request: pytest.FixtureRequest) -> Iterator[Gauge]:
    """A gauge on each kind of line; what its numbers look like does not matter to the line."""
    opened = request.param.open(plant.ready)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def gauge(plant: PlantProcess, kind: GaugeKind) -> Iterator[Gauge]:
    opened = kind.open(plant.ready)
    yield opened
    opened.close()


def polled(gauge: Gauge) -> Reading | Fault:
    """One poll, with the promise about its length."""
    began_s = time.monotonic()
    sample = gauge.poll()
    ended_s = time.monotonic()
    assert ended_s - began_s < LONGEST_POLL_S
    assert began_s <= sample.taken_s <= ended_s
    return sample


def why_of(sample: Reading | Fault) -> Why | None:
    return sample.why if isinstance(sample, Fault) else None


def test_it_reads_the_vacuum_there_is(plant: PlantProcess, kind: GaugeKind, gauge: Gauge) -> None:
    sample = until(lambda: isinstance(s := polled(gauge), Reading) and s, 3.0, "a reading")
    said_kpa = plant.do("status")["gauge_kpa"]
    assert sample.vacuum_kpa == pytest.approx(said_kpa, abs=kind.tolerance_kpa)


FAULTS = [(row, fault) for row in LINES for fault in row.faults]


@pytest.mark.parametrize(("row", "fault"), FAULTS, ids=[f"{r.id}-{f}" for r, f in FAULTS])
def test_a_fault_of_the_line_is_a_fault_and_passes(
    plant: PlantProcess, row: GaugeKind, fault: str
) -> None:
    gauge = row.open(plant.ready)
    until(lambda: isinstance(polled(gauge), Reading), 3.0, "a reading before the fault")
    said_kpa = plant.do("status")["gauge_kpa"]
    assert plant.do("fault", name=fault, on=True)["ok"]
    first = until(lambda: isinstance(s := polled(gauge), Fault) and s, 1.0, f"{fault} noticed")
    until(lambda: why_of(polled(gauge)) in row.faults[fault], 2.0, f"{fault}, not {first}")
    assert plant.do("fault", name=fault, on=False)["ok"]
    back = until(lambda: isinstance(s := polled(gauge), Reading) and s, 3.0, "a reading again")
    assert back.vacuum_kpa == pytest.approx(said_kpa, abs=row.tolerance_kpa)
    gauge.close()


def test_an_answer_that_comes_byte_by_byte_never_gives_a_wrong_value(
    plant: PlantProcess, on_a_line: Gauge
) -> None:
    gauge = on_a_line
    said_kpa = plant.do("status")["gauge_kpa"]
    assert plant.do("fault", name="dribble", on=True)["ok"]
    for _ in range(3):
        sample = polled(gauge)
        if isinstance(sample, Reading):
            assert sample.vacuum_kpa == pytest.approx(said_kpa, abs=0.06)


def test_no_number_from_the_sensor_is_a_fault(
    plant: PlantProcess, kind: GaugeKind, gauge: Gauge
) -> None:
    """NaN, the marks that whole-number types use for it, and a loop below NE 43's 3.6 mA."""
    assert plant.do("fault", name="not_a_number", on=True)["ok"]
    until(lambda: why_of(polled(gauge)) is kind.broken, 2.0, f"{kind.broken}")


def test_a_value_outside_its_range_is_a_fault(
    plant: PlantProcess, kind: GaugeKind, gauge: Gauge
) -> None:
    assert plant.do("fault", name="over_range", on=True)["ok"]
    if kind.over_range is None:
        sample = until(lambda: isinstance(s := polled(gauge), Reading) and s, 2.0, "a reading")
        assert sample.raw == 0.0
    else:
        until(lambda: why_of(polled(gauge)) is kind.over_range, 2.0, f"{kind.over_range}")


def test_closing_twice_is_allowed_and_a_poll_after_it_does_not_raise(
    plant: PlantProcess, kind: GaugeKind
) -> None:
    gauge = kind.open(plant.ready)
    gauge.close()
    gauge.close()
    polled(gauge)
    gauge.close()
