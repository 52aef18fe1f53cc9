"""TOML files that people write, read so that every mistake is told with its line.

``read_toml`` gives the values and the line of every key; ``Table`` takes a table apart, key by
key, and collects mistakes instead of stopping at the first.
"""

from __future__ import annotations

from kiosk.toml_lines.lines import Comment, Where, comments_of, lines_of
from kiosk.toml_lines.source import TomlFile, bad_file, read_toml, toml_from
from kiosk.toml_lines.table import Table

__all__ = [
    "Comment",
    "Table",
    "TomlFile",
    "Where",
    "bad_file",
    "comments_of",
    "lines_of",
    "read_toml",
    "toml_from",
]
