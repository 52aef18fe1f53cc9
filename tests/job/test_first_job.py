"""The page for a first own job: its files, put down as it says, give the answer that it prints."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from kiosk import cli
from tests.job.jobs import ROOT

PAGE = (ROOT / "docs" / "first-job.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)


def put_down(folder: Path) -> None:
    """Each file of the page under the name that stands before it in the text."""
    for name in ("first.site.toml", "first.nc", "first.job.toml"):
        at = PAGE.index(f"`{name}`")
        found = BLOCK.search(PAGE, at)
        assert found is not None
        (folder / name).write_text(found[2], encoding="utf-8")


def commands() -> list[list[str]]:
    lines = [text for kind, text in BLOCK.findall(PAGE) if kind == "sh"]
    return [shlex.split(line)[1:] for line in lines]


def test_the_commands_of_the_page_give_what_it_prints(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    put_down(tmp_path)
    monkeypatch.chdir(tmp_path)
    check, sheet = commands()
    assert cli.main(check) == 0
    told = capsys.readouterr().out
    assert told.startswith("HOLDS: LID-1 Box lid\n")
    assert BLOCK.findall(PAGE)[-2][1] in told  # the lines that the page shows
    assert cli.main(sheet) == 0
    assert (tmp_path / "first.pdf").read_bytes().startswith(b"%PDF-")
