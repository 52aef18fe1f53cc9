"""What a person can get wrong when starting the guard: one clear line, exit 2, no traceback."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from whole_rig import holdpoint

from kiosk.demo import folder

NOWHERE = {
    "gauge": "modbus-tcp://127.0.0.1:9?unit=1",
    "io": "modbus-tcp://127.0.0.1:9?unit=1",
}


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return folder.fill(tmp_path, NOWHERE)


def refused(*words: str) -> str:
    done = holdpoint("guard", *words)
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    return done.stderr


def test_a_site_file_that_is_not_there(tmp_path: Path) -> None:
    gone = str(tmp_path / "gone.site.toml")
    assert "gone.site.toml: there is no such file" in refused(
        "--site", gone, "--data", str(tmp_path)
    )


def test_a_site_without_a_gauge(site: Path, tmp_path: Path) -> None:
    text = site.read_text()
    site.write_text(re.sub(r"\[\[gauge\]\].*?(?=\n\[)", "", text, flags=re.S))
    assert "add a [[gauge]] table" in refused("--site", str(site), "--data", str(tmp_path))


def test_a_data_folder_that_is_a_file_or_cannot_be_made(site: Path) -> None:
    for data in (str(site), "/proc/none"):
        words = refused("--site", str(site), "--data", data)
        assert data in words
        assert "give --data another folder" in words


def test_a_gauge_address_that_is_none_of_the_known_kinds(site: Path, tmp_path: Path) -> None:
    text = site.read_text().replace(NOWHERE["gauge"], "gopher://127.0.0.1:70", 1)
    site.write_text(text)
    words = refused("--site", str(site), "--data", str(tmp_path))
    assert re.match(r"demo\.site\.toml:\d+: .*modbus-tcp://", words)
