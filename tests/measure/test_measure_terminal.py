"""``holdpoint measure`` asked at a real terminal: a pseudo-terminal and a real process."""

from __future__ import annotations

import contextlib
import datetime
import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from kiosk.shop import load_shop

ROOT = Path(__file__).resolve().parents[2]
WITHIN_S = 30.0


class Terminal:
    """A person at a pseudo-terminal of one ``holdpoint`` process."""

    def __init__(self, *words: str) -> None:
        self.master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "kiosk", *words],
            cwd=ROOT,
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
        )
        os.close(slave)
        self.seen = ""
        self._read_to = 0

    def wait_for(self, words: str) -> str:
        """Wait until ``words`` come; what was shown since the last wait."""
        deadline = time.monotonic() + WITHIN_S
        while words not in self.seen[self._read_to :]:
            left = deadline - time.monotonic()
            assert left > 0.0, f"{words!r} did not come after:\n{self.seen}"
            if select.select([self.master], [], [], left)[0]:
                self.seen += self._more()
        end = self.seen.index(words, self._read_to) + len(words)
        shown, self._read_to = self.seen[self._read_to : end], end
        return shown

    def _more(self) -> str:
        try:
            got = os.read(self.master, 4096).decode("utf-8", errors="replace")
        except OSError:  # Linux: the other end is closed
            got = ""
        assert got, f"it ended after:\n{self.seen}"
        return got.replace("\r\n", "\n")

    def type(self, words: str) -> None:
        os.write(self.master, (words + "\n").encode())

    def answer(self, question: str, words: str) -> str:
        shown = self.wait_for(question)
        self.type(words)
        return shown

    def interrupt(self) -> None:
        """Ctrl-C, pressed until it ends: one that comes before the read begins is not heard."""
        for _ in range(int(WITHIN_S / 0.3)):
            os.killpg(self.process.pid, signal.SIGINT)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(0.3)
                return

    def end(self) -> int:
        """Its exit status."""
        return self.process.wait(WITHIN_S)

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.master)


@pytest.fixture
def terminal() -> Iterator[list[Terminal]]:
    opened: list[Terminal] = []
    yield opened
    for each in opened:
        each.close()


def test_a_tilt_is_walked_through_question_by_question(
    terminal: list[Terminal], tmp_path: Path
) -> None:
    person = Terminal("measure", "friction", "--data", str(tmp_path))
    terminal.append(person)
    shown = person.answer("Read, and kept to? (y/n): ", "y")
    assert "not a safety device" in shown
    assert "Never pull" in shown
    person.answer("Material, a key of the materials:", "beec")  # the beginning is enough
    person.answer("Underside of the piece:", "rough")
    person.wait_for("give one of planed, sawn")
    person.type("planed")
    person.answer("State of lips and underside:", "clean")
    person.answer("What carries the friction:", "lip")
    person.answer("Lip:", "nitrile")
    person.answer("Way of measuring:", "tilt")
    shown = person.wait_for("number 1: ")
    assert "1 Lips and underside as in work." in shown
    assert "The table expects 24 to 42 degrees." in shown  # atan 0.45 and atan 0.9
    person.type("31,0")  # a decimal comma is as good as a point
    person.wait_for("friction 0.601")
    person.answer("number 2: ", "90")
    person.wait_for("give a number from 1 to 75")
    person.answer("number 2: ", "13")
    person.wait_for("friction 0.231")
    person.answer("number 3: ", "x")  # a slip: taken back
    person.answer("number 2: ", "31")
    person.answer("number 3: ", "31")
    shown = person.answer("Keep this number? (y/n): ", "y")
    assert "counts as  0.360" in shown  # tan 31 deg x 0.75 x 0.8
    person.answer("Your initials or badge word: ", "07")
    person.answer("Conditions:", "swept, 20 C")
    person.wait_for("Kept in ")
    assert person.end() == 0
    today = datetime.date.today()
    (test,) = load_shop(tmp_path / "shop.toml", today).friction
    assert (test.angles_deg, test.person, test.used) == ((31.0, 31.0, 31.0), "07", 0.360)
    assert (today - test.date).days in (0, 1)


