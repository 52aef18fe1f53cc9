"""The bench of the reaction: its frames, its arithmetic and its verdict; no time is asked."""

from __future__ import annotations

import struct
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import TypeVar

import pytest

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / part) for part in ("bench", "interlock", "screen")]

import bench_reaction as bench  # noqa: E402
import bench_step  # noqa: E402
import screen_scenes as scenes  # noqa: E402
from reaction_rig import Devices, crc, serve_rtu, serve_tcp  # noqa: E402

from hardware.catalog import open_gauge, open_io  # noqa: E402
from kiosk.interlock.reading import Reading, Signals  # noqa: E402
from kiosk.site import GaugeSite, InputOutput, Layout  # noqa: E402

LAYOUT = Layout("x", 3, 0, "float32", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0))
Kind = TypeVar("Kind")
INPUTS = {"cycle_running": 0, "standstill": 1}
OUTPUTS = {"start_permit": 0, "hold_healthy": 1, "alive": 2, "beacon": 3}


def test_the_check_sum_is_the_standard_s() -> None:
    """Of 02 07 it is 41 12: MODBUS over Serial Line V1.02, 6.2.2, the example."""
    assert struct.pack("<H", crc(bytes.fromhex("0207"))) == bytes.fromhex("4112")


@pytest.mark.parametrize(("baud", "limit_ms"), [(9600, 58.44), (19200, 29.22), (115200, 10.53)])
def test_the_wire_limit_is_counted_in_bytes(baud: int, limit_ms: float) -> None:
    """Answer 9, write 10, its answer 8, write 10 bytes of 11 bits, and four silences of 3.5 bytes
    (1.75 ms above 19200 baud: MODBUS over Serial Line V1.02, 2.5.1.1): 51 bytes, by hand."""
    assert 1000.0 * bench.wire_limit_s(baud) == pytest.approx(limit_ms, abs=0.01)


def test_tcp_has_no_wire_to_count() -> None:
    assert bench.wire_limit_s(None) == 0.0


@pytest.mark.parametrize("baud", [None, 115200])
def test_the_program_reads_and_writes_the_rig(baud: int | None) -> None:
    """By the program's own drivers, on a socket and on a pseudo-terminal."""
    devices = Devices()
    devices.hold(42.5)
    at = [serve_tcp(face) if baud is None else serve_rtu(face, baud)
          for face in (devices.gauge, devices.interface)]  # fmt: skip
    gauge = open_gauge(GaugeSite("table", "table", at[0], "register", "x", 1.0), LAYOUT,
                       time.monotonic)  # fmt: skip
    io = open_io(InputOutput(at[1], INPUTS, OUTPUTS), time.monotonic)
    sample = until(gauge.poll, Reading)
    assert sample.vacuum_kpa == pytest.approx(42.5)
    devices.running = True
    until(lambda: io.write({"hold_healthy": True}), type(None))
    assert until(io.read_inputs, Signals).values == {"cycle_running": True, "standstill": False}
    assert until(io.read_contacts, Signals).values["hold_healthy"]
    assert devices.off_s is None
    until(lambda: io.write({}), type(None))
    assert devices.off_s is not None
    gauge.close()
    io.close()


def until(ask: Callable[[], object], kind: type[Kind]) -> Kind:
    """Ask until the answer is of this kind."""
    end_s, pause = time.monotonic() + 20.0, threading.Event()
    while not isinstance(answer := ask(), kind):
        assert time.monotonic() < end_s, answer
        pause.wait(0.005)  # to the threads of the rig
    return answer


@pytest.mark.parametrize(
    ("answers", "decided_s"),
    [
        (((0.0, 41.0), (0.1, 39.0), (0.2, 38.0), (0.3, 37.0)), 0.3),
        (((0.0, 39.0), (0.05, 38.0), (0.1, 37.0), (0.16, 36.0)), 0.16),
        (((0.0, 39.0), (0.2, 38.0)), None),
        (((0.0, 39.0), (0.05, 38.0), (0.149, 37.0)), None),
    ],
)
def test_the_set_delay_is_full_by_time_and_by_samples(
    answers: tuple[tuple[float, float], ...], decided_s: float | None
) -> None:
    """Under 40 kPa for 150 ms and 3 samples: the limits in docs/interlock.md."""
    devices = Devices()
    devices.sent = list(answers)
    assert devices.decided_s(40.0) == decided_s


def test_the_fall_crosses_the_minimum_when_the_rig_says() -> None:
    devices = Devices()
    devices.hold(50.0)
    crossed_s = devices.fall(40.0, 30.0)
    assert devices.vacuum_kpa(crossed_s) == pytest.approx(40.0)
    assert devices.vacuum_kpa(crossed_s - 0.1) == pytest.approx(40.5)
    assert devices.vacuum_kpa(crossed_s + 60.0) == 30.0


def losses(*off_ms: float) -> list[bench.Event]:
    return [bench.Event(9600, True, 250.0, off, 40.0) for off in off_ms]


def test_the_software_s_share_is_what_the_wire_does_not_explain() -> None:
    assert [event.software_ms for event in losses(30.0, 40.0, 85.0)] == [0.0, 0.0, 45.0]


def test_one_loss_in_a_thousand_may_be_late_and_two_may_not() -> None:
    """50 ms at 99.9 %: of 1,000 the 999th counts."""
    met = "\n".join(bench.rows(losses(*[60.0] * 999, 900.0), [0.1], [0.2]))
    assert "20.0 ms at 99.9 %" in met
    assert "**not met**" not in met
    missed = "\n".join(bench.rows(losses(*[60.0] * 998, 900.0, 900.0), [0.1], [0.2]))
    assert "860.0 ms at 99.9 %" in missed
    assert "**not met**" in missed


def test_the_longest_are_told_by_themselves() -> None:
    told = bench.rows(losses(*[40.0 + n for n in range(20)]), [0.1], [0.2])
    (line,) = [line for line in told if line.startswith("The longest ten")]
    assert line.endswith(": 19, 18, 17, 16, 15, 14, 13, 12, 11, 10.")


def test_a_contact_that_opens_too_soon_is_told_with_its_alarm_and_the_gauge_s_answers() -> None:
    first, other = scenes.alarm("A03", first=True), scenes.alarm("A05")
    shown = scenes.snapshot("HOLD LOST", alarms=(other, first))
    devices = Devices()
    devices.sent = [(9.9, 41.0), (10.0, 39.5)]
    told = bench._early(SimpleNamespace(now=shown), devices, 10.02)  # type: ignore[arg-type]
    assert "first alarms ['A03']" in told
    assert told.endswith("-120: 41.00, -20: 39.50")


@pytest.mark.parametrize("plants", [4, 8])
def test_half_of_the_losses_of_each_wire_have_a_screen_and_half_of_the_machines_at_a_time(
    plants: int,
) -> None:
    lines = bench.lines(plants, 1040, until_s=0.0)
    assert sum(line.trips for line in lines) == 1040
    for baud in bench.BAUDS:
        trips = [line for line in lines if line.baud == baud]
        assert sum(len(line.screens) for line in trips) == sum(line.trips for line in trips) / 2
    for number in (0, 50, lines[0].trips - 1):
        assert sum(number in line.screens for line in lines) == plants / 2


def test_the_step_s_bench_tells_its_ratios(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(bench_step, "STEPS", 20)
    monkeypatch.setattr(bench_step, "LINES", 10)
    monkeypatch.setattr(bench_step, "ROUNDS", 1)
    bench_step.main()
    said = capsys.readouterr().out
    assert "step / JSON" in said
    assert "facts / JSON" in said
