"""A set-up with one thing otherwise: its cuts are not read again, only their loads made anew.

Part frame, mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from kiosk.hold.materials import Material
from kiosk.job.cuts import Cut
from kiosk.job.holding import Body, Setup
from kiosk.job.job_file import Job
from kiosk.job.pushes import Push, Pushing
from kiosk.job.stock import Bite

Met = tuple[Cut, Bite]  # a cut, and what it meets


def solved(setup: Setup) -> tuple[Body, ...]:
    """Its bodies, without runners-up."""
    return setup.bodies(setup.reaches(), runners=0)


def with_job(setup: Setup, job: Job, material: Material | None = None) -> Setup:
    """As another job file would have it that has the same program, outline and cups; with other
    numbers of the material when they are named."""
    met = ((replace(p.cut, tool=job.tools[p.cut.tool.number]), p.bite) for p in setup.pushes)
    return _with(setup, met, job, material or setup.material)


def in_passes(setup: Setup, tool: int, count: int) -> Setup:
    """Each cut of a tool in so many passes of equal depth, layer by layer.

    The upper layers of a cut that goes through run before the lowest one opens the border; holes
    and straight plunges stay.
    """
    met = (
        layer for push, before in _with_runs(setup) for layer in _layers(push, tool, count, before)
    )
    return _with(setup, met, setup.job, setup.material)


def with_sense(setup: Setup, milling: str) -> Setup:
    """Side cuts in this sense: those that now run the other way are turned round."""
    job, wanted = setup.job, {"climb": -1, "conventional": 1}[milling]
    assert job.program is not None
    met = (_turned(p.cut, p.bite) if _turns(p, -wanted) else (p.cut, p.bite) for p in setup.pushes)
    declared = replace(job, program=replace(job.program, milling=milling))
    return _with(setup, met, declared, setup.material)


def has_sense(setup: Setup, line: int) -> bool:
    """True when a cut of this line is a side cut that could run either way."""
    return any(
        _turns(push, side) for push in setup.pushes if push.cut.line == line for side in (-1, 1)
    )


def runs_against(setup: Setup, milling: str) -> int | None:
    """The first line that cuts in the other sense than this one; None when all fit."""
    other = {"climb": 1, "conventional": -1}[milling]
    return next((p.cut.line for p in setup.pushes if _turns(p, other)), None)


def _with(setup: Setup, met: Iterable[Met], job: Job, material: Material) -> Setup:
    pushing = Pushing(job, material)
    pushes = tuple(pushing.push(cut, bite) for cut, bite in met)
    return replace(setup, job=job, material=material, pushes=pushes)


# -- passes --------------------------------------------------------------------------------


def _with_runs(setup: Setup) -> Iterator[tuple[Push, int]]:
    """Each push with the order just before the unbroken run of through-cuts that it is in."""
    start, last = 0, None
    skin_mm = 0.0 if setup.job.program is None else setup.job.program.skin_mm
    for push in setup.pushes:
        cut = push.cut
        goes_on = last is not None and cut.order <= last.order + 1 and cut.tool == last.tool
        through = cut.lowest_mm <= skin_mm
        if not through or not goes_on:
            start = cut.order
        last = cut if through else None
        yield push, start - 1 if through else cut.order


def _layers(push: Push, tool: int, count: int, before: int) -> list[Met]:
    cut, bite = push.cut, push.bite
    if cut.tool.number != tool or cut.tool.kind == "drill" or cut.start[:2] == cut.end[:2]:
        return [(cut, bite)]
    deep, (x0, y0, z0), (x1, y1, z1) = bite.depth_mm / count, cut.start, cut.end
    found = []
    for number in range(count):  # from below
        rise = number * deep
        top = bite.top_mm - (count - 1 - number) * deep
        part = replace(bite, depth_mm=deep, bottom_mm=bite.bottom_mm + rise, top_mm=top)
        start, end = (x0, y0, max(z0, 0.0) + rise), (x1, y1, max(z1, 0.0) + rise)
        upper = replace(cut, start=start, end=end, order=before)
        found.append((upper if number else cut, part))
    return found


# -- sense ---------------------------------------------------------------------------------


def _turns(push: Push, side: int) -> bool:
    """A level side cut with its material on this side."""
    level = push.cut.start[2] == push.cut.end[2]
    return level and push.bite.width_mm is not None and push.bite.side == side


def _turned(cut: Cut, bite: Bite) -> Met:
    """Material is met from when the front of the cutter reaches it, from the other end now."""
    back = replace(cut, start=cut.end, end=cut.start)
    front = cut.tool.diameter_mm / 2.0 / max(math.dist(cut.start, cut.end), 1e-6)
    began = bite.first + front if bite.first > 0.0 else 0.0
    first, last = max(0.0, 1.0 - bite.last - front), 1.0 - min(began, 1.0)
    return back, replace(bite, first=first, last=last, side=-bite.side)
