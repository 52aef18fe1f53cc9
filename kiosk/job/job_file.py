"""The job file: what is loaded, where it lies, and what will be done to it.

``load_job`` reads ``*.job.toml`` into a ``Job`` or raises ``BadInput`` with every mistake in it.
mm, N, degrees; part frame, z = 0 at the underside of the blank.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from kiosk.job.kinds import refuse_other_kinds
from kiosk.job.part_table import (
    FAR_MM,
    NO_OPENINGS,
    flat,
    named_file,
    read_layer,
    read_openings,
    read_outline,
    read_surface,
)
from kiosk.mistakes import Mistake
from kiosk.site.specials import PIN_KINDS, read_pin
from kiosk.site.types import Special
from kiosk.toml_lines import Table, TomlFile, bad_file, read_toml

Point = tuple[float, float]
Vector = tuple[float, float, float]

UNDERSIDES = ("planed", "sawn", "laminate", "film", "machined", "coated")
TOOL_KINDS = ("upcut", "downcut", "compression", "straight", "ball", "vee", "drill")
EDGES = ("sharp", "used", "blunt")
FRAMES = ("part", "grid")
Z_ZEROS = ("top", "underside")
MILLING = ("climb", "conventional", "either")
OFFSET_NAMES = {f"G{code}": code for code in range(55, 60)}
FEED_OVERRIDES = 0.1, 3.0  # the lowest and the highest position that a job file may name
# Where a helix may be left out; twist drills and ball cutters: common practice, no source.
_USUAL_HELIX_DEG = {"straight": 0.0, "vee": 0.0, "drill": 30.0, "ball": 30.0}


@dataclass(frozen=True, slots=True)
class Tool:
    """A ``[[tool]]`` row.  ``point_deg``: included angle of the point of a vee or drill."""

    number: int
    kind: str
    diameter_mm: float
    flutes: int
    helix_deg: float
    upcut_length_mm: float | None
    edge: str
    point_deg: float


@dataclass(frozen=True, slots=True)
class LoadRow:
    """A ``[[load]]`` row, without the safety factor; ``force_n`` z is up."""

    at_mm: Vector
    force_n: Vector
    torque_nm: float
    any_direction: bool
    line: int | None


@dataclass(frozen=True, slots=True)
class ProgramRow:
    """The ``[program]`` table.  ``offsets``: work offsets G55 to G59 by number, mm."""

    file: Path
    frame: str
    origin_mm: Point
    offsets: dict[int, Vector]
    z_zero: str
    skin_mm: float
    milling: str


@dataclass(frozen=True, slots=True)
class Placement:
    """The part frame in the grid frame: turned counter-clockwise, then moved."""

    x_mm: float = 0.0
    y_mm: float = 0.0
    angle_deg: float = 0.0
    pin_tolerance_mm: float = 1.0  # a part further off a pin of its own is told


@dataclass(frozen=True, slots=True)
class Job:
    """A whole job file.  What was not stated is None or empty; ``outline`` may name a drawing."""

    file: TomlFile
    id: str
    title: str
    revision: str
    cups_up: tuple[str, ...] | None  # None: all usable seats
    outline: Path | tuple[Point, ...]
    openings: tuple[tuple[Point, ...], ...]
    keep: tuple[Point, ...]
    thickness_mm: float
    material: str
    underside: str
    surface: str | None
    grain_deg: float | None
    mass_kg: float | None
    placement: Placement
    program: ProgramRow | None
    tools: dict[int, Tool]
    loads: tuple[LoadRow, ...]
    safety_factor: float
    friction: float | None
    deflection_limit_mm: float
    outline_layer: str | None = None
    openings_layer: str | None = None
    drawn_openings: bool = True  # False: loops within a drawn outline are not open yet
    runout_mm: float = 0.0
    feed_override: float = 1.0
    pins: tuple[Special, ...] = ()  # the part lies against them; grid frame

    def line(self, *where: str | int) -> int | None:
        """Line of a key in the file."""
        return self.file.line(where)

    def mistake(self, text: str, *where: str | int) -> Mistake:
        """A mistake found later, told at the key it is about."""
        return Mistake(self.file.name, self.line(*where), text)


def load_job(path: Path, materials: tuple[str, ...] = ()) -> Job:
    """Read a job file.  ``materials``: keys that may be named; none means any.

    Raises ``BadInput`` with every mistake at once.
    """
    refuse_other_kinds(path)
    file = read_toml(path)
    if "grid" in file.values and "part" not in file.values:
        raise bad_file(file.name, "this is a site file: give it after --site, and a job file here")
    whole = Table(file)
    job = _read_job(whole, path.parent, materials)
    whole.done()
    whole.raise_mistakes()
    return job


def _read_job(whole: Table, folder: Path, materials: tuple[str, ...]) -> Job:
    whole.whole("format", 1, 1)
    job_id = whole.text("id", longest=64)
    title = whole.text("title", longest=80)
    revision = whole.text("revision", "", longest=20)
    cups_up = _read_cups_up(whole)
    part = whole.table("part") or Table(whole.file, {}, ("part",), [])
    hold = whole.table("hold", required=False)
    friction = None if hold is None else hold.number("friction", 0.02, 2.0, None)
    tools = _read_tools(whole)
    program = _read_program(whole, folder)
    loads = tuple(_read_load(row) for row in whole.rows("load"))
    if not loads and program is None and not whole.has("program"):
        whole.wrong("the job has no [program] and no [[load]] row: add one of them")
    if program is not None and not tools:
        whole.wrong("the job has a [program] but no [[tool]] row: add one for each tool used")
    job = Job(
        file=whole.file,
        id=job_id,
        title=title,
        revision=revision,
        cups_up=cups_up,
        outline=read_outline(part, folder),
        openings=read_openings(part),
        keep=tuple(flat(p) for p in part.vectors("keep", 2, -FAR_MM, FAR_MM, ())),
        thickness_mm=part.number("thickness_mm", 0.1, 500.0),
        material=part.choice("material", materials) if materials else part.text("material"),
        underside=part.choice("underside", UNDERSIDES),
        surface=read_surface(part, friction),
        grain_deg=part.number("grain_deg", -360.0, 360.0, None),
        mass_kg=part.number("mass_kg", 0.001, 5000.0, None),
        placement=_read_placement(whole),
        program=program,
        tools=tools,
        loads=loads,
        safety_factor=2.0 if hold is None else hold.number("safety_factor", 1.0, 10.0, 2.0),
        friction=friction,
        deflection_limit_mm=(
            0.2 if hold is None else hold.number("deflection_limit_mm", 0.001, 20.0, 0.2)
        ),
        runout_mm=0.0 if hold is None else hold.number("runout_mm", 0.0, 1.0, 0.0),
        feed_override=1.0 if hold is None else hold.number("feed_override", *FEED_OVERRIDES, 1.0),
        outline_layer=read_layer(part, "outline_layer"),
        openings_layer=read_layer(part, "openings_layer"),
        drawn_openings=part.values.get("openings") != NO_OPENINGS,
        pins=tuple(_read_pin(row) for row in whole.rows("pin")),
    )
    part.done()
    if hold is not None:
        hold.done()
    return job


def _vector(row: tuple[float, ...]) -> Vector:
    return row[0], row[1], row[2]


def _read_cups_up(whole: Table) -> tuple[str, ...] | None:
    value = whole.take("cups_up", '"auto"', "auto")
    if value == "auto":
        return None
    if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
        whole.wrong('cups_up must be "auto" or a list of seat names, ["B2", "C2"]', "cups_up")
        return None
    if not value:
        whole.wrong('cups_up is an empty list: write "auto" or name the seats', "cups_up")
    twice = sorted({name for name in value if value.count(name) > 1})
    if twice:
        whole.wrong(f"cups_up names {', '.join(twice)} twice: name each seat once", "cups_up")
    return tuple(value)


def _read_placement(whole: Table) -> Placement:
    table = whole.table("placement", required=False)
    if table is None:
        return Placement()
    x_mm, y_mm = (table.number(key, -FAR_MM, FAR_MM, 0.0) for key in ("x_mm", "y_mm"))
    angle_deg = table.number("angle_deg", -360.0, 360.0, 0.0)
    tolerance_mm = table.number("pin_tolerance_mm", 0.05, 20.0, 1.0)
    placement = Placement(x_mm, y_mm, angle_deg, tolerance_mm)
    table.done()
    return placement


def _read_program(whole: Table, folder: Path) -> ProgramRow | None:
    table = whole.table("program", required=False)
    if table is None:
        return None
    name = table.text("file")
    program = ProgramRow(
        file=named_file(table, "file", folder, name),
        frame=table.choice("frame", FRAMES, "part"),
        origin_mm=flat(table.vector("origin_mm", 2, -FAR_MM, FAR_MM, (0.0, 0.0))),
        offsets=_read_offsets(table),
        z_zero=table.choice("z_zero", Z_ZEROS),
        skin_mm=table.number("skin_mm", 0.0, 10.0, 0.5),
        milling=table.choice("milling", MILLING, "either"),
    )
    table.done()
    return program


def _read_offsets(program: Table) -> dict[int, Vector]:
    table = program.table("offsets", required=False)
    if table is None:
        return {}
    found = {
        code: _vector(table.vector(name, 3, -FAR_MM, FAR_MM))
        for name, code in OFFSET_NAMES.items()
        if table.has(name)
    }
    for name in table.values.keys() - OFFSET_NAMES.keys():
        table.known.append(name)
        table.wrong(f"{name} does not belong here: give G55 to G59, and G54 by origin_mm", name)
    table.known.extend(OFFSET_NAMES)
    table.done()
    return found


def _read_pin(row: Table) -> Special:
    pin = read_pin(row, row.choice("kind", PIN_KINDS), None)
    row.done()
    return pin


def _read_tools(whole: Table) -> dict[int, Tool]:
    tools: dict[int, Tool] = {}
    for row in whole.rows("tool"):
        tool = _read_tool(row)
        if tool.number in tools:
            row.wrong(f"tool {tool.number} stands here a second time: keep one row", "number")
        tools[tool.number] = tool
    return tools


def _read_tool(row: Table) -> Tool:
    kind = row.choice("kind", TOOL_KINDS)
    usual = _USUAL_HELIX_DEG.get(kind)
    tool = Tool(
        number=row.whole("number", 0, 9999),
        kind=kind,
        diameter_mm=row.number("diameter_mm", 0.1, 400.0),
        flutes=row.whole("flutes", 1, 24),
        helix_deg=(
            row.number("helix_deg", 0.0, 70.0)
            if usual is None
            else row.number("helix_deg", 0.0, 70.0, usual)
        ),
        upcut_length_mm=row.number("upcut_length_mm", 0.0, 200.0, None),
        edge=row.choice("edge", EDGES, "used"),
        point_deg=row.number("point_deg", 10.0, 180.0, 118.0 if kind == "drill" else 90.0),
    )
    row.done()
    if kind == "compression" and tool.upcut_length_mm is None:
        row.wrong("a compression cutter needs upcut_length_mm: add it", "kind")
    named = row.values.get("kind") in TOOL_KINDS
    if named and kind != "compression" and tool.upcut_length_mm is not None:
        row.wrong(f'upcut_length_mm is for kind "compression", not "{kind}"', "upcut_length_mm")
    return tool


def _read_load(row: Table) -> LoadRow:
    load = LoadRow(
        at_mm=_vector(row.vector("at_mm", 3, -FAR_MM, FAR_MM)),
        force_n=_vector(row.vector("force_n", 3, -1e6, 1e6)),
        torque_nm=row.number("torque_nm", -1e5, 1e5, 0.0),
        any_direction=row.flag("any_direction", False),
        line=row.line(),
    )
    row.done()
    return load
