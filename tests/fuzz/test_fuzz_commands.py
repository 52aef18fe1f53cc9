"""Damaged data folders, closed pipes, Ctrl-C: words and a status, never a traceback."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

from kiosk import cli
from kiosk.demo import folder
from tests.fuzz.amounts import amounts

ROOT = Path(__file__).parents[2]
SITE = ROOT / "hardware" / "site" / "demo.site.toml"
JOB = ROOT / "assets" / "jobs" / "bracket-pair.job.toml"
NOWHERE = {
    "gauge": "modbus-tcp://127.0.0.1:9?unit=1",
    "io": "modbus-tcp://127.0.0.1:9?unit=1",
}
PYTHON = (sys.executable, "-m", "kiosk")


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """One clear line on stderr, exit 2; the line."""
    assert cli.main(words) == 2
    said = capsys.readouterr().err
    assert len(said.strip().splitlines()) == 1, said
    return said


@pytest.mark.parametrize(
    "words",
    [
        ["log", "list"], ["log", "verify"], ["log", "show", "last"], ["log", "export", "events"],
        ["demo", "--no-screen"], ["sheet", str(JOB), "--site", str(SITE)],
        ["guard", "--site", str(SITE)],
    ],
    ids=lambda words: " ".join(words[:2]) if words[0] == "log" else words[0],
)  # fmt: skip
@pytest.mark.parametrize("below", [False, True], ids=["a file", "below a file"])
def test_a_data_folder_that_is_a_file_is_one_clear_line(
    words: list[str], below: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "data"
    file.write_text("no folder")
    data = str(file / "inner") if below else str(file)
    assert data in refused([*words, "--data", data], capsys)


def test_the_screen_refuses_a_data_folder_that_is_a_file(tmp_path: Path) -> None:
    file = tmp_path / "data"
    file.write_text("no folder")
    environment = {**os.environ, "SDL_VIDEODRIVER": "offscreen"}
    done = subprocess.run([*PYTHON, "screen", "--data", str(file)], capture_output=True, text=True,
                          check=False, timeout=60, env=environment)  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.strip().splitlines()[-1] == (
        f"{file}: cannot be the data folder (File exists): give --data another folder"
    )


# -- the log -----------------------------------------------------------------------------------


def _foreign(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE event (a)")
        other.commit()


def _our_name_on_another(path: Path) -> None:
    _foreign(path)
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA application_id = 0x484C4450")
        other.execute("PRAGMA user_version = 1")


LOGS = {
    "garbage": lambda path: path.write_bytes(os.urandom(50_000)),
    "zero bytes": lambda path: path.write_bytes(b""),
    "zeroes": lambda path: path.write_bytes(bytes(40_000)),
    "text": lambda path: path.write_text("a log, perhaps\n"),
    "only a head": lambda path: path.write_bytes(b"SQLite format 3\x00" + bytes(84)),
    "foreign": _foreign,
    "our name on another": _our_name_on_another,
    "a folder": lambda path: path.mkdir(),
    "a link to itself": lambda path: path.symlink_to(path),
    "a pipe": os.mkfifo,
}


@pytest.mark.parametrize("what", LOGS)
@pytest.mark.parametrize("words", [["list"], ["show", "last"], ["export", "cycles"], ["verify"]])
def test_a_log_that_is_none_is_told_in_one_line(
    what: str, words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    LOGS[what](tmp_path / "log.db")
    status = cli.main(["log", *words, "--data", str(tmp_path)])
    said = capsys.readouterr()
    assert status in (1, 2)
    assert (said.err if status == 2 else said.out).strip()
    assert status == 1 or len(said.err.strip().splitlines()) == 1


QUICK = ("garbage", "our name on another", "a folder", "a pipe")


@pytest.mark.parametrize(
    "what", [pytest.param(n, marks=() if n in QUICK else pytest.mark.long) for n in LOGS]
)
def test_a_guard_starts_on_a_log_that_is_none_puts_it_aside_and_gives_nothing(
    what: str, tmp_path: Path
) -> None:
    LOGS[what](tmp_path / "log.db")
    site = folder.fill(tmp_path, NOWHERE)
    guard = subprocess.Popen([*PYTHON, "guard", "--site", str(site), "--data", str(tmp_path)],
                             stderr=subprocess.PIPE, text=True)  # fmt: skip
    assert guard.stderr is not None
    timer = threading.Timer(30.0, guard.kill)
    timer.start()
    try:
        said = []
        for line in guard.stderr:
            said.append(line)
            if "guarding" in line:
                break
        site.unlink()  # nobody needs it any more
        guard.send_signal(signal.SIGINT)
        said += guard.stderr.readlines()
        assert guard.wait() == 0, said
    finally:
        timer.cancel()
        guard.kill()
        guard.stderr.close()
    assert not any("Traceback" in line for line in said), said
    assert cli.main(["log", "verify", "--data", str(tmp_path)]) == 0  # a new one was begun


# -- pipes and Ctrl-C --------------------------------------------------------------------------

CHECK = ["check", str(JOB), "--site", str(SITE)]


@pytest.mark.parametrize("words", [["--help"], [*CHECK], [*CHECK, "--json"], ["log", "--help"]])
def test_output_that_nobody_reads_is_no_traceback(words: list[str], tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "wb") as out:
        done = subprocess.run([*PYTHON, *words], stdout=out, stderr=subprocess.PIPE, text=True,
                              check=False, timeout=60)  # fmt: skip
    assert "Traceback" not in done.stderr
    assert "Error" not in done.stderr  # progress may be told there
    assert done.returncode == (0 if "--help" in words else 141)  # 128 + SIGPIPE


INTERRUPTED = {
    "check": CHECK, "sheet": ["sheet", str(JOB), "--site", str(SITE), "--out", "/dev/null/x.pdf"],
    "demo": ["demo", "--no-screen"], "plant": ["plant", "--story", "demo"],
    "log": ["log", "list"], "measure": ["measure"], "guard": ["guard", "--site", str(SITE)],
}  # fmt: skip


@pytest.mark.parametrize("after_s", amounts(0.25, 0.6))
@pytest.mark.parametrize("name", INTERRUPTED)
def test_ctrl_c_at_any_moment_is_no_traceback(name: str, after_s: float, tmp_path: Path) -> None:
    words = INTERRUPTED[name]
    if name in ("demo", "log", "guard"):
        words = [*words, "--data", str(tmp_path)]
    process = subprocess.Popen([*PYTHON, *words], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
                               stderr=subprocess.PIPE, text=True)  # fmt: skip
    try:
        process.wait(after_s)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=30)
    # Before the program's first line the interpreter itself prints what it was loading.
    assert "Traceback" not in said or "kiosk" not in said, said
    assert process.returncode in (0, 1, 2, 130, -signal.SIGINT), said


def test_ctrl_c_waits_until_the_command_is_loaded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A library that is interrupted while it loads ends with an error of its own."""
    (tmp_path / "slow_to_load.py").write_text(
        "import os, signal\n"
        "try:\n    os.kill(os.getpid(), signal.SIGINT)\n    whole = True\n"
        "except KeyboardInterrupt:\n    raise ImportError('broken installation') from None\n"
    )
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(cli, "SUBCOMMANDS", (cli.Subcommand("slow", "slow_to_load", "is slow"),))
    assert cli.main(["slow"]) == 130
    assert sys.modules.pop("slow_to_load").whole


def test_a_folder_left_behind_by_dead_processes_is_taken_over(tmp_path: Path) -> None:
    shutil.copy(SITE, tmp_path)
    (tmp_path / "guard.sock").write_bytes(b"stale")
    (tmp_path / "guard.lock").write_bytes(b"stale")
    LOGS["zero bytes"](tmp_path / "log.db-wal")
    test_a_guard_starts_on_a_log_that_is_none_puts_it_aside_and_gives_nothing(
        "zero bytes", tmp_path
    )
    assert not (tmp_path / "guard.sock").is_file()
