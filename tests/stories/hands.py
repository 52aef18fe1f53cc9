"""Hands that spoil a running machine: limits, a stopped thread, a held log, a second master."""

from __future__ import annotations

import contextlib
import ctypes
import os
import resource
import socket
import sqlite3
import struct
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[1] / "whole"))

from whole_rig import eventually

PTRACE_SEIZE, PTRACE_INTERRUPT, PTRACE_CONT, PTRACE_DETACH = 0x4206, 0x4207, 7, 17  # ptrace(2)
WAIT_ALL = 0x40000000  # __WALL of waitpid(2): a thread that is no leader
AGAIN_S = 0.02  # between two tries to take the log


@contextlib.contextmanager
def limited(pid: int, what: int, most: int) -> Iterator[None]:
    """A soft limit of a running process, prlimit(2); lifted afterwards."""
    before = resource.prlimit(pid, what)
    resource.prlimit(pid, what, (most, before[1]))
    try:
        yield
    finally:
        resource.prlimit(pid, what, before)


class StoppedThread:
    """One thread of another process, stopped while the rest runs on: ptrace(2).

    Attach and detach must come from one thread of ours, so it has a thread of its own.  It is
    stopped while it waits in the kernel: else it might hold what all threads of Python take turns
    with, and the whole process would stand still.
    """

    def __init__(self, tid: int) -> None:
        self._ending = threading.Event()
        self._held = threading.Event()
        self._tid = tid
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        assert self._held.wait(5.0), "the thread could not be stopped"

    def _run(self) -> None:
        libc = ctypes.CDLL(None, use_errno=True)
        libc.ptrace.argtypes = [ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p]
        if libc.ptrace(PTRACE_SEIZE, self._tid, None, None) != 0:
            return
        libc.ptrace(PTRACE_INTERRUPT, self._tid, None, None)
        os.waitpid(self._tid, WAIT_ALL)
        while not self._waits():
            libc.ptrace(PTRACE_CONT, self._tid, None, None)
            libc.ptrace(PTRACE_INTERRUPT, self._tid, None, None)
            os.waitpid(self._tid, WAIT_ALL)
        self._held.set()
        self._ending.wait()
        libc.ptrace(PTRACE_DETACH, self._tid, None, None)

    def _waits(self) -> bool:
        """Stopped in a system call: proc(5), syscall, is -1 outside of one."""
        told = Path(f"/proc/{self._tid}/syscall").read_text().split()
        return told[0] not in ("running", "-1")

    def go_on(self) -> None:
        """Let it run again."""
        self._ending.set()
        self._thread.join(5.0)


def thread(pid: int, name: str) -> int:
    """The thread of this name, as ps shows it."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return next(int(path.name) for path in tasks if (path / "comm").read_text().strip() == name)


class Taken:
    """The log held by another connection: for good, or for ``hold_s`` of each ``turn_s``."""

    def __init__(self, path: Path, hold_s: float | None = None, turn_s: float = 1.0) -> None:
        self._path, self._hold_s, self._turn_s = path, hold_s, turn_s
        self._ending = threading.Event()
        self.times = 0
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        assert eventually(lambda: self.times > 0, 20.0), "the log was never free"

    def _run(self) -> None:
        while not self._ending.is_set():
            with contextlib.closing(
                sqlite3.connect(self._path, timeout=0.0, isolation_level=None)
            ) as other:
                try:
                    other.execute("BEGIN IMMEDIATE")
                except sqlite3.OperationalError:
                    self._ending.wait(AGAIN_S)
                    continue
                self.times += 1
                self._ending.wait(self._hold_s)
                other.execute("ROLLBACK")
            if self._hold_s is not None:
                self._ending.wait(self._turn_s - self._hold_s)

    def close(self) -> None:
        """Let it go."""
        self._ending.set()
        self._thread.join(10.0)


class SecondMaster:
    """Another master at the output module: writes both contacts as ``on`` says, without end.

    Frames typed from MODBUS Application Protocol V1.1b3, 6.11 (function 15), and the MBAP header
    of MODBUS Messaging on TCP/IP V1.0b, 3.1.3.
    """

    def __init__(self, address: str, on: bool) -> None:
        host, _, port = address.removeprefix("modbus-tcp://").split("?")[0].rpartition(":")
        self._socket = socket.create_connection((host, int(port)), timeout=5.0)
        pdu = bytes((15, 0, 0, 0, 2, 1, 3 if on else 0))
        self._frame = struct.pack(">HHHB", 7, 0, len(pdu) + 1, 1) + pdu
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        with contextlib.suppress(OSError):
            while not self._ending.wait(0.005):
                self._socket.sendall(self._frame)
                self._socket.recv(100)

    def close(self) -> None:
        """Go away."""
        self._ending.set()
        self._thread.join(5.0)
        self._socket.close()