def test_a_cut_is_walked_through_and_more_repeats_asked_for_when_they_spread(
    terminal: list[Terminal], tmp_path: Path
) -> None:
    words = ("--material", "particleboard", "--edge", "sharp", "--diameter-mm", "20", "--flutes",
             "2", "--depth-mm", "8", "--width-mm", "20", "--cautions-read")  # fmt: skip
    person = Terminal("measure", "cutting", "--data", str(tmp_path), *words)
    terminal.append(person)
    person.answer("Feed as run, mm/min: ", "14400")
    person.answer("Spindle speed as run, 1/min: ", "18000")
    person.answer("reaches the cutter [1.0]: ", "")  # the default
    shown = person.answer("Power in air, W, number 1: ", "500")
    assert "Mean chip 0.255 mm, 38.40 cm3/s" in shown  # 0.4 x 2 / pi; 20 x 8 x 240
    person.answer("Power in the cut, W, number 1: ", "1944")
    person.wait_for("1444 W of cutting, 37.6 N/mm2")
    person.answer("number 2: ", "1900")
    person.answer("number 3: ", "2200")  # spread (1700 - 1400) / 1515 = 20 %: two more
    person.answer("number 4: ", "2000")
    person.answer("number 5: ", "2000")
    person.answer("Keep this number? (y/n): ", "n")
    assert person.end() == 0
    assert not (tmp_path / "shop.toml").exists()


def test_readings_that_scatter_end_the_test(terminal: list[Terminal], tmp_path: Path) -> None:
    words = ("--material", "beech", "--underside", "planed", "--surface", "clean", "--contact",
             "stop", "--method", "tilt", "--cautions-read", "--keep")  # fmt: skip
    person = Terminal("measure", "friction", "--data", str(tmp_path), *words)
    terminal.append(person)
    for number, angle in enumerate(("12", "13", "20"), 1):
        person.answer(f"number {number}: ", angle)
    person.wait_for("No number: the repeats differ by")
    assert person.end() == 1
    assert not (tmp_path / "shop.toml").exists()


def test_who_does_not_keep_to_the_cautions_measures_nothing(
    terminal: list[Terminal], tmp_path: Path
) -> None:
    person = Terminal("measure", "friction", "--data", str(tmp_path))
    terminal.append(person)
    person.answer("Read, and kept to? (y/n): ", "n")
    person.wait_for("Nothing was measured.")
    assert person.end() == 1


@pytest.mark.parametrize(("key", "status"), [("\x04", 2), ("\x03", 130)])
def test_leaving_in_the_middle_keeps_nothing_and_is_no_traceback(
    terminal: list[Terminal], tmp_path: Path, key: str, status: int
) -> None:
    person = Terminal("measure", "friction", "--data", str(tmp_path), "--cautions-read")
    terminal.append(person)
    person.wait_for("Material, a key of the materials:")
    if status == 130:
        person.interrupt()
    else:
        os.write(person.master, key.encode())
        person.wait_for("the answers ended: nothing was kept")
    assert person.end() == status
    assert "Traceback" not in person.seen
    assert not (tmp_path / "shop.toml").exists()


def test_an_unusual_number_is_kept_only_by_a_whole_word(
    terminal: list[Terminal], tmp_path: Path
) -> None:
    words = ("--material", "beech", "--underside", "planed", "--surface", "dusty", "--contact",
             "stop", "--method", "tilt", "--cautions-read", "--person", "07", "--conditions",
             "20 C", "--angle-deg", "35", "35", "35")  # fmt: skip
    for said, kept in (("y", False), ("unusual", True)):
        person = Terminal("measure", "friction", "--data", str(tmp_path), *words)
        terminal.append(person)
        shown = person.answer("Type unusual, or n: ", said)
        assert "above all that the table knows (0.30)" in shown
        assert person.end() == 0
        assert (tmp_path / "shop.toml").exists() is kept
