"""The line on which every key and array element of a TOML text stands.

The standard library reads TOML but keeps no lines.  This scanner reads a text that ``tomllib``
has already accepted, so it need not judge it: it only follows TOML 1.0 closely enough to know
where keys, strings, arrays and inline tables begin and end.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass

Where = tuple[str | int, ...]  # ("tool", 0, "diameter_mm")

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_COMMENT = re.compile(r"#([^\n]*)")
_SPACE = re.compile(r"[ \t]*")
_SCALAR = re.compile(r"[^,\]}\r\n#]*")
_QUOTES = ('"""', "'''", '"', "'")


@dataclass(frozen=True, slots=True)
class Comment:
    """A comment without its ``#``, on a line from 1; ``alone``: nothing else is on that line."""

    line: int
    text: str
    alone: bool


class _Scanner:
    """Walks one text once and fills ``lines`` and ``comments``."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[Where, int] = {}
        self.comments: list[Comment] = []
        self.rows: dict[Where, int] = {}  # array of tables: path -> index of its last row

    def skip(self, pattern: re.Pattern[str]) -> None:
        """Past what ``pattern`` matches here, counting lines."""
        match = pattern.match(self.text, self.at)
        assert match is not None
        if "#" in match.group():
            self.keep_comments(match.end())
        self.to(match.end())

    def keep_comments(self, end: int) -> None:
        """Those between here and ``end``, where there is nothing but blanks and comments."""
        for found in _COMMENT.finditer(self.text, self.at, end):
            line = self.line + self.text.count("\n", self.at, found.start())
            begin = self.text.rfind("\n", 0, found.start()) + 1
            alone = not self.text[begin : found.start()].strip()
            self.comments.append(Comment(line, found[1].strip(), alone))

    def to(self, end: int) -> None:
        self.line += self.text.count("\n", self.at, end)
        self.at = end

    def starts(self, mark: str) -> bool:
        return self.text.startswith(mark, self.at)

    def string(self) -> str:
        """The quoted string here, as written, without its quotes."""
        quote = next(q for q in _QUOTES if self.starts(q))
        begin = end = self.at + len(quote)
        while not self.text.startswith(quote, end):
            end += 2 if quote[0] == '"' and self.text[end] == "\\" else 1
        while len(quote) == 3 and self.text.startswith(quote[0], end + 3):
            end += 1  # up to two quotes may stand before the closing three
        self.to(end + len(quote))
        return self.text[begin:end]

    def key(self) -> tuple[str, ...]:
        """A dotted key, from its first letter to just after its last."""
        parts: list[str] = []
        while True:
            self.skip(_SPACE)
            if self.starts('"') or self.starts("'"):
                parts.append(_unquoted(self.text[self.at], self.string()))
            else:
                match = _BARE.match(self.text, self.at)
                assert match is not None
                parts.append(match.group())
                self.to(match.end())
            self.skip(_SPACE)
            if not self.starts("."):
                return tuple(parts)
            self.to(self.at + 1)

    def note(self, path: Where, line: int) -> None:
        for end in range(1, len(path) + 1):
            self.lines.setdefault(path[:end], line)

    def value(self, path: Where) -> None:
        """Past one value; notes the lines of what is inside it."""
        if self.text[self.at] in "\"'":
            self.string()
        elif self.starts("["):
            self.array(path)
        elif self.starts("{"):
            self.inline_table(path)
        else:
            self.skip(_SCALAR)

    def array(self, path: Where) -> None:
        self.to(self.at + 1)
        index = 0
        self.skip(_BLANK)
        while not self.starts("]"):
            self.note((*path, index), self.line)
            self.value((*path, index))
            self.skip(_BLANK)
            if self.starts(","):
                self.to(self.at + 1)
            self.skip(_BLANK)
            index += 1
        self.to(self.at + 1)

    def inline_table(self, path: Where) -> None:
        self.to(self.at + 1)
        self.skip(_BLANK)
        while not self.starts("}"):
            self.pair(path)
            self.skip(_BLANK)
            if self.starts(","):
                self.to(self.at + 1)
            self.skip(_BLANK)
        self.to(self.at + 1)

    def pair(self, table: Where) -> None:
        line = self.line
        path = (*table, *self.key())
        self.note(path, line)
        self.to(self.at + 1)  # the equals sign
        self.skip(_SPACE)
        self.value(path)

    def header(self) -> Where:
        """A ``[table]`` or ``[[row]]`` line; the path that keys below it belong to."""
        line, depth = self.line, 2 if self.starts("[[") else 1
        self.to(self.at + depth)
        names = self.key()
        self.to(self.at + depth)
        path: Where = ()
        for name in names[:-1]:
            path = self.into_row((*path, name))
        path = (*path, names[-1])
        if depth == 2:
            self.note(path, line)
            self.rows[path] = self.rows.get(path, -1) + 1
            path = (*path, self.rows[path])
        self.lines[path] = line
        self.note(path, line)
        return path

    def into_row(self, path: Where) -> Where:
        return (*path, self.rows[path]) if path in self.rows else path

    def run(self) -> None:
        table: Where = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.starts("["):
                table = self.header()
            else:
                self.pair(table)
            self.skip(_BLANK)


def _unquoted(quote: str, body: str) -> str:
    """The key that a quoted key stands for: TOML's own escapes, read by the TOML library."""
    if quote == "'" or "\\" not in body:
        return body
    return str(tomllib.loads(f'key = "{body}"')["key"])


def lines_of(text: str) -> dict[Where, int]:
    """Lines, from 1, of every table, key and array element in a valid TOML text."""
    scanner = _Scanner(text)
    scanner.run()
    return scanner.lines


def comments_of(text: str) -> list[Comment]:
    """Every comment of a valid TOML text, in order."""
    scanner = _Scanner(text)
    scanner.run()
    return scanner.comments
