"""What every gauge must do, run over every kind against the plant in its own process."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from gauge_kinds import KINDS, LINES, GaugeKind
from plant_process import PlantProcess, until

from hardware.gauge import Gauge
from kiosk.interlock.reading import Fault, Reading, Why

LONGEST_POLL_S = 1.0  # what ``Gauge.poll`` promises


@pytest.fixture(scope="module")
def plant() -> Iterator[PlantProcess]:
    """A plant that stands at a steady vacuum well away from zero, its gauge frozen there."""
    with PlantProcess() as running:
        running.do("vacuum", on=True)
        until(lambda: running.do("status")["vacuum_kpa"] > 40.0, 15.0, "40 kPa drawn")
        yield running


@pytest.fixture(autouse=True)
def frozen(plant: PlantProcess) -> Iterator[None]:
    """The plant's gauge says one number for the length of a test."""
    assert plant.do("fault", name="stuck", on=True)["ok"]
    yield
    plant.clear_faults()


@pytest.fixture(params=KINDS, ids=lambda kind: kind.id)
def kind(request: pytest.FixtureRequest) -> GaugeKind:
    row: GaugeKind = request.param
    return row


@pytest.fixture(params=LINES, ids=lambda kind: kind.id)
def on_a_line(plant: PlantProcess, request: pytest.FixtureRequest) -> Iterator[Gauge]:
    """A gauge on each kind of line; what its numbers look like does not matter to the line."""
    opened = request.param.open(plant.ready)
    yield opened
    opened.close()


@pytest.fixture
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


def test_it_reads_the_vacuum_there_is(plant: PlantProcess, kind: GaugeKind, gauge: Gauge) -> None:
    sample = until(lambda: isinstance(s := polled(gauge), Reading) and s, 3.0, "a reading")
    said_kpa = plant.do("status")["gauge_kpa"]
    assert sample.vacuum_kpa == pytest.approx(said_kpa, abs=kind.tolerance_kpa)


# fault of the line -> what a poll may say of it
LINE_FAULTS = {
    "silent": {Why.SILENT},
    "slow": {Why.SILENT},
    "garbled": {Why.GARBLED},
    "wrong_function": {Why.GARBLED},
    "wrong_unit": {Why.GARBLED},
    "wrong_transaction": {Why.GARBLED},
    "short": {Why.GARBLED},
    "long": {Why.GARBLED},
    "exception": {Why.REFUSED},
    "reset": {Why.CLOSED},
    "closed": {Why.CLOSED},
}


@pytest.mark.parametrize("fault", LINE_FAULTS)
def test_a_fault_of_the_line_is_a_fault_and_passes(
    plant: PlantProcess, on_a_line: Gauge, fault: str
) -> None:
    gauge = on_a_line
    until(lambda: isinstance(polled(gauge), Reading), 3.0, "a reading before the fault")
    said_kpa = plant.do("status")["gauge_kpa"]
    assert plant.do("fault", name=fault, on=True)["ok"]
    first = until(lambda: isinstance(s := polled(gauge), Fault) and s, 1.0, f"{fault} noticed")
    until(lambda: polled(gauge).why in LINE_FAULTS[fault], 2.0, f"{fault}, not {first}")
    assert isinstance(polled(gauge), Fault)
    assert plant.do("fault", name=fault, on=False)["ok"]
    back = until(lambda: isinstance(s := polled(gauge), Reading) and s, 3.0, "a reading again")
    assert back.vacuum_kpa == pytest.approx(said_kpa, abs=0.06)


def test_an_answer_that_comes_byte_by_byte_never_gives_a_wrong_value(
    plant: PlantProcess, on_a_line: Gauge
) -> None:
    gauge = on_a_line
    said_kpa = plant.do("status")["gauge_kpa"]
    assert plant.do("fault", name="dribble", on=True)["ok"]
    for _ in range(4):
        sample = polled(gauge)
        if isinstance(sample, Reading):
            assert sample.vacuum_kpa == pytest.approx(said_kpa, abs=0.06)


def test_no_number_from_the_sensor_is_a_fault(
    plant: PlantProcess, kind: GaugeKind, gauge: Gauge
) -> None:
    """NaN, the marks that whole-number types use for it, and a loop below NE 43's 3.6 mA."""
    assert plant.do("fault", name="not_a_number", on=True)["ok"]
    sample = until(lambda: isinstance(s := polled(gauge), Fault) and s, 2.0, "a fault")
    floating = kind.layout.type == "float32" or kind.kind == "current"
    assert sample.why is (Why.BROKEN if floating else Why.OUT_OF_RANGE)


def test_a_value_outside_its_range_is_a_fault(
    plant: PlantProcess, kind: GaugeKind, gauge: Gauge
) -> None:
    assert plant.do("fault", name="over_range", on=True)["ok"]
    if kind.layout.reference == "absolute":
        # 250 kPa below air cannot be said in absolute: the plant says 0 mbar, which is in range.
        sample = until(lambda: isinstance(s := polled(gauge), Reading) and s, 2.0, "a reading")
        assert sample.raw == 0.0
        return
    sample = until(lambda: isinstance(s := polled(gauge), Fault) and s, 2.0, "a fault")
    assert sample.why is (Why.BROKEN if kind.kind == "current" else Why.OUT_OF_RANGE)


def test_closing_twice_is_allowed_and_a_poll_after_it_does_not_raise(gauge: Gauge) -> None:
    polled(gauge)
    gauge.close()
    gauge.close()
    polled(gauge)
