"""Files that people write or machines export, damaged: read, or refused in words on one line."""

from __future__ import annotations

import datetime
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from kiosk.job.drawing import read_drawing
from kiosk.job.gcode import read_program
from kiosk.job.job_file import load_job
from kiosk.job.listing import offers
from kiosk.job.planning import make_plan
from kiosk.mistakes import BadInput
from kiosk.shop import load_shop
from kiosk.site import load_site
from tests.fuzz.amounts import amounts
from tests.fuzz.damage import SLOWEST_S, damaged, damaged_words, timed
from tests.measure.shop_files import CUT, PULL, TILT

ROOT = Path(__file__).parents[2]
JOBS, SITE = ROOT / "assets" / "jobs", ROOT / "hardware" / "site" / "demo.site.toml"
TODAY = datetime.date(2026, 11, 25)
SVG = b"""<svg xmlns="http://www.w3.org/2000/svg"
width="300mm" height="200mm" viewBox="0 0 300 200">
<defs><g id="a"><circle cx="50" cy="50" r="10"/></g></defs>
<path d="M 0 0 L 300 0 L 300 200 C 200 210 100 190 0 200 Z" stroke="black"/>
<use href="#a" x="20" y="30"/>
<rect x="100" y="100" width="30" height="20" rx="3" transform="rotate(10 110 110)"/>
<g transform="translate(5,5)"><ellipse cx="200" cy="60" rx="20" ry="10"/>
<polygon points="150,150 160,150 155,160"/></g>
<path d="M 220 120 a 10 10 0 1 0 20 0 a 10 10 0 1 0 -20 0 z"/></svg>"""


def _shop(path: Path) -> object:
    return load_shop(path, TODAY, None)


def _materials(path: Path) -> object:
    return load_shop(None, TODAY, path)


def _program(path: Path) -> object:
    return read_program(path.read_bytes().decode("utf-8", "replace"), path.name, {})


# Ending of the name, what is damaged, what reads it.
READERS: dict[str, tuple[str, bytes, Callable[[Path], object]]] = {
    "job": (".job.toml", (JOBS / "shelf-rail.job.toml").read_bytes(), load_job),
    "site": (".site.toml", SITE.read_bytes(), load_site),
    "shop": (".toml", f"format = 1\n{PULL}\n{TILT}\n{CUT}".encode(), _shop),
    "materials": (".toml", (ROOT / "assets" / "materials.toml").read_bytes(), _materials),
    "program": (".nc", (JOBS / "bracket-pair.nc").read_bytes(), _program),
    "dxf": (".dxf", (JOBS / "shelf-rail.dxf").read_bytes(), read_drawing),
    "svg": (".svg", SVG, read_drawing),
}


def refusal(call: Callable[[], object]) -> BadInput | None:
    """What a call said was wrong with a file; None when it was read."""
    try:
        call()
    except BadInput as bad:
        return bad
    return None


@pytest.mark.parametrize("count", amounts(60, 10_000))
@pytest.mark.parametrize("kind", READERS)
def test_a_damaged_file_is_read_or_refused_in_words(kind: str, count: int, tmp_path: Path) -> None:
    ending, good, read = READERS[kind]
    path = tmp_path / f"damaged{ending}"
    shutil.copytree(JOBS, tmp_path, dirs_exist_ok=True)
    refused, slowest_s = 0, 0.0
    path.write_bytes(good)
    read(path)  # loads the libraries for it, which is no part of a reading
    count = count // 4 if kind in ("materials", "shop") else count  # they take longest
    for seed in range(count):
        chance = Random(seed)
        path.write_bytes(chance.choice((damaged, damaged_words))(good, chance))
        got: list[BadInput | None] = []
        slowest_s = max(slowest_s, timed(lambda got=got: got.append(refusal(lambda: read(path)))))
        if got[0] is not None:
            refused += 1
            assert got[0].mistakes
            assert all("\n" not in str(mistake) for mistake in got[0].mistakes), seed
    assert slowest_s < SLOWEST_S
    assert count / 4 < refused < count


@pytest.mark.parametrize("count", amounts(5, 500))
@pytest.mark.parametrize("name", ["bracket-pair.nc", "bracket-pair.job.toml", "shelf-rail.dxf"])
def test_a_plan_of_a_damaged_file_is_made_or_refused(name: str, count: int, tmp_path: Path) -> None:
    shutil.copytree(JOBS, tmp_path, dirs_exist_ok=True)
    site, good = load_site(SITE), (JOBS / name).read_bytes()
    job = tmp_path / f"{name.partition('.')[0]}.job.toml"
    for seed in range(count):
        chance = Random(seed)
        (tmp_path / name).write_bytes(damaged_words(good, chance))
        bad = refusal(lambda: make_plan(job, site))
        assert bad is None or bad.mistakes


# -- damage that a random one would not find ---------------------------------------------------


def svg(body: str) -> bytes:
    head = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="{}">{}</svg>'
    )
    return head.format("0 0 30 20", body).encode()


