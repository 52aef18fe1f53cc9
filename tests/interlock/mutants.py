"""Break the decision in every way of a list, one at a time: the quick tests must notice each.

    python tests/interlock/mutants.py [--module NAME ...] [--share K/N] [--jobs 2] [--witness]

Not part of the test run.  Every comparison, "and"/"or", "not", condition, number, truth value,
sum and bare call in ``kiosk/interlock`` is changed on its own in memory, and the tests of this
folder are run in a forked process until one fails.  Works on a copy, so that files may be edited
meanwhile; after every hundred the unchanged tests must still pass, or nothing can be said.  A
mutant that no test notices is printed with its line and counted; the exit status is 1 when there
is one.  ``--witness`` runs the test with hypothesis too.  Code that only describes (annotations,
decorators, words) is left alone.  A mutant that changes nothing observable survives rightly: judge
each.
"""

from __future__ import annotations

import argparse
import ast
import gc
import importlib.abc
import importlib.machinery
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
PACKAGE = ROOT / "kiosk" / "interlock"
SCRATCH = tempfile.TemporaryDirectory(prefix="mutants-")
COPY = Path(SCRATCH.name).resolve()
# Types only: nothing is decided in them.
LEFT_OUT = {"__init__", "commands", "decision", "facts", "reading", "states", "snapshot", "codes"}
# Where a mutant of a module is most likely noticed; then everything else.
NEAR = {
    "window": ["window"], "timer": ["window"], "delays": ["window", "limits"],
    "watch": ["limits", "two_gauges"], "measure": ["two_gauges", "limits"], "table": ["table"],
    "alarms": ["alarms"], "judge": ["commands"], "forbids": ["commands"],
    "planning": ["commands"], "permissives": ["permissives"], "publish": ["step"],
}  # fmt: skip
ORDER = ("table", "main_path", "docs", "window", "two_gauges", "permissives", "commands", "stories",
         "alarms", "step", "limits")  # fmt: skip
MUTANT_LIMIT_S = 240

COMPARES: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}


@dataclass(frozen=True)
class Mutant:
    """One change: of which module, at which line, in words, and the changed source."""

    module: str
    line: int
    words: str
    source: str


def changes(node: ast.AST) -> Iterator[ast.AST]:  # noqa: PLR0912 (one case for a kind of node)
    """Every changed form of one node."""
    match node:
        case ast.Compare(left, [op], [right]):
            for other in COMPARES[type(op)]:
                yield ast.Compare(left, [other()], [right])
        case ast.Compare(left, ops, rights):
            for number, op in enumerate(ops):
                for other in COMPARES[type(op)]:
                    yield ast.Compare(left, [*ops[:number], other(), *ops[number + 1 :]], rights)
        case ast.BoolOp(op, values):
            yield ast.BoolOp(ast.Or() if isinstance(op, ast.And) else ast.And(), values)
            for number in range(len(values)):
                rest = values[:number] + values[number + 1 :]
                yield rest[0] if len(rest) == 1 else ast.BoolOp(op, rest)
        case ast.UnaryOp(ast.Not(), operand):
            yield operand
        case ast.UnaryOp(ast.USub(), operand):
            yield operand
        case ast.Constant(bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(int() as value):
            yield ast.Constant(value + 1)
        case ast.Constant(float() as value):
            yield ast.Constant(value * 1.5 + 0.125)
        case ast.BinOp(left, op, right) if type(op) in ARITHMETIC:
            yield ast.BinOp(left, ARITHMETIC[type(op)](), right)
        case ast.IfExp(test, body, orelse):
            yield ast.IfExp(ast.UnaryOp(ast.Not(), test), body, orelse)
        case ast.If(test, body, orelse):
            yield ast.If(ast.UnaryOp(ast.Not(), test), body, orelse)
        case ast.Expr(ast.Call()):
            yield ast.Pass()


def sites(tree: ast.Module) -> list[tuple[ast.AST, str, int | None]]:
    """Parent, field and index of every node that may be changed."""
    found: list[tuple[ast.AST, str, int | None]] = []

    def visit(node: ast.AST) -> None:
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "decorator_list", "type_comment"):
                continue
            items = value if isinstance(value, list) else [value]
            for number, item in enumerate(items):
                if isinstance(item, ast.AST) and not is_type_check(item):
                    found.append((node, name, number if isinstance(value, list) else None))
                    visit(item)

    visit(tree)
    return found


def is_type_check(node: ast.AST) -> bool:
    """Imports for annotations, and slots of dataclasses: nothing that runs."""
    return isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING"


def put(parent: ast.AST, name: str, number: int | None, node: ast.AST) -> ast.AST:
    """Put a node into its place; returns what was there."""
    if number is None:
        before = getattr(parent, name)
        setattr(parent, name, node)
        return before
    row = getattr(parent, name)
    before, row[number] = row[number], node
    return before


