"""Small disks under the folder of a story: one that fills, one that turns read-only in use."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

ROOM_MIB = 32
CORRECTED = 1  # e2fsck(8): errors were found, and corrected


class CannotBe(Exception):
    """This computer does not let the story be brought about, and why."""


@contextlib.contextmanager
def disk(folder: Path, kind: str | None) -> Iterator[None]:
    """A disk of its own: "ext4", or the size of a tmpfs; None: none.  Raises CannotBe."""
    if kind is None:
        yield
        return
    if kind == "ext4":
        _format(folder)
        _mount(folder)
    else:
        _run("mount", "-t", "tmpfs", "-o", f"size={kind}", "tmpfs", str(folder))
    try:
        yield
    finally:
        _run("umount", "--lazy", str(folder))
        _image(folder).unlink(missing_ok=True)


def turn_read_only(folder: Path) -> None:
    """What ext4 does by itself when its journal cannot be written: mount(8), errors=remount-ro."""
    _run("mount", "-o", "remount,abort", str(folder))


def repair(folder: Path) -> None:
    """Read-only no more: a copy of the disk, checked, in its place.

    A copy, since whoever still has a file of the old one open keeps it as it is.
    """
    _run("umount", "--lazy", str(folder))
    image = _image(folder)
    copy = image.with_suffix(".copy")
    shutil.copyfile(image, copy)
    image.unlink()
    copy.rename(image)
    _run("e2fsck", "-p", str(image), good=(0, CORRECTED))
    _mount(folder)


def _format(folder: Path) -> None:
    image = _image(folder)
    with image.open("wb") as file:
        file.truncate(ROOM_MIB << 20)
    _run("mkfs.ext4", "-q", str(image))


def _mount(folder: Path) -> None:
    _run("mount", "-o", "loop,errors=remount-ro", str(_image(folder)), str(folder))


def _image(folder: Path) -> Path:
    return folder.with_suffix(".disk")


def _run(*words: str, good: tuple[int, ...] = (0,)) -> None:
    try:
        done = subprocess.run(words, capture_output=True, text=True, check=False)
    except OSError as missing:
        raise CannotBe(str(missing)) from None
    if done.returncode not in good:
        raise CannotBe(f"{words[0]}: {done.stderr.strip() or done.stdout.strip()}")
