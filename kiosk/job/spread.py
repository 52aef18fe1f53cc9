"""How sure a minimum is: one number at a time at its low and high end, the others typical.

The job is solved again for each; kPa at the cups before the site's floor.  Nothing here decides.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from kiosk.hold.cutter import WEAR
from kiosk.hold.materials import Kienzle, Material, Value
from kiosk.hold.verdict import Caution, caution
from kiosk.job.holding import Body, worst_of
from kiosk.job.inputs import FRICTION, Inputs
from kiosk.job.job_file import Job
from kiosk.job.otherwise import solved, with_job
from kiosk.job.resolve import Worked

_PRACTICE = "common practice, no source"
_MOVES_KPA = 0.05  # a number that moves the minimum by less is told not to


@dataclass(frozen=True, slots=True)
class Moved:
    """One number: its range, and the minimum at both ends of it.

    ``at_*_kpa`` None: there no vacuum holds.
    """

    name: str
    low: float
    typical: float
    high: float
    unit: str
    grade: str
    source: str
    at_low_kpa: float | None
    at_high_kpa: float | None

    @property
    def swing_kpa(self) -> float:
        """How far it moves the minimum; endless where one end does not hold."""
        if self.at_low_kpa is None or self.at_high_kpa is None:
            return float("inf")
        return abs(self.at_high_kpa - self.at_low_kpa)


@dataclass(frozen=True, slots=True)
class Spread:
    """Minima before the floor, kPa; None: no vacuum holds.  ``moved``: what moves it most first.

    ``bare_kpa``: typical numbers, and no factor of safety.
    """

    decided_kpa: float | None
    better_kpa: float | None
    typical_kpa: float | None
    worse_kpa: float | None
    bare_kpa: float | None
    caution: Caution
    moved: tuple[Moved, ...]

    @property
    def weakest(self) -> Moved | None:
        """Of the numbers that move the minimum the one with the poorest grade, that moves most."""
        moving = [row for row in self.moved if row.swing_kpa >= _MOVES_KPA]
        return max(moving, key=lambda row: (row.grade, row.swing_kpa), default=None)


def spread_of(worked: Worked) -> Spread:
    """The spread of a job's minimum over every number that has a range."""
    asked = _Asked(worked)
    typical = _Numbers.typical(worked)
    knobs = [knob for knob in _knobs(worked) if knob.value.low < knob.value.high]
    moved = [_moved(asked, typical, knob) for knob in knobs]
    ends = list(zip(knobs, moved, strict=True))
    return Spread(
        decided_kpa=worked.model_kpa,
        better_kpa=asked.kpa(_at_ends(typical, ends, better=True)),
        typical_kpa=asked.kpa(typical),
        worse_kpa=asked.kpa(_at_ends(typical, ends, better=False)),
        bare_kpa=asked.kpa(replace(typical, factor=1.0)),
        caution=_caution(worked),
        moved=tuple(sorted(moved, key=lambda row: -row.swing_kpa)),
    )


# -- the numbers ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Numbers:
    """All numbers of one evaluation.  ``edge`` None: of each tool as the job has it."""

    material: Material
    friction: float
    factor: float
    edge: str | None = None

    @staticmethod
    def typical(worked: Worked) -> _Numbers:
        material, job = worked.own.material, worked.job
        typical = replace(
            material,
            density_kg_m3=_fixed(material.density_kg_m3.typical),
            kc_along=_kienzle_at_typical(material.kc_along),
            kc_across=_kienzle_at_typical(material.kc_across),
            kr=_fixed(material.kr.typical),
        )
        return _Numbers(typical, _grip(worked).typical, job.safety_factor)


def _fixed(number: float) -> Value:
    return Value(number, number, number, "", "")


def _kienzle_at_typical(row: Kienzle) -> Kienzle:
    values = (row.k_ref_pa, row.m_thin, row.m_thick)
    return Kienzle(*(_fixed(value.typical) for value in values))


def _inputs(worked: Worked) -> Inputs:
    governed = worst_of(worked.bodies).governed()
    return Inputs(worked.job, worked.site, worked.own, worked.setup.pushes, governed)


def _grip(worked: Worked) -> Value:
    row = next(row for row in _inputs(worked).all() if row.name == FRICTION)
    return Value(row.low, row.typical, row.high, row.grade, row.source)


# -- what can be turned --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Knob:
    """A number with a range, and how it is put among the others."""

    name: str
    unit: str
    value: Value
    put: Callable[[_Numbers, float], _Numbers]


