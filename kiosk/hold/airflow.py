"""What the pump and the pipes can give: one operating point of pump, pipes and leaks.

Pressures are absolute inside a function named so, vacuum (below local air) elsewhere; mass flow
in kg/s, free air in m3/s at local pressure.  Knows no cups: leaks come in as numbers.
Air at 20 C.  Sources: F.M. White, Fluid Mechanics (isothermal pipe, orifice); Colebrook 1939;
Darcy's law for an ideal gas; all from memory, checked against the ``fluids`` library in tests.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

GAS = 287.05  # J/(kg K), dry air
WARMTH_K = 293.15
GAMMA = 1.4
VISCOSITY_PA_S = 1.82e-5
RT = GAS * WARMTH_K
STANDARD_AIR_PA = 101325.0  # ISO 2533
DRAWN_ROUGHNESS_M = 1.5e-6  # smooth hose or drawn tube, from memory: handbooks of fluid mechanics
LAMINAR_REYNOLDS = 2000.0
HOLE_COEFFICIENT = 0.8  # drilled hole or short tube: common practice, no source
# Lip on a good face, 1 free L/min per metre of seal at 60 kPa: common practice, no source.
LIP_LEAK_M2_PA_S = 3.95e-10
# A lowered seat leaks like a hole of 0.3 mm: common practice, no source.
LOWERED_SEAT_BORE_M = 0.3e-3
CRITICAL_RATIO = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))


@dataclass(frozen=True, slots=True)
class Pump:
    """Curve of (vacuum Pa, free air m3/s), vacuum rising, at standard air (101.325 kPa)."""

    curve: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Pipe:
    """A stretch between pump and table.  ``fittings_k``: sum of loss factors on its own bore."""

    length_m: float
    bore_m: float
    fittings_k: float = 0.0
    roughness_m: float = DRAWN_ROUGHNESS_M


@dataclass(frozen=True, slots=True)
class Hole:
    """An orifice to the room: ``area_m2`` of all of a kind together."""

    area_m2: float
    coefficient: float = HOLE_COEFFICIENT


@dataclass(frozen=True, slots=True)
class Porous:
    """Viscous flow through a board: ``shape_m`` is area over path."""

    permeability_m2: float
    shape_m: float


@dataclass(frozen=True, slots=True)
class Lip:
    """Viscous leak under lips: ``length_m`` of seal; free air m3/s per m and Pa."""

    length_m: float
    leak_m2_pa_s: float = LIP_LEAK_M2_PA_S


Leak = Hole | Porous | Lip


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Where pump, pipes and leaks meet.  Vacuum in Pa at table and pump inlet.

    ``flow_m3_s`` free air at local pressure; ``drops`` in Pa, one for each pipe as given.
    """

    table_pa: float
    pump_pa: float
    flow_m3_s: float
    drops: tuple[float, ...]


def holes(count: int, bore_m: float) -> Hole:
    """``count`` open holes of one bore, such as forgotten open seats."""
    return Hole(count * math.pi * bore_m**2 / 4.0)


def lowered_seats(count: int) -> Hole:
    """The small leak of seats that are down."""
    return holes(count, LOWERED_SEAT_BORE_M)


def board_face(permeability_m2: float, area_m2: float, thickness_m: float) -> Porous:
    """Through the thickness, from the room to the face under the seals."""
    return Porous(permeability_m2, area_m2 / thickness_m)


def board_edge(
    core_permeability_m2: float, thickness_m: float, seal_radius_m: float, edge_m: float
) -> Porous:
    """Within a board of closed faces, from a straight edge ``edge_m`` away from the seal's centre.

    Shape of a cylinder parallel to a plane: 2 pi t / arcosh(d / r) (conduction shape factor,
    from memory: handbooks of heat transfer).  ValueError when the edge cuts the seal.
    """
    if edge_m <= seal_radius_m:
        raise ValueError("the edge must be outside the seal")
    shape = 2.0 * math.pi * thickness_m / math.acosh(edge_m / seal_radius_m)
    return Porous(core_permeability_m2, shape)


