"""Dataclasses of the decision to JSON values and back, exactly: for the facts kept with a cycle.

Unlike ``kiosk.typed`` it trusts what it reads (it lies in the log's chain), and it knows sets,
mappings, and unions of dataclasses, which carry their name.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")
KIND = "!"  # key of a dataclass's name


def frozen(value: Any) -> Any:
    """A value as JSON has it.  NaN and infinity stay, as Python's own reader knows them."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value):
        row = {field.name: frozen(getattr(value, field.name)) for field in fields(value)}
        return {KIND: type(value).__name__, **row}
    if isinstance(value, Mapping):
        return {str(key): frozen(item) for key, item in value.items()}
    if isinstance(value, frozenset | set):
        return sorted((frozen(item) for item in value), key=str)
    if isinstance(value, list | tuple):
        return [frozen(item) for item in value]
    return value


def thawed(kind: type[T], value: Any) -> T:
    """The value of a declared type.  Raises ValueError, KeyError or TypeError when it is not."""
    read: Callable[[Any], T] = _reader(kind)  # type: ignore[arg-type]
    return read(value)


@cache
def _reader(kind: Any) -> Callable[[Any], Any]:
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return _union(inner)
    if origin in (tuple, frozenset):
        return _items(origin, inner)
    if origin is not None and issubclass(origin, Mapping):
        read = _reader(inner[1])
        return lambda value: {key: read(item) for key, item in value.items()}
    if is_dataclass(kind):
        return _row(kind)
    if isinstance(kind, type) and issubclass(kind, Enum):
        made: Callable[[Any], Any] = kind
        return made
    return float if kind is float else lambda value: value


def _union(inner: tuple[Any, ...]) -> Callable[[Any], Any]:
    kinds = [kind for kind in inner if kind is not type(None)]
    if len(kinds) == 1:
        read = _reader(kinds[0])
        return lambda value: None if value is None else read(value)
    by_name: dict[str, Any] = {kind.__name__: kind for kind in kinds}

    def read_one(value: Any) -> Any:
        return _reader(by_name[value[KIND]])(value) if isinstance(value, dict) else value

    return read_one


def _items(origin: Any, inner: tuple[Any, ...]) -> Callable[[Any], Any]:
    if origin is tuple and (len(inner) != 2 or inner[1] is not Ellipsis):
        readers = [_reader(kind) for kind in inner]
        return lambda value: tuple(read(item) for read, item in zip(readers, value, strict=True))
    read = _reader(inner[0])
    return lambda value: origin(read(item) for item in value)


def _row(kind: Any) -> Callable[[Any], Any]:
    hints = get_type_hints(kind)

    def read(value: Any) -> Any:
        row = {key: item for key, item in value.items() if key != KIND}
        return kind(**{key: _reader(hints[key])(item) for key, item in row.items()})

    return read
