"""What would lower the minimum: each change worked out again, none guessed; kPa at the cups."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from kiosk.hold.materials import LIPS, friction
from kiosk.job.holding import Body, Setup, worst_of
from kiosk.job.job_file import FEED_OVERRIDES, Job
from kiosk.job.otherwise import (
    has_sense,
    in_passes,
    runs_against,
    solved,
    with_job,
    with_sense,
)
from kiosk.job.plan import Cure, Plan
from kiosk.job.resolve import Worked, usable, with_seats

LEAST_KPA = 0.1  # a change that lowers it by less is not told
FEED_SHARE = 0.7
MOST_CUPS = 3  # single cups that are told, the best first
MOST_PUSHES = 5000  # cuts that meet material; of more, cures take long
_SENSES = ("climb", "conventional")
_TAPERING = ("ball", "vee")  # wider further up
_SHARES = ("half", "a third", "a quarter")


def cures_of(worked: Worked) -> tuple[Cure, ...]:
    """Changes that lower the job's minimum, the one that lowers it most first.

    None where the site's floor sets it, where no cup is up or where nothing pushes.
    """
    floor, now = worked.site.limits.floor_kpa, worked.model_kpa
    if not worked.setup.seating.up or (now is not None and now <= floor):
        return ()
    found = []
    for code, change, then in _Changes(worked).all():
        if then is None or (now is not None and now - max(then, floor) < LEAST_KPA):
            continue
        minimum = max(then, floor)
        found.append(Cure(code, change, minimum, None if now is None else now - minimum))
    return tuple(sorted(found, key=lambda cure: cure.minimum_kpa))


def explained(plan: Plan, worked: Worked, always: bool = False) -> Plan:
    """The plan with its cures; of a long program only when they are asked for (``always``)."""
    if not always and len(worked.setup.pushes) > MOST_PUSHES:
        return plan
    return replace(plan, cures=cures_of(worked))


def cures_in_words(cures: Sequence[Cure], width: int) -> list[str]:
    """At most two lines for a person; empty without cures."""
    if not cures:
        return []
    first = f"{cures[0].change} ({cures[0].minimum_kpa:.1f} kPa at the cups)"
    others = [f"{cure.change} ({cure.minimum_kpa:.1f})" for cure in cures[1:]]
    words = f"Lower with {', '.join([first, *others])}"
    return textwrap.wrap(words, width, subsequent_indent="  ", max_lines=2, placeholder=" ...")


_Changed = tuple[str, str, float | None]  # code, words, what the minimum would be


@dataclass(frozen=True, slots=True)
class _Changes:
    """Every change that this job leaves open."""

    worked: Worked

    @property
    def setup(self) -> Setup:
        return self.worked.setup

    @property
    def job(self) -> Job:
        return self.worked.job

    def all(self) -> Iterator[_Changed]:
        yield from self._cups()
        yield from self._grip()
        if self.setup.pushes:
            yield from self._cutting()

    # -- cups: the same loads ----------------------------------------------------------------

    def _cups(self) -> Iterator[_Changed]:
        up = self.setup.seating.up
        spare = usable(self.setup) - up
        for seat, then in self._best_of(spare):
            yield "cup", f"cup {seat} up too", then
        if len(spare) > 1:
            then = _kpa(self._again(with_seats(self.setup, up | spare)))
            yield "all_cups", f"all {len(spare)} spare cups up too", then

    def _best_of(self, spare: frozenset[str]) -> list[tuple[str, float | None]]:
        """The spare cups that lower the minimum most, none passed over.

        A few cases give a lower bound of each cup's minimum; only cups whose bound is below the
        best answers so far are asked in full.
        """
        few, up = [_hardest(body) for body in self.worked.bodies], self.setup.seating.up
        bounds = {
            seat: _size(_kpa(with_seats(self.setup, up | {seat}).again(few))) for seat in spare
        }
        found: list[tuple[str, float | None]] = []
        for seat in sorted(spare, key=lambda seat: (bounds[seat], seat)):
            if len(found) >= MOST_CUPS and bounds[seat] >= _size(found[MOST_CUPS - 1][1]):
                break
            found.append((seat, _kpa(self._again(with_seats(self.setup, up | {seat})))))
            found.sort(key=lambda row: _size(row[1]))
        return found[:MOST_CUPS]

    def _again(self, setup: Setup) -> tuple[Body, ...]:
        return setup.again(self.worked.bodies)

    # -- friction: the same loads ------------------------------------------------------------

    def _grip(self) -> Iterator[_Changed]:
        """A clean underside, and lips of the material that grips best."""
        if self.job.friction is not None:
            return
        lip, surface = self.worked.site.cup.lip, self.job.surface or "dusty"
        best = max(LIPS, key=lambda other: self._friction(other, surface) or 0.0)
        ways = (
            ("surface", "a clean underside", self._friction(lip, "clean")),
            ("lip", f"{best} lips", self._friction(best, surface)),
        )
        for code, change, mu in ways:
            if mu is not None and mu > self.setup.friction:
                yield code, change, _kpa(self._again(replace(self.setup, friction=mu)))

    def _friction(self, lip: str, surface: str) -> float | None:
        contact = self.worked.site.cup.contact
        try:
            return friction(self.worked.own.material, self.job.underside, surface, lip, contact).low
        except ValueError:
            return None

    # -- cutting: other loads ----------------------------------------------------------------

    def _cutting(self) -> Iterator[_Changed]:
        yield from self._feed()
        governed = worst_of(self.worked.bodies).governed()
        if governed is None or governed.line is None or governed.tool is None:
            return
        if has_sense(self.setup, governed.line):
            yield from self._senses()
        number = governed.tool
        yield from self._passes(number)
        if self.job.tools[number].edge != "sharp":
            sharp = replace(self.job.tools[number], edge="sharp")
            job = replace(self.job, tools={**self.job.tools, number: sharp})
            words = f"a sharp edge on tool {number}"
            yield "edge", words, self._when(lambda setup: with_job(setup, job))

    def _feed(self) -> Iterator[_Changed]:
        """A lower feed override, where the job file may say so low a one."""
        feed = round(self.job.feed_override * FEED_SHARE, 6)
        if feed < FEED_OVERRIDES[0]:
            return
        slower = replace(self.job, feed_override=feed)
        words = f"feed at {feed * 100.0:g} %"
        yield "feed", words, self._when(lambda setup: with_job(setup, slower))

    def _passes(self, number: int) -> Iterator[_Changed]:
        """Twice as many, three times, four times: until the gauge can reach what is needed.

        Not of a vee or a ball: their flanks meet what the pass before left beside it, so that a
        lower pass is wider than its own depth, and a share of the depth says too little.
        """
        worked = self.worked
        if self.job.tools[number].kind in _TAPERING:
            return
        for count, share in enumerate(_SHARES, 2):
            then = _kpa(solved(in_passes(self.setup, number, count)))
            yield "passes", f"tool {number} in passes {share} as deep", then
            level = worked.supply.levels(then)
            if level is not None and level.start_pa / 1e3 <= worked.supply.most_kpa:
                return

    def _senses(self) -> Iterator[_Changed]:
        declared = None if self.job.program is None else self.job.program.milling
        for milling in _SENSES:
            if milling == declared:
                continue
            against = runs_against(self.setup, milling)
            words = f"{milling} milling declared"
            if against is not None:
                words = f"{milling} milling, unlike line {against}"
            yield "sense", words, self._when(partial(with_sense, milling=milling))

    def _when(self, change: Callable[[Setup], Setup]) -> float | None:
        """The minimum with a change; None where the lines that govern now need as much with it."""
        now, lines = self.worked.model_kpa, self._governing_lines()
        if now is not None and lines:
            few = tuple(push for push in self.setup.pushes if push.cut.line in lines)
            least = _kpa(solved(change(replace(self.setup, pushes=few))))
            if _size(least) > now - LEAST_KPA:
                return None
        return _kpa(solved(change(self.setup)))

    def _governing_lines(self) -> set[int]:
        worst = worst_of(self.worked.bodies)
        rows = (worst.governed(), *worst.runners_up())
        return {row.line for row in rows if row is not None and row.line is not None}


def _kpa(bodies: Sequence[Body]) -> float | None:
    return worst_of(bodies).model_kpa


def _size(kpa: float | None) -> float:
    return math.inf if kpa is None else kpa


def _hardest(body: Body) -> Body:
    """With the cases alone that govern it and come next."""
    found = body.minimum
    cases = [found.case, *(runner.case for runner in found.runners_up)]
    which = np.array([case for case in cases if case is not None], dtype=np.int64)
    return replace(body, rows=body.rows.take(which))