def leak_mass(leak: Leak, absolute_pa: float, air_pa: float) -> float:
    """Mass flow in kg/s from the room at ``air_pa`` into ``absolute_pa``."""
    if isinstance(leak, Hole):
        return _hole_mass(leak, absolute_pa, air_pa)
    squares = max(air_pa**2 - absolute_pa**2, 0.0)
    if isinstance(leak, Porous):
        return leak.permeability_m2 * leak.shape_m * squares / (2.0 * VISCOSITY_PA_S * RT)
    return leak.leak_m2_pa_s * leak.length_m * squares / (2.0 * RT)


def _hole_mass(hole: Hole, absolute_pa: float, air_pa: float) -> float:
    """Isentropic orifice, choked below the critical ratio 0.528."""
    ratio = min(max(absolute_pa / air_pa, CRITICAL_RATIO), 1.0)
    spread = ratio ** (2.0 / GAMMA) - ratio ** ((GAMMA + 1.0) / GAMMA)
    speed = math.sqrt(2.0 * GAMMA / ((GAMMA - 1.0) * RT) * max(spread, 0.0))
    return float(hole.coefficient * hole.area_m2 * air_pa * speed)


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor: 64 / Re below 2000, Colebrook above."""
    if reynolds < LAMINAR_REYNOLDS:
        return 64.0 / max(reynolds, 1e-9)
    root = 0.02**-0.5
    for _ in range(30):
        root = -2.0 * math.log10(relative_roughness / 3.7 + 2.51 * root / reynolds)
    return float(root**-2.0)


def pipe_end(pipe: Pipe, start_pa: float, mass_kg_s: float) -> float | None:
    """Absolute pressure at the pump's end of a pipe; None when the flow would choke.

    p1^2 - p2^2 = G^2 R T (f L / D + K + 2 ln(p1 / p2)), isothermal.
    """
    if mass_kg_s <= 0.0:
        return start_pa
    area = math.pi * pipe.bore_m**2 / 4.0
    flux = mass_kg_s / area
    factor = friction_factor(flux * pipe.bore_m / VISCOSITY_PA_S, pipe.roughness_m / pipe.bore_m)
    loss = factor * pipe.length_m / pipe.bore_m + pipe.fittings_k

    def surplus(end_pa: float) -> float:
        heads = loss + 2.0 * math.log(start_pa / end_pa)
        return start_pa**2 - end_pa**2 - flux**2 * RT * heads

    choke = flux * math.sqrt(RT)  # Mach 1 / sqrt(gamma)
    if choke >= start_pa or surplus(choke) < 0.0:
        return None
    return _falling_root(surplus, choke, start_pa)


def _falling_root(value: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function crosses zero, by halving, to the last digits."""
    for _ in range(80):
        middle = 0.5 * (low + high)
        if value(middle) > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def pump_mass(pump: Pump, absolute_pa: float, air_pa: float) -> float:
    """Mass flow of the pump in kg/s at an inlet pressure, 0 beyond the end of its curve.

    At another air pressure the same flow of local free air goes with the same ratio of inlet to
    outlet pressure, so the curve's vacuum is scaled by local over standard air.
    """
    vacuum = max((1.0 - absolute_pa / air_pa) * STANDARD_AIR_PA, pump.curve[0][0])
    free = 0.0
    for (v0, q0), (v1, q1) in pairwise(pump.curve):
        if v0 <= vacuum <= v1:
            free = q0 + (q1 - q0) * (vacuum - v0) / (v1 - v0)
            break
    return free * air_pa / RT


def _through_pipes(
    pipes: tuple[Pipe, ...], table_abs: float, mass_kg_s: float
) -> tuple[float, ...] | None:
    """Absolute pressures from table to pump, one more than pipes; None when one chokes."""
    along = [table_abs]
    for pipe in reversed(pipes):
        end = pipe_end(pipe, along[-1], mass_kg_s)
        if end is None:
            return None
        along.append(end)
    return tuple(along)


def _check(pump: Pump, pipes: tuple[Pipe, ...], air_pa: float) -> None:
    points = pump.curve
    rises = all(b[0] > a[0] and b[1] <= a[1] for a, b in pairwise(points))
    if len(points) < 2 or not rises or points[-1][1] < 0.0:
        raise ValueError("a pump curve needs two points or more, vacuum rising, air not rising")
    if air_pa <= 0.0 or any(p.bore_m <= 0.0 or p.length_m < 0.0 for p in pipes):
        raise ValueError("air pressure and bores must be above zero, lengths not below")