def _knobs(worked: Worked) -> list[_Knob]:
    material, setup = worked.own.material, worked.setup
    knobs = [_Knob(FRICTION, "", _grip(worked), lambda n, v: replace(n, friction=v))]
    if worked.job.mass_kg is None:
        knobs.append(_Knob("density", "kg/m3", material.density_kg_m3, _put_density))
    if not setup.pushes:
        return knobs
    knobs.append(_Knob("radial share", "", material.kr, _put_radial))
    grained = material.kc_along != material.kc_across
    if grained and worked.job.grain_deg is not None:
        knobs += _force_knobs(material.kc_across, " across the grain", ("kc_across",))
        knobs += _force_knobs(material.kc_along, " along the grain", ("kc_along",))
    else:
        knobs += _force_knobs(material.kc_across, "", ("kc_along", "kc_across"))
    return [*knobs, _edge_knob(worked)]


def _put_density(numbers: _Numbers, value: float) -> _Numbers:
    return replace(numbers, material=replace(numbers.material, density_kg_m3=_fixed(value)))


def _put_radial(numbers: _Numbers, value: float) -> _Numbers:
    return replace(numbers, material=replace(numbers.material, kr=_fixed(value)))


def _force_knobs(row: Kienzle, of: str, fields: tuple[str, ...]) -> list[_Knob]:
    """``fields``: of the material that take the number."""

    def put(name: str, scale: float) -> Callable[[_Numbers, float], _Numbers]:
        def change(numbers: _Numbers, value: float) -> _Numbers:
            fixed = {name: _fixed(value * scale)}
            rows = {f: replace(getattr(numbers.material, f), **fixed) for f in fields}
            return replace(numbers, material=replace(numbers.material, **rows))

        return change

    return [
        _Knob(f"cutting force{of}", "N/mm2", row.k_ref_pa.scaled(1e-6), put("k_ref_pa", 1e6)),
        _Knob(f"m{of}, thin chip", "", row.m_thin, put("m_thin", 1.0)),
        _Knob(f"m{of}, thick chip", "", row.m_thick, put("m_thick", 1.0)),
    ]


def _edge_knob(worked: Worked) -> _Knob:
    """The wear of the edge: sharp, as the governing tool has it, blunt."""
    edge = _edge(worked)
    wear = Value(WEAR["sharp"], WEAR[edge], WEAR["blunt"], "C", _PRACTICE)
    words = {number: word for word, number in WEAR.items()}
    return _Knob("wear of the edge", "", wear, lambda n, v: replace(n, edge=words[v]))


def _edge(worked: Worked) -> str:
    governed = worst_of(worked.bodies).governed()
    number = None if governed is None else governed.tool
    tool = worked.setup.pushes[0].cut.tool if number is None else worked.job.tools[number]
    return tool.edge


# -- asking --------------------------------------------------------------------------------


@dataclass(slots=True)
class _Asked:
    """Solves the job with given numbers; loads that are alike are made once."""

    worked: Worked
    known: dict[object, tuple[Body, ...]] = field(default_factory=dict)

    def kpa(self, numbers: _Numbers) -> float | None:
        """The minimum; None when no vacuum holds."""
        material = numbers.material
        cut_by = (material.kc_along, material.kc_across, material.kr, numbers.edge)
        job = self._job(numbers)
        if cut_by not in self.known:
            self.known[cut_by] = solved(with_job(self.worked.setup, job, material))
        bodies = tuple(replace(body, safety_factor=numbers.factor) for body in self.known[cut_by])
        setup = replace(self.worked.setup, job=job, material=material, friction=numbers.friction)
        return worst_of(setup.again(bodies)).model_kpa

    def _job(self, numbers: _Numbers) -> Job:
        job, edge = self.worked.job, numbers.edge
        tools = job.tools
        if edge is not None:
            tools = {number: replace(tool, edge=edge) for number, tool in tools.items()}
        return replace(job, safety_factor=numbers.factor, tools=tools)


def _moved(asked: _Asked, typical: _Numbers, knob: _Knob) -> Moved:
    value = knob.value
    return Moved(
        knob.name, value.low, value.typical, value.high, knob.unit, value.grade, value.source,
        asked.kpa(knob.put(typical, value.low)),
        asked.kpa(knob.put(typical, value.high)),
    )  # fmt: skip


def _at_ends(numbers: _Numbers, ends: list[tuple[_Knob, Moved]], better: bool) -> _Numbers:
    """Every number at the end that makes the minimum smaller, or at the other."""
    for knob, moved in ends:
        low = _size(moved.at_low_kpa) < _size(moved.at_high_kpa)
        if moved.swing_kpa >= _MOVES_KPA:
            numbers = knob.put(numbers, knob.value.low if low == better else knob.value.high)
    return numbers


def _size(kpa: float | None) -> float:
    return float("inf") if kpa is None else kpa


def _caution(worked: Worked) -> Caution:
    """Only what the minimum goes with: of a part that lifts no friction, of a load no force."""
    governed = worst_of(worked.bodies).governed()
    slides = governed is None or governed.mode == "slip"
    grip, factor = _grip(worked) if slides else _fixed(1.0), worked.job.safety_factor
    if governed is None or governed.line is None:
        return Caution(1.0, grip.typical / grip.low, factor)
    return caution(worked.own.material.kc_across, _edge(worked), grip, factor)
