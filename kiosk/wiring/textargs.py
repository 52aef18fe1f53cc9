r"""The options that say how a gauge on a serial line writes, and how it is asked.

Control characters are typed as in Python and TOML: ``\r``, ``\n``, ``\t``, ``\\`` or ``\x05``.
"""

from __future__ import annotations

import argparse
import re

from kiosk.mistakes import BadInput, Mistake
from kiosk.site import TextForm
from kiosk.site.textform import line_rule
from kiosk.units import KPA_PER

_ESCAPE = re.compile(r"\\(x[0-9A-Fa-f]{2}|.?)")
_PLAIN = {"r": "\r", "n": "\n", "t": "\t", "\\": "\\"}
_MOST = {"request": 60, "request_end": 4, "pattern": 60, "line_end": 4}


def text_arguments(group: argparse._ArgumentGroup) -> None:
    """Add them."""
    group.add_argument("--request", metavar="TEXT",
                       help="asks the gauge for a line (default: it sends by itself)")  # fmt: skip
    group.add_argument("--request-end", metavar="TEXT",
                       help=r"what ends the request: '\r', '\n', '\r\n' or ''")  # fmt: skip
    group.add_argument("--pattern", metavar="TEXT",
                       help="the line with # for the number, as in 'P= # kPa' "
                       "(default: the number, its unit after it or not)")  # fmt: skip
    group.add_argument("--line-end", metavar="TEXT",
                       help=r"what ends a line (default: '\r', '\n' or both)")  # fmt: skip


def form_of(args: argparse.Namespace) -> TextForm | None:
    """What the options say; None when none of them was given.

    Raises ``BadInput``, naming the option.
    """
    given = {
        key: _marks(key, getattr(args, key)) for key in _MOST if getattr(args, key) is not None
    }
    if not given:
        return None
    if ("request" in given) != ("request_end" in given):
        raise _bad("request", r"goes with --request-end '\r', '\n', '\r\n' or '': give both")
    form = TextForm(**given)
    pattern = form.pattern or ""
    named = [word for word in re.findall("[A-Za-z]+", pattern) if word in KPA_PER]
    try:
        line_rule(form, named[0] if named else "kPa")
    except ValueError as wrong:
        raise _bad("pattern", f'"{pattern}": {wrong}') from None
    return form


def _marks(key: str, typed: str) -> str:
    text = _ESCAPE.sub(lambda found: _escaped(key, found[1]), typed)
    least = 0 if key == "request_end" else 1
    if not (text.isascii() and least <= len(text) <= _MOST[key]):
        raise _bad(key, f"write {least} to {_MOST[key]} ASCII characters")
    return text


def _escaped(key: str, typed: str) -> str:
    if typed[:1] == "x" and len(typed) == 3:
        return chr(int(typed[1:], 16))
    if typed not in _PLAIN:
        raise _bad(key, rf"\{typed} is none of \r, \n, \t, \\ and \x05")
    return _PLAIN[typed]


def _bad(key: str, text: str) -> BadInput:
    return BadInput([Mistake(f"--{key.replace('_', '-')}", None, text)])
