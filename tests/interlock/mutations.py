"""Every way of the list in which one module of the decision can be broken, as changed source."""

from __future__ import annotations

import ast
import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from workcopy import COPY

PACKAGE = COPY / "kiosk" / "interlock"

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
    """One change: of which module, at which lines, in words, and the changed source.

    ``number`` counts those of the module that have the same words.
    """

    module: str
    line: int
    last: int
    words: str
    number: int
    source: str

    @property
    def name(self) -> str:
        """Where it is and what is changed, for a person."""
        return f"{self.module}.py:{self.line}  {self.words}"

    @property
    def mark(self) -> str:
        """A short name that stays when lines move."""
        whole = f"{self.module}\n{self.words}\n{self.number}"
        return hashlib.sha256(whole.encode()).hexdigest()[:10]


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
    met: Counter[str] = Counter()
    for parent, name, number in sites(tree):
        value = getattr(parent, name)
        node = value if number is None else value[number]
        for changed in changes(node):
            before = put(parent, name, number, ast.copy_location(changed, node))
            source = ast.unparse(tree)
            put(parent, name, number, before)
            words = f"{first(node)}  ->  {first(changed)}"
            last = node.end_lineno or node.lineno
            yield Mutant(module, node.lineno, last, words, met[words], source)
            met[words] += 1


def first(node: ast.AST) -> str:
    """The first line of a node as code."""
    return ast.unparse(node).splitlines()[0][:90]
