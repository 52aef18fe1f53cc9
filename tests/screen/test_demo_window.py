"""The size that the demo is given goes to its screen."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from kiosk.demo import console
from kiosk.demo.main import _with_screen


class Started:
    """Stands for the demo's processes: keeps with which words each was started."""

    def __init__(self) -> None:
        self.words: dict[str, tuple[str, ...]] = {}

    def start(self, name: str, *words: str, log: Path) -> Any:
        self.words[name] = words
        return SimpleNamespace(returncode=0)

    def gone(self) -> str:
        return "screen"


def test_the_screen_of_the_demo_is_as_large_as_asked_for(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(console, "run", lambda _console, gone: gone())
    children = Started()
    status = _with_screen(children, tmp_path, (1024, 600), None)  # type: ignore[arg-type]
    assert status == 0
    words = children.words["screen"]
    assert words[words.index("--window") + 1] == "1024x600"
    assert words[words.index("--data") + 1] == str(tmp_path)
