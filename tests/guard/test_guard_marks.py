"""A watched file has another mark after whatever was done to it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.guard.worker import mark_of


def written_over(file: Path) -> None:
    """In place, as long as before."""
    file.write_text("a = 2\n")


def replaced(file: Path) -> None:
    """By another file."""
    beside = file.with_name("beside")
    beside.write_text("a = 2\n")
    beside.replace(file)


def lengthened(file: Path) -> None:
    file.write_text("a = 22\n")


def given_other_rights(file: Path) -> None:
    file.chmod(0o400)


@pytest.mark.parametrize("change", [written_over, replaced, lengthened, given_other_rights])
def test_it_differs_though_the_old_time_is_given_back(
    tmp_path: Path, change: Callable[[Path], None]
) -> None:
    """The time of the last change of the inode, inode(7), cannot be given back."""
    file = tmp_path / "x.toml"
    file.write_text("a = 1\n")
    was, told = file.stat(), mark_of(file)
    while time.time_ns() <= was.st_ctime_ns + 20_000_000:  # the kernel's tick is at most 10 ms
        time.sleep(0.005)
    change(file)
    os.utime(file, ns=(was.st_atime_ns, was.st_mtime_ns))
    assert mark_of(file) != told


def test_it_stays_when_nothing_is_done_and_there_is_none_of_no_file(tmp_path: Path) -> None:
    file = tmp_path / "x.toml"
    assert mark_of(file) is None
    file.write_text("a = 1\n")
    assert mark_of(file) == mark_of(file)
    assert mark_of(file) is not None
