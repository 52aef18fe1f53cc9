"""JSON into frozen dataclasses, every value checked against its declared type.

What comes over a socket or out of a log is not ours until it was looked at: a text where a number
belongs would be met much later, by something that draws or decides.
"""

from __future__ import annotations

import json
import math
import types
from collections.abc import Callable
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

T = TypeVar("T")
_Read = Callable[[Any], Any]
_READERS: dict[Any, _Read] = {}


def parsed(text: str | bytes) -> Any:
    """The JSON value of a text.  Raises ValueError; for text nested too deep, and for NaN and
    infinity, which are no JSON (RFC 8259, section 6), as well."""
    try:
        return json.loads(text, parse_constant=_finite, parse_float=_finite)
    except RecursionError:
        raise ValueError("nested too deep") from None


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text[:40]} is no number")
    return value


def typed(kind: type[T], value: object) -> T:
    """A ``kind`` made of a JSON object.  Raises ValueError when anything is not as declared.

    Lists become tuples, whole numbers become floats where floats are declared; NaN and infinity
    are no numbers.  A field with a default may be missing; none may be unknown.
    """
    made: T = _reader(kind)(value)
    return made


def _reader(kind: Any) -> _Read:
    """What reads a value of this type, made once."""
    if kind not in _READERS:
        _READERS[kind] = _made(kind)
    return _READERS[kind]


def _made(kind: Any) -> _Read:
    origin, inner = get_origin(kind), get_args(kind)
    if kind is Any:
        return lambda value: value
    if origin in (Union, types.UnionType):
        return _optional(inner)
    if origin is tuple:
        return _tuple(inner)
    if origin is dict:
        return _mapping(inner[1])
    if is_dataclass(kind):
        return _row(kind)
    return _enum(kind) if issubclass(kind, Enum) else _SIMPLE[kind]


def _exactly(kind: type) -> _Read:
    def read(value: Any) -> Any:
        if type(value) is not kind:
            raise ValueError(f"{str(value)[:40]!r} is no {kind.__name__}")
        return value

    return read


def _float(value: Any) -> float:
    if type(value) is float and math.isfinite(value):
        return value
    if type(value) is not int or abs(value) > 2**53:
        raise ValueError(f"{str(value)[:40]!r} is no number")
    return float(value)


def _int(value: Any) -> int:
    """A whole number that a double holds exactly: RFC 8259, section 6."""
    if type(value) is not int or abs(value) > 2**53:
        raise ValueError("no whole number")
    return value


_SIMPLE: dict[Any, _Read] = {bool: _exactly(bool), str: _exactly(str), int: _int, float: _float}


def _enum(kind: Any) -> _Read:
    def read(value: Any) -> Any:
        return kind(_exactly(str)(value))

    return read


def _optional(inner: tuple[Any, ...]) -> _Read:
    (some,) = (kind for kind in inner if kind is not type(None))
    read_some = _reader(some)
    return lambda value: None if value is None else read_some(value)


def _tuple(inner: tuple[Any, ...]) -> _Read:
    many = len(inner) == 2 and inner[1] is Ellipsis
    readers = tuple(map(_reader, inner[:1] if many else inner))

    def read(value: Any) -> tuple[Any, ...]:
        items = _exactly(list)(value)
        if many:
            return tuple(map(readers[0], items))
        return tuple(one(item) for one, item in zip(readers, items, strict=True))

    return read


def _mapping(inner: Any) -> _Read:
    read_value = _reader(inner)

    def read(value: Any) -> dict[str, Any]:
        return {key: read_value(item) for key, item in _exactly(dict)(value).items()}

    return read


def _row(kind: Any) -> _Read:
    hints = get_type_hints(kind)
    readers = {field.name: _reader(hints[field.name]) for field in fields(kind)}
    needed = {f.name for f in fields(kind) if f.default is MISSING and f.default_factory is MISSING}

    def read(value: Any) -> Any:
        row = _exactly(dict)(value)
        if not needed <= row.keys() <= readers.keys():
            odd = sorted(needed - row.keys() or row.keys() - readers.keys())[0]
            raise ValueError(f"{kind.__name__}: {odd[:40]!r} is missing or unknown")
        return kind(**{key: readers[key](item) for key, item in row.items()})

    return read
