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
from typing import Any

from hardware.plant.connections import Connections
from hardware.plant.modbus_face import TcpFace
from hardware.plant.modbus_pdu import UNIT, gauge_device, io_device
from hardware.plant.plant import STEP_S, Plant
from hardware.plant.remote import do, parse
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
        "--until-closed", action="store_true", help="end when the standard input ends"
    )


class Run:
    """One running plant: its faces, its story and its remote."""

    def __init__(self, story: Story, gauge_port: int, io_port: int) -> None:
        self.plant = Plant(story.numbers)
        self._events = list(story.events)
        self.gauge = TcpFace(gauge_device(self.plant), self.plant.faults, gauge_port)
        self.io = TcpFace(io_device(self.plant), self.plant.faults, io_port)
        self.connections = Connections()
        self.ended = asyncio.Event()

    async def tick(self) -> None:
        """Keep the plant at the time of the clock, and its ports as the faults say."""
        began_s = time.monotonic()
        while not self.ended.is_set():
            self.plant.advance(time.monotonic() - began_s)
            while self._events and self._events[0].at_s <= self.plant.now_s:
                self._told(self._events.pop(0).request)
            await self.gauge.follow()
            await self.io.follow()
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
    run = Run(story, args.gauge_port, args.io_port)
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, run.ended.set)
    await run.gauge.listen()
    await run.io.listen()
    remote = await asyncio.start_server(run.remote, "127.0.0.1", args.remote_port, limit=_LINE_CAP)
    print(json.dumps(_ready(run, remote.sockets[0].getsockname()[1])), flush=True)
    works = [run.tick(), run.ended.wait(), *([_wait_closed(run)] if args.until_closed else [])]
    tasks = [asyncio.ensure_future(work) for work in works]
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    remote.close()
    await run.end()
    failures = [task.exception() for task in tasks if task.done() and task.exception()]
    for failure in failures:
        print(f"plant: {failure!r}", file=sys.stderr)
    for task in tasks:
        task.cancel()
    return 1 if failures else 0


def _ready(run: Run, remote_port: int) -> dict[str, Any]:
    return {
        "gauge": f"modbus-tcp://127.0.0.1:{run.gauge.port}?unit={UNIT}",
        "io": f"modbus-tcp://127.0.0.1:{run.io.port}?unit={UNIT}",
        "remote": f"127.0.0.1:{remote_port}",
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
