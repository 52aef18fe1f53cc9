"""Who may import whom.  The table is the design; an import outside it is a fault."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

LEAVES = {"kiosk.units", "kiosk.limits", "kiosk.mistakes", "kiosk.resources", "kiosk.places",
          "kiosk.typed", "kiosk.words", "kiosk.owner", "kiosk.thread_name", "kiosk.loading",
          "kiosk.window_size"}  # fmt: skip
JOB = {"kiosk.job", "kiosk.hold", "kiosk.site", "kiosk.toml_lines", "kiosk.shop"}
SCREEN = {"kiosk.interlock.snapshot", "kiosk.interlock.commands", "kiosk.interlock.states",
          "kiosk.job.plan", "kiosk.records.review", "kiosk.records.rows", "kiosk.link"}  # fmt: skip

# part: what of ours it may import beside itself.  The longest matching name counts.
MAY_IMPORT: dict[str, set[str]] = {
    "kiosk.units": set(),
    "kiosk.limits": set(),
    "kiosk.mistakes": set(),
    "kiosk.typed": set(),
    "kiosk.thread_name": set(),
    "kiosk.loading": set(),
    "kiosk.window_size": set(),
    "kiosk.resources": set(),
    "kiosk.places": {"kiosk.mistakes"},
    "kiosk.words": {"kiosk.resources"},
    "kiosk.owner": {"kiosk.mistakes"},
    "kiosk.toml_lines": {"kiosk.mistakes"},
    "kiosk.site": LEAVES | {"kiosk.toml_lines"},
    "kiosk.hold": {"kiosk.units"},
    "kiosk.shop": LEAVES | {"kiosk.hold", "kiosk.toml_lines"},
    "kiosk.leaks": {"kiosk.mistakes", "kiosk.toml_lines"},
    "kiosk.measure": LEAVES
    | {"kiosk.hold", "kiosk.shop", "kiosk.site", "kiosk.toml_lines", "kiosk.leaks",
       "kiosk.interlock.delays"},
    "kiosk.job.plan": {"kiosk.typed"},
    "kiosk.job": LEAVES | JOB,
    "kiosk.interlock": {"kiosk.units", "kiosk.limits", "kiosk.typed"},
    "kiosk.records": LEAVES | {"kiosk.interlock", "kiosk.job.plan"},
    "kiosk.people": LEAVES,
    "kiosk.guard.planner_child": LEAVES | JOB | {"kiosk.leaks"},
    "kiosk.guard": LEAVES
    | {"kiosk.site", "kiosk.interlock", "hardware", "kiosk.records", "kiosk.job.plan",
       "kiosk.people"},
    "kiosk.wiring": LEAVES
    | {"kiosk.site", "kiosk.toml_lines", "kiosk.interlock.reading", "hardware"},
    "kiosk.link": LEAVES | {"kiosk.interlock.snapshot", "kiosk.interlock.commands",
                            "kiosk.job.plan"},
    "kiosk.screen": LEAVES | SCREEN,
    "kiosk.demo": LEAVES | SCREEN | {"kiosk.records"},
    "kiosk.cli": {"kiosk.loading", "kiosk.mistakes"},
    "kiosk.__main__": {"kiosk.cli"},
    "hardware.plant": set(),
    "hardware": {"kiosk.units", "kiosk.mistakes", "kiosk.interlock.reading", "kiosk.site"},
}  # fmt: skip

PURE = ("kiosk.hold", "kiosk.interlock", "kiosk.units", "kiosk.limits",
        "kiosk.job.plan")  # fmt: skip
IMPURE_MODULES = {"time", "socket", "threading", "logging", "os", "subprocess", "random",
                  "asyncio", "multiprocessing", "sqlite3", "pathlib", "kivy", "serial",
                  "pymodbus"}  # fmt: skip
HEAVY_FOR_SCREEN = {"numpy", "scipy", "shapely", "ezdxf", "pymodbus", "serial"}


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {
    module_name(path): path
    for folder in ("kiosk", "hardware")
    for path in sorted((ROOT / folder).rglob("*.py"))
}


def within(name: str, part: str) -> bool:
    return name == part or name.startswith(part + ".")


def imports_of(name: str) -> set[str]:
    """Every module that ``name`` imports, with ``from a import b`` told as a.b if that is one."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(MODULES[name].read_text())):
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name}: write imports in full"
            source = node.module or ""
            whole = {f"{source}.{alias.name}" for alias in node.names}
            found.update(w if w in MODULES else source for w in whole)
    return found