RINGS = "".join(f'<g id="g{n}">' + f'<use href="#g{n - 1}"/>' * 10 + "</g>" for n in range(1, 12))
ENTITIES = (
    "<!DOCTYPE svg ["
    + '<!ENTITY a0 "xxxxxxxxxx">'
    + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
    + ']><svg xmlns="http://www.w3.org/2000/svg"><text>&a11;</text></svg>'
)
DRAWINGS = {
    "viewbox.svg": SVG.replace(b'"0 0 300 200"', b'"0 0 3-1 e"'),
    "huge_arc.svg": svg('<path d="M 0 0 a 1e9 1e9 0 1 0 20 0 z"/>'),
    "huge_curve.svg": svg('<path d="M 0 0 C 1e12 0 0 1e12 20 0 z"/>'),
    "use_of_use.svg": svg(f'<g id="g0"><rect width="1" height="1"/></g>{RINGS}<use href="#g11"/>'),
    "use_of_itself.svg": svg(
        '<g id="a"><use href="#a"/><use href="#b"/></g><use id="b" href="#a"/>'
    ),
    "entities.svg": ENTITIES.encode(),
    "deep.svg": svg("<g>" * 20_000 + "</g>" * 20_000),
}


def dxf(*rows: object) -> bytes:
    """A drawing of group codes and values, R12: DXF reference, "ENTITIES section"."""
    return "\n".join(map(str, (*rows, 0, "EOF", ""))).encode()


BLOCK = (0, "SECTION", 2, "BLOCKS", 0, "BLOCK", 8, 0, 2, "E", 70, 0, 10, 0, 20, 0, 3, "E",
         0, "ENDBLK", 0, "ENDSEC", 0, "SECTION", 2, "ENTITIES")  # fmt: skip
DRAWINGS |= {
    "huge_circle.dxf": dxf(0, "SECTION", 2, "ENTITIES", 0, "CIRCLE", 8, 0, 10, 0, 20, 0, 40, 1e12,
                           0, "ENDSEC"),
    "flat_circle.dxf": dxf(0, "SECTION", 2, "ENTITIES", 0, "CIRCLE", 8, 0, 10, 0, 20, 0, 40, 1e17,
                           0, "ENDSEC"),
    "rows_of_nothing.dxf": dxf(*BLOCK, 0, "INSERT", 8, 0, 2, "E", 10, 0, 20, 0, 70, 30000,
                               71, 30000, 44, 1, 45, 1, 0, "ENDSEC"),
}  # fmt: skip


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_that_would_grow_without_end_is_refused(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    good = READERS[path.suffix[1:]][1]
    path.write_bytes(good)
    read_drawing(path)  # loads the library for it, which is no part of a reading
    path.write_bytes(DRAWINGS[name])
    got: list[BadInput | None] = []
    took_s = timed(lambda: got.append(refusal(lambda: read_drawing(path))))
    assert got[0] is not None
    assert len(got[0].mistakes) == 1
    assert str(got[0]).startswith(f"{name}: ")
    assert took_s < SLOWEST_S


def test_a_number_of_thousands_of_digits_is_named_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "digits.job.toml"
    path.write_text(f'format = 1\nid = "x"\nmass_kg = {"9" * 5000}\n')
    bad = refusal(lambda: load_job(path))
    assert str(bad) == "digits.job.toml:3: has a number of thousands of digits: mend it"


@pytest.mark.parametrize("ending", [".job.toml", ".site.toml", ".svg", ".dxf"])
def test_a_pipe_in_place_of_a_file_is_refused_and_not_waited_for(
    ending: str, tmp_path: Path
) -> None:
    path = tmp_path / f"pipe{ending}"
    os.mkfifo(path)
    read = {".job.toml": load_job, ".site.toml": load_site}.get(ending, read_drawing)
    bad = refusal(lambda: read(path))
    assert str(bad) == f"{path.name}: this is a device or a pipe: name an ordinary file"


def test_a_jobs_folder_of_anything_is_listed_with_words(tmp_path: Path) -> None:
    shutil.copytree(JOBS, tmp_path, dirs_exist_ok=True)
    (tmp_path / "junk.job.toml").write_bytes(bytes(range(256)) * 40)
    (tmp_path / "loop.job.toml").symlink_to(tmp_path / "loop.job.toml")
    (tmp_path / "gone.job.toml").symlink_to(tmp_path / "nowhere")
    (tmp_path / "zero.job.toml").symlink_to("/dev/zero")
    (tmp_path / "folder.job.toml").mkdir()
    os.mkfifo(tmp_path / "pipe.job.toml")
    (tmp_path / "round").symlink_to(tmp_path)
    name = os.fsdecode(b"\xff\xfe.job.toml")
    shutil.copy(JOBS / "cover-panel.job.toml", tmp_path / name)
    long = (JOBS / "shelf-rail.job.toml").read_text().replace("SR-210", "SR-211", 1)
    (tmp_path / "long.job.toml").write_text(
        long.replace("format = 1\n", f'format = 1\nrevision = "{"9" * 5000}"\n', 1)
    )
    rows = {row["file"]: row["error"] for row in offers(tmp_path)}
    bad = {"junk", "loop", "gone", "zero", "folder", "pipe", "long"}
    assert {file for file, error in rows.items() if error is None} <= {
        *(path.name for path in JOBS.glob("*.job.toml")), name}  # fmt: skip
    assert all(rows[f"{stem}.job.toml"] for stem in bad)
    assert all("\n" not in str(error) for error in rows.values())
    assert rows["shelf-rail.job.toml"] is None