def mutants_of(module: str) -> Iterator[Mutant]:
    """Every mutant of one module."""
    tree = ast.parse((PACKAGE / f"{module}.py").read_text(encoding="utf-8"))
    for parent, name, number in sites(tree):
        value = getattr(parent, name)
        node = value if number is None else value[number]
        for changed in changes(node):
            before = put(parent, name, number, ast.copy_location(changed, node))
            source = ast.unparse(tree)
            put(parent, name, number, before)
            yield Mutant(module, node.lineno, f"{first(node)}  ->  {first(changed)}", source)


def first(node: ast.AST) -> str:
    """The first line of a node as code."""
    return ast.unparse(node).splitlines()[0][:90]


class Hand(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Hands out one changed module in the place of the file's."""

    def __init__(self, mutant: Mutant) -> None:
        self.name = f"kiosk.interlock.{mutant.module}"
        self.code = compile(mutant.source, f"<mutant of {mutant.module}>", "exec")

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        return importlib.machinery.ModuleSpec(fullname, self) if fullname == self.name else None

    def exec_module(self, module: ModuleType) -> None:
        exec(self.code, module.__dict__)


def run_tests(mutant: Mutant | None, witness: bool) -> int:
    """The exit status of the tests in this process, quietly."""
    import pytest

    if mutant is not None:
        sys.meta_path.insert(0, Hand(mutant))
    near = NEAR.get(mutant.module, ["stories"]) if mutant is not None else []
    rest = [name for name in ORDER if name not in near]
    for names in (near, rest, ["machine"] if witness else []):
        files = [str(COPY / f"tests/interlock/test_{name}.py") for name in names]
        if files and (status := int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", *files]))):
            return status
    return 0


def fork(mutant: Mutant | None, witness: bool) -> int:
    """Start the tests in a child; returns its process id.  Its status: 0 nobody noticed."""
    pid = os.fork()
    if pid:
        return pid
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    signal.alarm(MUTANT_LIMIT_S)  # a mutant that never ends is noticed too
    try:
        os._exit(run_tests(mutant, witness))
    except BaseException:
        os._exit(9)


def take_copy() -> None:
    """What the tests need, in a folder of its own."""
    for name in ("kiosk", "tests/interlock", "docs"):
        shutil.copytree(ROOT / name, COPY / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", COPY)
    os.chdir(COPY)


def warm_up() -> None:
    """Import everything heavy once, so that each child starts at once; nothing of ours."""
    import hypothesis.stateful  # noqa: F401
    import numpy as np  # noqa: F401
    import pytest  # noqa: F401
    import scipy.stats  # noqa: F401

    sys.dont_write_bytecode = True
    sys.path[:] = [
        str(COPY),
        *(p for p in sys.path if Path(p or ".").resolve() not in (ROOT, HERE)),
    ]
    assert not any(name.startswith("kiosk.interlock") for name in sys.modules)


def must_pass(witness: bool) -> None:
    """Leave when the tests fail without any change: then nothing can be said of a mutant."""
    child = fork(None, witness)
    if os.waitpid(child, 0)[1] != 0:
        sys.exit("the tests fail without any change: nothing can be said")


def survivors(mutants: list[Mutant], jobs: int, witness: bool) -> list[Mutant]:
    """Run them all, a few at a time; those that no test noticed."""
    running: dict[int, Mutant] = {}
    lived: list[Mutant] = []
    waiting = list(reversed(mutants))
    done = 0
    while waiting or running:
        while waiting and len(running) < jobs:
            mutant = waiting.pop()
            running[fork(mutant, witness)] = mutant
        pid, status = os.wait()
        mutant = running.pop(pid)
        done += 1
        if status == 0:
            lived.append(mutant)
            print(f"LIVES  {mutant.module}.py:{mutant.line}  {mutant.words}", flush=True)
        if done % 100 == 0:
            must_pass(witness)
            print(f"{done} of {len(mutants)}, {len(lived)} live", flush=True)
    return lived


def main() -> int:
    """Run the mutants that were asked for; 1 when one lives."""
    modules = sorted(p.stem for p in PACKAGE.glob("*.py") if p.stem not in LEFT_OUT)
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--module", nargs="*", default=modules, choices=modules)
    parser.add_argument("--share", default="1/1", help="K/N: every Nth mutant from the Kth on")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--witness", action="store_true")
    args = parser.parse_args()
    take_copy()
    warm_up()
    must_pass(args.witness)
    start, step = (int(word) for word in args.share.split("/"))
    mutants = [m for module in args.module for m in mutants_of(module)][start - 1 :: step]
    gc.freeze()  # so that children share what is here
    began_s = time.monotonic()
    lived = survivors(mutants, args.jobs, args.witness)
    minutes = (time.monotonic() - began_s) / 60.0
    must_pass(args.witness)
    print(f"{len(mutants)} mutants, {len(lived)} live, {minutes:.1f} min")
    return 1 if lived else 0


if __name__ == "__main__":
    sys.exit(main())
