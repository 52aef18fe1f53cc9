"""From the deciding sample's arrival to the contact's write: seen from outside, real guard.

Run:  python tests/bench/bench_reaction.py [trips]

The bench is gauge, machine interface and operator.  It serves both Modbus devices itself and
times its own bytes: the gauge's last answer before HOLD HEALTHY is written off carried the
deciding sample.  The gauge is read at 10 Hz, so a reaction up to 100 ms cannot be mistaken for
a faster one to a later sample.  Exit 1 when a trip took more than 50 ms.

Frames: MODBUS Application Protocol V1.1b3 and MODBUS Messaging on TCP/IP V1.0b.
"""

from __future__ import annotations

import argparse
import socket
import statistics
import struct
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from kiosk import places
from kiosk.demo import cycle, folder
from kiosk.demo.children import Children
from kiosk.demo.play import Missed, Play
from kiosk.interlock.snapshot import Snapshot
from kiosk.job.plan import Plan
from kiosk.link import Link

LIMIT_MS = 50.0
GOOD_KPA = 78.0
LOW_SHARE = 0.9  # of the minimum: lost, and far from a collapse

Answer = Callable[[bytes], bytes]


def serve(answer: Answer) -> int:
    """Serve one Modbus TCP device on a thread; its port.  ``answer``: request PDU to reply PDU."""
    door = socket.create_server(("127.0.0.1", 0))

    def client(connection: socket.socket) -> None:
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        stream = connection.makefile("rb")
        while len(head := stream.read(7)) == 7:
            transaction, _, length, unit = struct.unpack(">HHHB", head)
            reply = answer(stream.read(length - 1))
            connection.sendall(struct.pack(">HHHB", transaction, 0, len(reply) + 1, unit) + reply)

    def accept() -> None:
        while True:
            connection, _ = door.accept()
            threading.Thread(target=client, args=(connection,), daemon=True).start()

    threading.Thread(target=accept, daemon=True).start()
    return int(door.getsockname()[1])


class Devices:
    """A gauge that shows ``vacuum_kpa`` as float32, and an interface of 6 inputs and 4 coils."""

    def __init__(self) -> None:
        self.vacuum_kpa = 0.0
        self.running = False
        self.coils = [False] * 4
        self.sent_s = 0.0  # when the gauge's newest answer went out
        self.off: list[tuple[float, float]] = []  # HOLD HEALTHY written off: at, age of sample

    def gauge(self, request: bytes) -> bytes:
        """Function 3 on any address."""
        words = struct.pack(">f", self.vacuum_kpa)
        self.sent_s = time.monotonic()
        return struct.pack(">BB", request[0], len(words)) + words

    def interface(self, request: bytes) -> bytes:
        """Functions 1, 2, 5 and 15."""
        if request[0] == 2:
            bits = (self.running, not self.running, self.vacuum_kpa > 5.0, True, False,
                    self.coils[0])  # fmt: skip
            return struct.pack(">BBB", 2, 1, packed(bits))
        if request[0] == 1:
            return struct.pack(">BBB", 1, 1, packed(self.coils))
        first, count = struct.unpack(">HH", request[1:5])
        if request[0] == 15:
            new = [bool(request[6] >> n & 1) for n in range(count)]
        else:
            new = [count == 0xFF00]
        self._write(first, new)
        return request[:5]

    def _write(self, first: int, new: list[bool]) -> None:
        now, was = time.monotonic(), self.coils[1]
        self.coils[first : first + len(new)] = new
        if was and not self.coils[1]:
            self.off.append((now, now - self.sent_s))


def packed(bits: object) -> int:
    """Bits of one byte, the first lowest."""
    return sum(bool(bit) << n for n, bit in enumerate(bits))  # type: ignore[call-overload]


def trip(play: Play, devices: Devices, plan: Plan, number: int) -> float:
    """Cut, lose the hold, come back to SET UP; the reaction in ms."""
    play.command("confirm_part", warnings=list(plan.warnings))
    devices.vacuum_kpa = GOOD_KPA
    play.state("READY", 20.0)
    play.command("request_permit")
    play.until("permit", lambda s: s.contacts.get("start_permit") is True, 3.0)
    devices.running = True
    play.state("CUTTING", 3.0)
    threading.Event().wait(0.013 * (number % 8))  # another phase of the sampling each time
    before = len(devices.off)
    devices.vacuum_kpa = LOW_SHARE * (plan.minimum_kpa or 0.0)
    play.state("HOLD LOST", 5.0)
    play.until("written", lambda _: len(devices.off) > before, 2.0)
    recover(play, devices)
    return 1000.0 * devices.off[before][1]


def recover(play: Play, devices: Devices) -> None:
    """Machine stopped, reset, vented, next part."""
    devices.running = False
    play.until("reset allowed", lambda s: not s.forbids_reset, 5.0)
    play.command("reset", cause="other")
    devices.vacuum_kpa = 0.0
    play.until("vented", lambda s: s.release == "vented", 10.0)
    play.command("next_part")
    play.state("SET UP", 3.0)


def first_set_up(play: Play) -> Plan:
    """Job chosen, all zones confirmed."""
    play.until("jobs", lambda s: s.state == "SELECT JOB" and bool(s.jobs), 30.0)
    plan = cycle.choose(play)
    for zone in plan.zones:
        play.command("confirm_zone", zone=zone.name)

    def confirmed(shown: Snapshot) -> bool:
        return all(zone.confirmed for zone in shown.zones)

    play.until("zones", confirmed, 3.0)
    return plan


def run(trips: int, data: Path) -> list[float]:
    """All trips' reactions in ms."""
    devices = Devices()
    names = {"gauge": serve(devices.gauge), "io": serve(devices.interface)}
    addresses = {key: f"modbus-tcp://127.0.0.1:{port}?unit=1" for key, port in names.items()}
    site = folder.fill(data, addresses)
    site.write_text(site.read_text().replace("rate_hz = 20.0", "rate_hz = 10.0"))
    with Children() as children:
        children.start_guard(data, data / "guard.log")
        link = Link(places.socket_file(data))
        link.start()
        play = Play(link, None)  # type: ignore[arg-type]  # this bench is the machine
        plan = first_set_up(play)
        took = [trip(play, devices, plan, number) for number in range(trips)]
        link.close()
    return took


def main() -> int:
    """Print the distribution; 1 when the limit was passed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("trips", nargs="?", type=int, default=10)
    with tempfile.TemporaryDirectory() as data:
        try:
            took = sorted(run(parser.parse_args().trips, Path(data)))
        except Missed as missed:
            print(f"MISSED: {missed}", file=sys.stderr)
            return 1
    print(
        f"sample sent -> HOLD HEALTHY written off, {len(took)} trips, ms: least {took[0]:.2f}, "
        f"median {statistics.median(took):.2f}, most {took[-1]:.2f}; limit {LIMIT_MS:.0f}"
    )
    return int(took[-1] > LIMIT_MS)


if __name__ == "__main__":
    sys.exit(main())
