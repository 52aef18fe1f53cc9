"""The shape of the checkout and the promises of its front page."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "kiosk", "hardware", "tests", "assets",
             "docs"}  # fmt: skip


def tracked() -> list[str]:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    return listed.stdout.splitlines()


def test_the_top_level_holds_what_it_should_and_no_more() -> None:
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


def test_the_screen_and_modbus_libraries_are_pinned_exactly() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert "pymodbus==3.16.1" in project["dependencies"]
    assert project["optional-dependencies"]["screen"] == ["kivy==2.3.1"]
    assert not [d for d in project["dependencies"] if d.startswith("kivy")]


def documents() -> list[Path]:
    return [ROOT / n for n in tracked() if n.endswith(".md")]


@pytest.mark.parametrize("document", documents(), ids=lambda p: str(p.relative_to(ROOT)))
def test_every_link_in_a_document_leads_somewhere(document: Path) -> None:
    text = re.sub(r"```.*?```", "", document.read_text(), flags=re.S)
    targets = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text)
    missing = [
        t for t in targets if "://" not in t and not (document.parent / t).resolve().exists()
    ]
    assert not missing


FORBIDDEN = (
    r"safety device",
    r"\blocked out\b",
    r"\bisolated\b",
    r"\bis safe\b",
    r"\bguaranteed\b",
)


def test_no_word_on_screen_claims_what_the_program_cannot_know() -> None:
    """The catalogue may say "not a safety device" and nothing nearer to it."""
    words = (ROOT / "assets/locale/en.toml").read_text()
    plain = re.sub(r"(?i)not a safety device", "", words)
    assert [p for p in FORBIDDEN if re.search(p, plain, flags=re.I)] == []
