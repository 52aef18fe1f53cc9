"""Pictures of every screen and of the job sheet, from the running program.

Starts the simulated machine and the guard, draws the screen's own board unseen, and works through
two parts with touches, as a person would.  Each picture is what was on the screen at that moment.

    python docs/pictures/make_pictures.py [--size 1280x800] [--out DIR]
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from camera import SCALES, Camera, window

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

FIRST_LEAK_MM = 6.0
NEAR = 1.8  # R from which the leak grows in small steps
LEAK_S = 1.5  # between two steps: the fall follows the leak slowly
UNUSABLE = {  # job files with a mistake: what the shelf rail's file says, and what stands there
    "rail-draft": ("thickness_mm", "thicknes_mm"),
    "rail-oily": ('surface = "clean"', 'surface = "greasy"'),
    "rail-without-cups": ('cups_up = "auto"', "cups_up = []"),
}


def round_one(camera: Camera, machine: Any) -> None:
    """A job refused, a job set up, proved, cut, stopped between, warned of, lost, released."""
    camera.until("jobs", lambda s: s.state == "SELECT JOB" and len(s.jobs) >= 3)
    camera.save("ready-board")
    choose(camera, "BP-031")
    camera.save("ready-board-planning")
    camera.until("refusal", lambda s: s.refusal is not None)
    camera.save("ready-board-refused")
    camera.touch(camera.board.rail.alarms)
    camera.touch(camera.board.sheet._alarms[0].button)
    camera.touch(camera.board.sheet._back)
    choose(camera, "SR-210")
    camera.state("SET UP")
    camera.until("map", lambda _: bool(camera.board.view.shown.map.seats))
    set_up(camera, machine)
    prove(camera, machine)
    cut(camera, machine)
    lose(camera, machine)
    release(camera, machine)


def choose(camera: Camera, ident: str) -> None:
    """Touch a job on the board."""
    tiles = camera.board.view.ids.jobs.buttons
    camera.touch(next(tile for tile in tiles if tile.shown.words == ident))


def set_up(camera: Camera, machine: Any) -> None:
    """Row by row, then the part with its warnings."""
    up = sum(len(zone.up) for zone in camera.link.view().snapshot.zones)
    machine.do("seats", up=up, covered=up)
    names = ["set-up-map", "set-up-map-under-a-cut", "set-up-map-rows-down"]
    while rows := [z.name for z in camera.link.view().snapshot.zones if not z.confirmed]:
        if names:
            camera.save(names.pop(0))
        last = [row["zone"] for row in camera.button().shown.commands][-1]
        camera.press()
        camera.until(f"row {last} of {rows}", lambda s, z=last: _is_set(s, z))
    camera.save("set-up-map-part")
    for tile in list(camera.board.view.ids.warnings.buttons):
        camera.touch(tile)
    camera.save("set-up-map-part-read")
    camera.press()
    camera.state("CHECKING")


def _is_set(snapshot: Any, zone: str) -> bool:
    return any(row.name == zone and row.confirmed for row in snapshot.zones)


def prove(camera: Camera, machine: Any) -> None:
    """Vacuum on, watched until it holds; then the permit."""
    camera.wait(1.0)
    camera.save("hold-check-no-vacuum")
    machine.do("vacuum", on=True)
    camera.until("vacuum", lambda s: (s.hold.ratio or 0.0) > 0.8)
    camera.save("hold-check-drawing-down")
    camera.touch(camera.button(0))
    camera.save("permit-list")
    camera.touch(camera.board.sheet._back)
    camera.state("READY")
    camera.save("hold-check-ready")
    camera.touch(camera.board.rail.details)
    camera.save("words")
    camera.touch(camera.board.sheet._buttons[0])
    camera.save("job-notes")
    camera.touch(camera.board.sheet._buttons[1])
    camera.save("what-needs-most")
    camera.touch(camera.board.sheet._back)
    camera.press()
    camera.state("PERMIT")
    camera.save("hold-check-permit")


def cut(camera: Camera, machine: Any) -> None:
    """The machine starts, pauses and goes on."""
    camera.wait(0.5)
    start(camera, machine)
    camera.wait(12.0)
    camera.save("cut-watch")
    machine.do("feed_hold")
    camera.wait(1.0)
    if camera.link.view().snapshot.state == "CUTTING":
        machine.do("resume")
        machine.do("cycle_end")
    camera.state("PAUSED")
    camera.save("hold-check-paused")
    if machine.do("resume").get("ok") is not True:
        start(camera, machine)
    camera.state("CUTTING")


def start(camera: Camera, machine: Any) -> None:
    """Press cycle start at the machine until it takes it."""
    for _ in range(40):
        if machine.do("cycle_start").get("ok") is True:
            break
        camera.wait(0.1)
    camera.state("CUTTING")


def lose(camera: Camera, machine: Any) -> None:
    """A leak, wider and wider."""
    bore_mm, pictured = FIRST_LEAK_MM, False
    for _ in range(200):
        snapshot = camera.link.view().snapshot
        if snapshot.state == "HOLD LOST":
            break
        near = (snapshot.hold.ratio or 0.0) < NEAR
        if (snapshot.hold.slope_kpa_per_s or 0.0) > (-0.4 if near else -1.5):
            bore_mm += 0.1 if near else 0.5
        machine.do("leak", bore_mm=bore_mm, over_s=0.4)
        pictured = look_for_warning(camera, pictured)
    camera.state("HOLD LOST")
    camera.save("stop-card")
    camera.touch(camera.board.rail.alarms)
    camera.save("alarm-list")
    camera.touch(camera.board.sheet._back)
    camera.press(0)
    machine.do("cycle_end")
    machine.do("leak", bore_mm=0.0)
    camera.until("standstill", lambda s: not set(s.forbids_reset) - {"cause_missing"})
    camera.save("stop-card-reset")
    camera.touch(camera.open()._grid.buttons[0])
    camera.save("stop-card-cause")
    camera.touch(camera.board.sheet._buttons[0], 1.2)
    camera.state("RELEASE")


def look_for_warning(camera: Camera, pictured: bool) -> bool:
    """A while of looking; the warning is pictured as soon as it is on the screen."""
    end = time.monotonic() + LEAK_S
    while time.monotonic() < end:
        camera.draw()
        if camera.board.strip.shown.tone == "low" and not pictured:
            camera.save("cut-watch-low-hold", settle_s=0.0)
            pictured = True
    return pictured


def release(camera: Camera, machine: Any) -> None:
    """Released at the machine, vented, done."""
    camera.until("may release", lambda s: s.release == "may_release")
    camera.save("release-guide")
    machine.do("vacuum", on=False)
    machine.do("release")
    camera.until("vented", lambda s: s.release == "vented")
    camera.save("release-guide-vented")
    camera.press(0)
    camera.state("SELECT JOB")


def past(camera: Camera) -> None:
    """The Cycle book, and the cycle in it."""
    grid = camera.open()._grid
    camera.until("cycles", lambda _: bool(grid.shown))
    camera.save("cycle-book")
    camera.touch(grid.buttons[0])
    camera.until("record", lambda _: bool(camera.board.sheet._facts.shown))
    camera.save("cycle-book-one")
    camera.touch(camera.board.sheet._back)
    camera.touch(camera.board.sheet._back)


def unusable(camera: Camera, data: Path) -> None:
    """Job files with mistakes in the folder, and the sheet of their reasons."""
    from kiosk import places

    folder = places.jobs_dir(data, None)
    whole = (folder / "shelf-rail.job.toml").read_text(encoding="utf-8")
    files = [folder / f"{name}.job.toml" for name in UNUSABLE]
    for file, (was, now) in zip(files, UNUSABLE.values(), strict=True):
        file.write_text(whole.replace(was, now), encoding="utf-8")
    camera.until("bad files", lambda s: sum(job.error is not None for job in s.jobs) >= len(files))
    camera.save("ready-board-unusable")
    camera.touch(camera.board.view.ids.bad.buttons[0])
    camera.save("unusable-files")
    camera.touch(camera.board.sheet._back)
    for file in files:
        file.unlink()
    camera.until("good files", lambda s: all(job.error is None for job in s.jobs))


def job_sheet(out: Path) -> None:
    """The sheet of the shelf rail, as the page about it makes it."""
    job, site = "assets/jobs/shelf-rail.job.toml", "hardware/site/demo.site.toml"
    command = ("sheet", job, "--site", site, "--out", str(out.resolve() / "job-sheet.png"))
    subprocess.run([sys.executable, "-m", "kiosk", *command], check=True, cwd=ROOT)


def people(camera: Camera, data: Path) -> None:
    """People are set up; one of them signs on."""
    for name, role, typed in (
        ("Operator 2", "operator", "4826\n\n"),
        ("Supervisor 1", "supervisor", "7402915836\nB-0001\n"),
    ):
        command = ("people", "--data", str(data), "add", name, "--role", role)
        subprocess.run([sys.executable, "-m", "kiosk", *command], input=typed, text=True,
                       check=True, cwd=ROOT, stdout=subprocess.DEVNULL)  # fmt: skip
    camera.until("people", lambda s: "sign_on" in s.allowed)
    camera.wait(1.0)  # the rail has its new button
    sheet = camera.open()
    camera.until("two people", lambda _: len(sheet._grid.shown) == 2)
    camera.save("sign-on")
    camera.touch_until(lambda: sheet.shown.keypad.keys, lambda: sheet._grid.buttons[0])
    for digit in "4826":
        camera.touch(next(k for k in sheet._keypad.keys if k.shown.words == digit))
    camera.save("sign-on-keypad")
    camera.touch(sheet._buttons[0])
    camera.until("signed on", lambda s: s.person == "Operator 2" and "sign_off" in s.allowed)
    camera.wait(1.0)
    camera.save("ready-board-cautions")
    sheet = camera.open()
    camera.save("cautions")
    camera.touch_until(lambda: sheet.shown.buttons[0].command, lambda: sheet._buttons[0])
    camera.save("cautions-last")
    camera.touch(sheet._buttons[0], 1.2)
    camera.until("cautions read", lambda s: "confirm_cautions" not in s.allowed)


def afterwards(camera: Camera, machine: Any, children: Any) -> None:
    """A start without permit, and a watching process that is gone."""
    machine.do("cycle_start", force=True)
    camera.state("NO PERMIT")
    camera.save("stop-card-no-permit")
    machine.do("cycle_end")
    children.end("guard")
    camera.wait(2.0)
    camera.save("no-link")


def main() -> int:
    """Make them all."""
    from kiosk.demo import folder
    from kiosk.demo.children import Children
    from kiosk.demo.machine import Machine

    parser = argparse.ArgumentParser(description=__doc__, add_help=True)
    parser.add_argument("--size", choices=SCALES, default="1280x800")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    job_sheet(args.out)
    window(*(int(part) for part in args.size.split("x")))
    data = folder.data_folder(None)
    with Children() as children:
        ready = children.start_plant("demo", data / "plant.log")
        folder.fill(data, ready)
        children.start_guard(data, data / "guard.log")
        machine = Machine(ready["remote"])
        camera = Camera(data, args.size, args.out)
        try:
            round_one(camera, machine)
            past(camera)
            unusable(camera, data)
            people(camera, data)
            afterwards(camera, machine, children)
        finally:
            camera.link.close()
            machine.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
