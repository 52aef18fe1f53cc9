"""One rig for each test, ended with it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from whole_rig import Rig


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    made = Rig(tmp_path)
    yield made
    made.close()