def operating_point(
    pump: Pump, pipes: tuple[Pipe, ...], leaks: tuple[Leak, ...], air_pa: float
) -> OperatingPoint:
    """The one vacuum at which what leaks in is what the pump takes away through the pipes.

    ``pipes`` from pump to table in order.  ValueError in words for a curve or a pipe that cannot
    be.  With no leak at all it is the end of the pump's curve.
    """
    _check(pump, pipes, air_pa)

    def surplus(vacuum_pa: float) -> float:
        table = air_pa - vacuum_pa
        mass = _leaked(leaks, table, air_pa)
        along = _through_pipes(pipes, table, mass)
        return -1.0 if along is None else pump_mass(pump, along[-1], air_pa) - mass

    vacuum = _falling_root(surplus, 0.0, air_pa * (1.0 - 1e-9))
    table = air_pa - vacuum
    mass = _leaked(leaks, table, air_pa)
    along = _through_pipes(pipes, table, mass) or (table,) * (len(pipes) + 1)
    drops = tuple(a - b for a, b in pairwise(along))[::-1]
    return OperatingPoint(vacuum, air_pa - along[-1], mass * RT / air_pa, drops)


def _leaked(leaks: tuple[Leak, ...], absolute_pa: float, air_pa: float) -> float:
    return sum(leak_mass(leak, absolute_pa, air_pa) for leak in leaks)


def branch_drop_pa(pipe: Pipe, leaks: tuple[Leak, ...], table_pa: float, air_pa: float) -> float:
    """Vacuum lost between the table and a cup at the end of a branch with leaks of its own, Pa.

    ``table_pa`` is the vacuum at the table.  The cup's leak at the table's vacuum is taken, which
    is never less than what it really draws.
    """
    mass = _leaked(leaks, air_pa - table_pa, air_pa)

    def short(cup_vacuum_pa: float) -> float:
        end = pipe_end(pipe, air_pa - cup_vacuum_pa, mass)
        return 1.0 if end is None else (air_pa - end) - table_pa

    cup = _falling_root(lambda v: -short(v), 0.0, table_pa)
    return table_pa - cup


def draw_down_s(
    pump: Pump,
    pipes: tuple[Pipe, ...],
    leaks: tuple[Leak, ...],
    *,
    volume_m3: float,
    target_pa: float,
    air_pa: float,
) -> float | None:
    """Time to draw a volume from local air down to a vacuum, s; None when it never gets there.

    t = V / (R T) x integral of dp / (pumped - leaked), by Simpson over ln p.
    """
    _check(pump, pipes, air_pa)
    steps = 200
    high, low = math.log(air_pa), math.log(max(air_pa - target_pa, 1e-6))
    total = 0.0
    for i in range(steps + 1):
        pressure = math.exp(high + (low - high) * i / steps)
        net = _pumped(pump, pipes, pressure, air_pa) - _leaked(leaks, pressure, air_pa)
        if net <= 0.0:
            return None
        weight = 1.0 if i in (0, steps) else 4.0 if i % 2 else 2.0
        total += weight * pressure / net
    return volume_m3 / RT * total * (high - low) / steps / 3.0


def _pumped(pump: Pump, pipes: tuple[Pipe, ...], table_abs: float, air_pa: float) -> float:
    """Mass flow that leaves the table at a pressure, through the pipes, kg/s."""

    def surplus(mass: float) -> float:
        along = _through_pipes(pipes, table_abs, mass)
        return -1.0 if along is None else pump_mass(pump, along[-1], air_pa) - mass

    most = pump_mass(pump, table_abs, air_pa)
    return most if not pipes else _falling_root(surplus, 0.0, most)


def leak_from_rise(volume_m3: float, rise_pa: float, time_s: float) -> float:
    """Leak in Pa m3/s of a closed volume from its rise of pressure: V dp / dt (EN 1779)."""
    return volume_m3 * rise_pa / time_s
