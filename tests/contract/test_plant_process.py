"""``holdpoint plant`` as a person or a program starts it."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from plant_process import ROOT, PlantProcess, until


def plant_of(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "kiosk", "plant", *words],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


def test_the_ready_line_has_every_address() -> None:
    with PlantProcess() as plant:
        assert plant.ready["ready"] is True
        assert plant.ready["gauge"].startswith("modbus-tcp://127.0.0.1:")
        assert plant.ready["io"].startswith("modbus-tcp://127.0.0.1:")
        assert set(plant.ready) == {"gauge", "io", "remote", "ready"}
        assert plant.do("quit") == {"ok": True}
        assert plant.process.wait(20.0) == 0


def test_ports_can_be_chosen() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        result = plant_of("--gauge-port", str(port))
    assert result.returncode == 2
    assert "choose another" in result.stderr
    assert "Traceback" not in result.stderr
    with PlantProcess("--io-port", str(port)) as plant:
        assert plant.ready["io"] == f"modbus-tcp://127.0.0.1:{port}?unit=1"


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_cleanly(number: signal.Signals) -> None:
    with PlantProcess() as plant:
        plant.process.send_signal(number)
        assert plant.process.wait(20.0) == 0
        assert plant.process.stderr is not None
        assert plant.process.stderr.read() == ""


def test_it_ends_when_its_input_is_closed() -> None:
    with PlantProcess() as plant:
        assert plant.process.stdin is not None
        plant.process.stdin.close()
        assert plant.process.wait(20.0) == 0
        plant.process.stdin = None


def test_a_wrong_story_is_one_line_and_exit_2(tmp_path: Path) -> None:
    story = tmp_path / "wrong.toml"
    story.write_text("format = 1\n[table]\nvolume_l = -3\n")
    result = plant_of("--story", str(story))
    assert result.returncode == 2
    assert result.stderr == f"{story}:3: volume_l is 0 or more\n"
    assert plant_of("--story", "no-such").returncode == 2


def test_events_of_a_story_happen_at_their_time(tmp_path: Path) -> None:
    story = tmp_path / "story.toml"
    story.write_text("format = 1\n[[event]]\nat_s = 0.1\ndo = 'vacuum'\non = true\n"
                     "[[event]]\nat_s = 0.3\ndo = 'leak'\nbore_mm = 2.0\n")  # fmt: skip
    with PlantProcess("--story", str(story)) as plant:
        until(lambda: plant.do("status")["vacuum_on"], 3.0, "vacuum on")
        until(lambda: plant.do("status")["leak_mm2"] > 3.0, 3.0, "leak open")
        assert plant.do("status")["now_s"] >= 0.3


def time_at(plant: PlantProcess) -> tuple[float, float, float]:
    """The plant's time when it went on, and of the clock what was before that and after it."""
    asked: list[tuple[float, float]] = []

    def went_on() -> bool:
        asked.append((time.monotonic(), plant.do("status")["now_s"]))
        return asked[-1][1] > asked[0][1]

    until(went_on, 3.0, "time that goes on")
    return asked[-1][1], asked[-2][0], time.monotonic()


def test_time_at_the_plant_is_the_clocks() -> None:
    with PlantProcess() as plant:
        first, began_s, begun_s = time_at(plant)
        until(lambda: time.monotonic() > begun_s + 0.5, 3.0, "half a second")
        last, ends_s, ended_s = time_at(plant)
        step_s = 0.02  # it goes on in steps of 10 ms; tells them to the millisecond
        assert ends_s - begun_s - step_s < last - first < ended_s - began_s + step_s


def test_nonsense_at_the_remote_is_answered_and_forgotten() -> None:
    with PlantProcess() as plant:
        host, _, port = plant.ready["remote"].rpartition(":")
        with socket.create_connection((host, int(port)), timeout=20.0) as sock:
            lines = sock.makefile("rwb")
            for nonsense in (b"{\n", b"[]\n", b"\xff\xfe\n", b'{"do": null}\n'):
                lines.write(nonsense)
                lines.flush()
                assert json.loads(lines.readline())["ok"] is False
            sock.sendall(b"x" * 70000)  # no line end: it hangs up
            assert lines.read(1) == b""
        assert plant.do("status")["ok"]
