"""The simulated machine as a process, and a site file that leads to it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "contract"))

from plant_process import PlantProcess, until

HARDWARE = Path(__file__).resolve().parents[2] / "hardware"
DEMO = HARDWARE / "site" / "demo.site.toml"
STORY = HARDWARE / "plant" / "stories" / "demo.toml"


@pytest.fixture(scope="session")
def shared_plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PlantProcess]:
    folder = tmp_path_factory.mktemp("lines")
    story = folder / "quick.toml"
    text = STORY.read_text()
    assert "volume_l = 60.0" in text
    assert "coast_s = 3.0" in text
    quick = text.replace("volume_l = 60.0", "volume_l = 6.0").replace(
        "coast_s = 3.0", "coast_s = 1.0"
    )
    story.write_text(quick)  # draws down and comes to rest in a second
    with PlantProcess("--story", str(story), "--serial", str(folder)) as plant:
        yield plant


@pytest.fixture
def plant(shared_plant: PlantProcess) -> Iterator[PlantProcess]:
    def is_at_rest() -> bool:
        """Still, and what the test before closed is open again, by the module's watch at last."""
        status = shared_plant.do("status")
        return status["inputs"]["standstill"] and not any(status["coils"].values())

    until(is_at_rest, 8.0, "the machine at rest")
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