def part_of(name: str) -> str | None:
    matching = [part for part in MAY_IMPORT if within(name, part)]
    return max(matching, key=len, default=None)


def ours(names: set[str]) -> set[str]:
    return {n for n in names if within(n, "kiosk") or within(n, "hardware")}


@pytest.mark.parametrize("name", sorted(MODULES))
def test_a_module_imports_only_what_its_part_may(name: str) -> None:
    part = part_of(name)
    if part is None:
        assert name in {"kiosk", "kiosk.screen.views", "kiosk.screen.widgets"}, name
        return
    allowed = MAY_IMPORT[part] | {part}
    strangers = {n for n in ours(imports_of(name)) if not any(within(n, a) for a in allowed)}
    assert not strangers, f"{name} may not import {sorted(strangers)}"


@pytest.mark.parametrize("name", sorted(n for n in MODULES if any(within(n, p) for p in PURE)))
def test_a_pure_module_has_no_clock_file_socket_or_thread(name: str) -> None:
    roots = {n.split(".")[0] for n in imports_of(name)}
    assert not roots & IMPURE_MODULES
    opened = [
        node
        for node in ast.walk(ast.parse(MODULES[name].read_text()))
        if isinstance(node, ast.Name) and node.id in {"open", "print", "input"}
    ]
    assert not opened


@pytest.mark.parametrize("name", sorted(n for n in MODULES if within(n, "kiosk.interlock")))
def test_the_decision_needs_the_standard_library_only(name: str) -> None:
    foreign = {
        root
        for root in (n.split(".")[0] for n in imports_of(name))
        if root not in sys.stdlib_module_names and root not in {"kiosk", "__future__"}
    }
    assert not foreign


@pytest.mark.parametrize("name", sorted(n for n in MODULES if not within(n, "kiosk.screen")))
def test_only_the_screen_knows_kivy(name: str) -> None:
    assert "kivy" not in {n.split(".")[0] for n in imports_of(name)}


@pytest.mark.parametrize("name", sorted(n for n in MODULES if within(n, "kiosk.screen")))
def test_the_screen_stays_light(name: str) -> None:
    assert not HEAVY_FOR_SCREEN & {n.split(".")[0] for n in imports_of(name)}


@pytest.mark.parametrize("name", sorted(n for n in MODULES if within(n, "hardware.plant")))
def test_the_plant_knows_nothing_of_the_program(name: str) -> None:
    strangers = {n for n in ours(imports_of(name)) if not within(n, "hardware.plant")}
    assert not strangers - {"hardware"}


def test_nothing_but_the_command_table_names_guard_screen_or_plant() -> None:
    hidden = {"kiosk.guard", "kiosk.screen", "hardware.plant"}
    for name in MODULES:
        for target in ours(imports_of(name)):
            home = next((h for h in hidden if within(target, h)), None)
            assert home is None or within(name, home), f"{name} imports {target}"


def test_time_and_chance_come_in_as_arguments() -> None:
    """``time`` and ``random`` only in process mains, the guard, the plant and the link."""
    may = ("kiosk.guard", "hardware.plant", "kiosk.screen", "kiosk.demo", "kiosk.link",
           "kiosk.records.writer", "kiosk.records.commands", "kiosk.job.check",
           "hardware.catalog", "kiosk.wiring.main")  # fmt: skip
    for name in MODULES:
        roots = {n.split(".")[0] for n in imports_of(name)}
        assert not roots & {"time", "random"} or any(within(name, m) for m in may), name
