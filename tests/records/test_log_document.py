"""docs/log.md tells every table, column, command, option and kind of event that there is."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import log_story as story
import pytest

from kiosk.cli import main

DOCUMENT = (Path(__file__).resolve().parents[2] / "docs" / "log.md").read_text()
COMMANDS = ("list", "show", "export", "verify")


def rows_told() -> dict[str, set[str]]:
    """Columns by table, as the document's table has them."""
    lines = re.findall(r"^\| `(\w+)` \| [^|]+ \| ([^|]+) \|$", DOCUMENT, flags=re.M)
    return {name: set(re.findall(r"`(\w+)`", columns)) for name, columns in lines}


def rows_made(path: Path) -> dict[str, set[str]]:
    story.write(path, [])
    sql = """SELECT t.name, c.name FROM pragma_table_list t, pragma_table_info(t.name) c
             WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT LIKE 'sqlite_%'"""
    made: dict[str, set[str]] = {}
    with closing(sqlite3.connect(path)) as db:
        for table, column in db.execute(sql):
            made.setdefault(table, set()).add(column)
    return made


def test_every_table_and_column_is_told_and_no_other(tmp_path: Path) -> None:
    assert rows_told() == rows_made(tmp_path / "log.db")


def options(capsys: pytest.CaptureFixture[str]) -> Iterator[tuple[str, str]]:
    for command in COMMANDS:
        with pytest.raises(SystemExit):
            main(["log", command, "--help"])
        for option in re.findall(r"--[a-z]+", capsys.readouterr().out):
            yield command, option


def test_every_command_and_option_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    missing = [
        (command, option)
        for command, option in options(capsys)
        if f"`holdpoint log {command}" not in DOCUMENT
        or (option not in DOCUMENT and option != "--help")
    ]
    assert missing == []


def test_every_kind_of_event_is_told() -> None:
    kinds = re.findall(
        r"^    (\w+) {2,}\S",
        (Path(__file__).resolve().parents[2] / "kiosk/interlock/decision.py").read_text(),
        flags=re.M,
    )
    assert len(kinds) > 5
    assert [kind for kind in kinds if kind != "kind" and f"`{kind}`" not in DOCUMENT] == []
