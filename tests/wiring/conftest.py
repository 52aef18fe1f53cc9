"""The simulated machine as a process, and a site file that leads to it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "contract"))

from plant_process import PlantProcess

DEMO = Path(__file__).resolve().parents[2] / "hardware" / "site" / "demo.site.toml"


@pytest.fixture(scope="session")
def shared_plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PlantProcess]:
    with PlantProcess("--serial", str(tmp_path_factory.mktemp("lines"))) as plant:
        yield plant


@pytest.fixture
def plant(shared_plant: PlantProcess) -> Iterator[PlantProcess]:
    yield shared_plant
    shared_plant.clear_faults()
    for verb in ("cycle_end", "release"):
        shared_plant.do(verb, force=True)


@pytest.fixture
def site_file(plant: PlantProcess, tmp_path: Path) -> Path:
    text = DEMO.read_text()
    text = text.replace("modbus-tcp://127.0.0.1:15020?unit=1", plant.ready["gauge"])
    text = text.replace("modbus-tcp://127.0.0.1:15021?unit=1", plant.ready["io"])
    path = tmp_path / "bench.site.toml"
    path.write_text(text)
    return path
