"""The demo's data folder: the demo site with the plant's real addresses, and the demo jobs."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from kiosk import places
from kiosk.resources import asset

SITE_NAME = "demo.site.toml"
_ADDRESS = re.compile(r'"modbus-tcp://127\.0\.0\.1:(1502[01])\?unit=1"')
_PORT_OF = {"15020": "gauge", "15021": "io"}  # the demo site's two ports


def data_folder(option: str | None) -> Path:
    """The folder of ``--data``, else a fresh one below the system's temporary folder."""
    return places.data_dir(option or tempfile.mkdtemp(prefix="holdpoint-demo-"))


def fill(data: Path, addresses: Mapping[str, str]) -> Path:
    """Put site and jobs into the folder; the site file's path.

    addresses  ``gauge`` and ``io``, as the plant said them when it was ready
    """
    shipped = Path(__file__).resolve().parents[2] / "hardware" / "site" / SITE_NAME
    text = shipped.read_text(encoding="utf-8")
    site = data / SITE_NAME
    site.write_text(
        _ADDRESS.sub(lambda found: f'"{addresses[_PORT_OF[found[1]]]}"', text), encoding="utf-8"
    )
    shutil.copytree(asset("jobs"), places.jobs_dir(data, None), dirs_exist_ok=True)
    return site
