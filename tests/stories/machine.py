"""One machine for a fault story: real processes and wires, the guard perhaps behind a wrapper."""

from __future__ import annotations

import contextlib
import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.append(str(Path(__file__).resolve().parents[1] / "whole"))

from whole_rig import STORY, Patient, Rig

from kiosk import places
from kiosk.demo import folder
from kiosk.demo.children import Children
from kiosk.demo.machine import Machine
from kiosk.interlock.snapshot import Snapshot
from kiosk.link import Link


class Quiet(Patient):
    """An operator who does not talk."""

    def tell(self, words: str) -> None:
        """Nothing."""


class Bench(Rig):
    """A rig whose gauge and signals may hang on serial lines.

    wrapper  a program that stands before the guard's; None: the guard as it is
    mend     changes the text of the site file before the guard reads it
    """

    def __init__(
        self,
        data: Path,
        *,
        serial: bool = False,
        wrapper: Path | None = None,
        mend: Callable[[str], str] = str,
    ) -> None:
        self.serial, self.wrapper, self.data = serial, wrapper, data
        self.last: tuple[bool, bool] | None = None  # of a machine that cannot be asked now
        self.children = Children()
        self.ready: dict[str, Any] = self._plant()
        kind = "_rtu" if serial else ""
        site = folder.fill(data, {key: self.ready[key + kind] for key in ("gauge", "io")})
        site.write_text(mend(site.read_text()))
        self.machine = Machine(self.ready["remote"])
        self.link = Link(places.socket_file(data))
        self.link.start()
        self.play = Quiet(self.link, self.machine)
        self.start_guard()

    def _plant(self) -> dict[str, Any]:
        log = self.data / "plant.log"
        if not self.serial:
            return self.children.start_plant(STORY, log)
        (self.data / "lines").mkdir()
        words = ("plant", "--story", STORY, "--serial", str(self.data / "lines"))
        process = self.children.start("plant", *words, log=log)
        assert process.stdout is not None
        return dict(json.loads(process.stdout.readline()))

    def start_guard(self) -> None:
        """As the rig does, or by the wrapper with the guard's own words."""
        if self.wrapper is None:
            super().start_guard()
            return
        words = ["guard", "--site", str(self.data / folder.SITE_NAME), "--data", str(self.data)]
        with (self.data / "guard.log").open("a") as errors:
            self.children.running["guard"] = subprocess.Popen(
                [sys.executable, str(self.wrapper), *words],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=errors, text=True,
                env={**os.environ, "PYTHONPATH": os.getcwd()},
            )  # fmt: skip

    def start_screen(self) -> None:
        """A real screen, drawn unseen."""
        os.environ["SDL_VIDEODRIVER"] = "offscreen"
        words = ("screen", "--data", str(self.data))
        self.children.start("screen", *words, log=self.data / "screen.log")

    # -- what is seen -----------------------------------------------------------------------

    @property
    def shown(self) -> Snapshot:
        """The newest snapshot."""
        return self.play.now

    def contacts(self) -> tuple[bool, bool]:
        """START PERMIT and HOLD HEALTHY as the machine sees them."""
        if self.last is not None:
            return self.last
        row = self.status()["contacts"]
        return bool(row["start_permit"]), bool(row["hold_healthy"])

    def state(self, *words: str) -> bool:
        """The link stands and the state is one of these."""
        view = self.link.view()
        return view.connected and view.snapshot is not None and view.snapshot.state in words

    def alarm(self, *codes: str) -> bool:
        """One of these alarms is active."""
        return any(row.code in codes and row.active for row in self.shown.alarms)

    def unmet(self) -> set[str]:
        """Codes of the permissives that do not hold."""
        return {row.code for row in self.shown.permissives if not row.holds}

    def logged(self) -> list[tuple[object, ...]]:
        """What the log holds now of every event: number, run, note, time, kind, data."""
        path = f"file:{places.log_file(self.data)}?mode=ro"
        with contextlib.closing(sqlite3.connect(path, uri=True)) as log:
            sql = "SELECT number, run, note, at_ms, kind, data FROM event ORDER BY number"
            return log.execute(sql).fetchall()

    # -- faults of the plant ----------------------------------------------------------------

    def fault(self, name: str, face: str = "gauge", on: bool = True) -> None:
        """Raise or clear a fault of the plant."""
        self.play.act("fault", name=name, face=face, on=on)

    def restart_all(self) -> None:
        """Kill the plant and start it again on its ports."""
        ports = [self.ready[key].rpartition(":")[2].split("?")[0] for key in ("gauge", "io")]
        self.kill_plant()
        self.restart_plant(*ports)

    @property
    def pid(self) -> int:
        """The guard's process."""
        return self.children.running["guard"].pid
