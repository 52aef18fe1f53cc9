"""``holdpoint plant``: the simulated machine as a process of its own, on loopback.

It prints one line of JSON with its addresses when it is ready, and ends on SIGTERM, on ``quit`` at
the remote, or with ``--until-closed`` when its standard input ends.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import json
import signal
import sys
import time
from collections.abc import Coroutine
from pathlib import Path
from typing import Any

from hardware.plant.connections import Connections
from hardware.plant.modbus_face import TcpFace
from hardware.plant.modbus_pdu import UNIT, gauge_device, io_device
from hardware.plant.plant import STEP_S, Plant
from hardware.plant.remote import do, parse
from hardware.plant.serial_face import BAUD, TEXT_BAUD, AskedFace, RtuFace, TextFace
from hardware.plant.story import BadStory, Story, file_of, load, names

_LINE_CAP = 65536


def arguments(parser: argparse.ArgumentParser) -> None:
    """The options of the subcommand."""
    parser.add_argument(
        "--story", default="demo", metavar="NAME",
        help=f"a story's file, or one of {', '.join(names())} (default: demo)",
    )  # fmt: skip
    for option, what in (
        ("--gauge-port", "the gauge's Modbus server"),
        ("--io-port", "the machine signals' Modbus server"),
        ("--remote-port", "the remote"),
    ):
        parser.add_argument(
            option, type=int, default=0, metavar="N",
            help=f"port of {what} on 127.0.0.1 (default: any free one)",
        )  # fmt: skip
    parser.add_argument(
        "--serial", metavar="DIR", help="serve pseudo-terminals too, by links made in this folder"
    )
    parser.add_argument(
        "--until-closed", action="store_true", help="end when the standard input ends"
    )


class SerialFaces:
    """The devices once more, on pseudo-terminals."""

    def __init__(self, plant: Plant, folder: Path) -> None:
        self._gauge = RtuFace(gauge_device(plant), plant.faults, folder / "gauge")
        self._io = RtuFace(io_device(plant), plant.faults, folder / "io")
        self.text = TextFace(plant, folder / "text")
        self._asked = AskedFace(plant, folder / "asked")
        self._lines = (self._gauge.line, self._io.line, self.text.line, self._asked.line)

    def addresses(self) -> dict[str, str]:
        """Where each is, by its key in the ready line."""
        words = f"?baud={BAUD}&parity=none&unit={UNIT}"  # a pseudo-terminal has no parity
        return {
            "gauge_rtu": f"modbus-rtu://{self._gauge.line.link}{words}",
            "io_rtu": f"modbus-rtu://{self._io.line.link}{words}",
            "gauge_text": f"serial://{self.text.line.link}?baud={TEXT_BAUD}",
            "gauge_asked": f"serial://{self._asked.line.link}?baud={TEXT_BAUD}",
        }

    def follow(self) -> None:
        """Plug lines in and out as the faults say."""
        for line in self._lines:
            line.follow()

    def unplug(self) -> None:
        """Unplug every line."""
        for line in self._lines:
            line.unplug()


class Run:
    """One running plant: its faces, its story and its remote."""

    def __init__(self, story: Story, gauge_port: int, io_port: int, serial: Path | None) -> None:
        self.plant = Plant(story.numbers)
        self._events = list(story.events)
        self.gauge = TcpFace(gauge_device(self.plant), self.plant.faults, gauge_port)
        self.io = TcpFace(io_device(self.plant), self.plant.faults, io_port)
        self.connections = Connections()
        self.ended = asyncio.Event()
        self.serial = None if serial is None else SerialFaces(self.plant, serial)

    async def tick(self) -> None:
        """Keep the plant at the time of the clock, and its ports as the faults say."""
        began_s = time.monotonic()
        while not self.ended.is_set():
            self.plant.advance(time.monotonic() - began_s)
            while self._events and self._events[0].at_s <= self.plant.now_s:
                self._told(self._events.pop(0).request)
            await self.gauge.follow()
            await self.io.follow()
            if self.serial is not None:
                self.serial.follow()
            await asyncio.sleep(STEP_S)

    def _told(self, request: Any) -> None:
        reply = do(self.plant, request)
        if not reply["ok"]:
            print(f"story: {request['do']}: {reply['why']}", file=sys.stderr)

    async def remote(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """Serve one connection to the remote.  ValueError: a line longer than the cap."""
        with self.connections.serving(writer), contextlib.suppress(OSError, ValueError):
            while not self.ended.is_set() and (line := await reader.readline()):
                writer.write(json.dumps(self._reply(line)).encode() + b"\n")
                await writer.drain()

    async def end(self) -> None:
        """Let go of every port and connection."""
        self.gauge.shut()
        self.io.shut()
        if self.serial is not None:
            self.serial.unplug()
        for connections in (self.connections, self.gauge.connections, self.io.connections):
            await connections.end()

    def _reply(self, line: bytes) -> dict[str, Any]:
        request = parse(line)
        if request is None:
            return {"ok": False, "why": "write one JSON object on a line"}
        if request.get("do") == "quit":
            self.ended.set()
            return {"ok": True}
        return do(self.plant, request)


async def _wait_closed(run: Run) -> None:
    """End the run when the standard input ends."""
    reader = asyncio.StreamReader()
    await asyncio.get_running_loop().connect_read_pipe(
        lambda: asyncio.StreamReaderProtocol(reader), sys.stdin
    )
    while await reader.read(_LINE_CAP):
        pass
    run.ended.set()


async def _serve(story: Story, args: argparse.Namespace) -> int:
    folder = None if args.serial is None else Path(args.serial).resolve()
    run = Run(story, args.gauge_port, args.io_port, folder)
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, run.ended.set)
    await run.gauge.listen()
    await run.io.listen()
    if run.serial is not None:
        run.serial.follow()
    remote = await asyncio.start_server(run.remote, "127.0.0.1", args.remote_port, limit=_LINE_CAP)
    print(json.dumps(_ready(run, remote.sockets[0].getsockname()[1])), flush=True)
    tasks = [asyncio.ensure_future(work) for work in _works(run, args.until_closed)]
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    remote.close()
    await run.end()
    failures = [task.exception() for task in tasks if task.done() and task.exception()]
    for failure in failures:
        print(f"plant: {failure!r}", file=sys.stderr)
    for task in tasks:
        task.cancel()
    return 1 if failures else 0


def _works(run: Run, until_closed: bool) -> list[Coroutine[Any, Any, Any]]:
    """What runs side by side until the first of it ends."""
    works: list[Coroutine[Any, Any, Any]] = [run.tick(), run.ended.wait()]
    if until_closed:
        works.append(_wait_closed(run))
    if run.serial is not None:
        works.append(run.serial.text.stream())
    return works


def _ready(run: Run, remote_port: int) -> dict[str, Any]:
    return {
        "gauge": f"modbus-tcp://127.0.0.1:{run.gauge.port}?unit={UNIT}",
        "io": f"modbus-tcp://127.0.0.1:{run.io.port}?unit={UNIT}",
        "remote": f"127.0.0.1:{remote_port}",
        **({} if run.serial is None else run.serial.addresses()),
        "ready": True,
    }


def main(args: argparse.Namespace) -> int:
    """Run the subcommand; returns the exit status."""
    try:
        story = load(file_of(args.story))
    except BadStory as wrong:
        print(wrong, file=sys.stderr)
        return 2
    try:
        return asyncio.run(_serve(story, args))
    except OSError as wrong:
        print(f"the port cannot be opened: {wrong}; choose another", file=sys.stderr)
        return 2
