"""``holdpoint sheet``: what it writes where, its exit status, and its words about mistakes."""

from __future__ import annotations

import argparse
import io
import subprocess
import sys
from pathlib import Path

import pytest
from jobs import DEMO_JOBS, DEMO_SITE, HEAD, JOB, ROOT, SITE, SLOT, write_job
from PIL import Image
from sheet_reading import codes_in, document, picture, text_of

from kiosk import cli
from kiosk.job.sheet import arguments, page_pictures
from kiosk.job.sheet_paper import PAPERS

LOOSE = JOB.replace("[program]", "[[load]]\nat_mm = [9.0, 9.0, 20.0]\nforce_n = [90000.0, 0.0, 0.0]"
                    "\n[program]")  # fmt: skip


def site_file(folder: Path, text: str = SITE) -> Path:
    path = folder / "x.site.toml"
    path.write_text(text, encoding="utf-8")
    return path


def sheet(job: Path, *more: str) -> int:
    return cli.main(["sheet", str(job), "--site", str(site_file(job.parent)), *more])


def test_a_sheet_goes_where_it_is_told_and_the_place_is_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "made" / "panel.pdf"
    out.parent.mkdir()
    assert sheet(write_job(tmp_path), "--out", str(out)) == 0
    assert capsys.readouterr().out.strip() == str(out)
    assert [path.name for path in out.parent.iterdir()] == ["panel.pdf"]
    assert "Test panel" in text_of(out.read_bytes())


def test_without_a_place_it_goes_into_the_data_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sheet(write_job(tmp_path), "--data", str(tmp_path / "d")) == 0
    path = tmp_path / "d" / "sheets" / "t.pdf"
    assert capsys.readouterr().out.strip() == str(path)
    assert len(document(path.read_bytes())) == 1


@pytest.mark.parametrize(
    ("paper", "size_mm"), [("a4", (210.0, 297.0)), ("letter", (8.5 * 25.4, 11.0 * 25.4))]
)
def test_the_paper_has_its_standard_size(
    tmp_path: Path, paper: str, size_mm: tuple[float, float]
) -> None:
    """A4: ISO 216, 210 mm x 297 mm.  Letter: 8.5 in x 11 in, ANSI/ASME Y14.1 size A."""
    out = tmp_path / "s.pdf"
    assert sheet(write_job(tmp_path), "--out", str(out), "--paper", paper) == 0
    size_pt = document(out.read_bytes())[0].get_size()
    assert [n * 25.4 / 72.0 for n in size_pt] == pytest.approx(size_mm, abs=0.01)


def test_a_picture_is_the_page_at_200_dots_an_inch(tmp_path: Path) -> None:
    job, out = write_job(tmp_path), tmp_path / "s.PNG"
    assert sheet(job, "--out", str(out)) == 0
    image = Image.open(out)
    assert image.format == "PNG"
    assert image.size == pytest.approx((210.0 / 25.4 * 200.0, 297.0 / 25.4 * 200.0), abs=1.0)
    assert image.info["dpi"] == pytest.approx((200.0, 200.0), abs=0.1)
    assert codes_in(image) == [("Code128", "T-1"), ("QRCode", "T-1")]


def test_a_picture_has_a_file_for_each_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = site_file(tmp_path, SITE.replace("count = [6, 4]", "count = [30, 16]"))
    job = write_job(tmp_path, JOB.replace("400.0", "2990.0").replace("300.0", "1590.0"))
    words = ["sheet", str(job), "--site", str(site), "--out"]
    assert cli.main([*words, str(tmp_path / "s.png")]) == 0
    pages = capsys.readouterr().out.split()
    assert cli.main([*words, str(tmp_path / "s.pdf")]) == 0
    count = len(document((tmp_path / "s.pdf").read_bytes()))
    assert count > 1
    names = ["s.png", *(f"s-{n}.png" for n in range(2, count + 1))]
    assert pages == [str(tmp_path / name) for name in names]
    assert all(Image.open(page).format == "PNG" for page in pages)


def test_a_sheet_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    out = tmp_path / "s.pdf"
    assert sheet(write_job(tmp_path), "--out", str(out)) == 0
    assert sheet(write_job(tmp_path, JOB.replace("Test panel", "Mended")), "--out", str(out)) == 0
    assert "Mended" in text_of(out.read_bytes())
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_the_same_files_give_the_same_bytes_in_another_process(tmp_path: Path) -> None:
    job, site = write_job(tmp_path), site_file(tmp_path)
    made = []
    for seed in ("1", "2"):
        out = tmp_path / f"{seed}.pdf"
        words = [sys.executable, "-m", "kiosk", "sheet", str(job), "--site", str(site)]
        subprocess.run(
            [*words, "--out", str(out)], cwd=ROOT, timeout=60, check=True, capture_output=True,
            env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin:/bin", "PYTHONDONTWRITEBYTECODE": "1"},
        )  # fmt: skip
        made.append(out.read_bytes())
    assert made[0] == made[1]


def test_a_job_that_does_not_hold_gets_a_marked_sheet_and_status_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "s.pdf"
    assert sheet(write_job(tmp_path, LOOSE), "--out", str(out)) == 1
    assert "DOES NOT HOLD" in capsys.readouterr().err
    pdf = out.read_bytes()
    text = text_of(pdf)
    assert text.startswith("DOES NOT HOLD - not for the machine")
    assert "REFUSED" in text
    assert codes_in(picture(pdf)) == []


def test_a_machine_that_is_simulated_is_called_so(tmp_path: Path) -> None:
    out = tmp_path / "s.pdf"
    job = DEMO_JOBS / "cover-panel.job.toml"
    assert cli.main(["sheet", str(job), "--site", str(DEMO_SITE), "--out", str(out)]) == 0
    text = text_of(out.read_bytes())
    assert "Demonstration router" in text
    assert "simulated machine" in text


def test_the_document_names_every_option_kind_and_paper() -> None:
    text = (ROOT / "docs" / "job-sheet.md").read_text(encoding="utf-8")
    parser = argparse.ArgumentParser()
    arguments(parser)
    options = [name for action in parser._actions for name in action.option_strings]
    assert {"--site", "--out", "--paper", "--data"} <= set(options)
    for words in (*(o for o in options if o not in ("-h", "--help")), *PAPERS, ".pdf", ".png"):
        assert f"`{words}" in text, words


# -- mistakes ------------------------------------------------------------------------------


def test_bad_input_is_status_2_with_file_and_line_and_no_traceback(tmp_path: Path) -> None:
    job = write_job(tmp_path, JOB.replace("thickness_mm = 20.0", "thickness_mm = 0.0"))
    site, out = site_file(tmp_path), tmp_path / "s.pdf"
    words = [sys.executable, "-m", "kiosk", "sheet", str(job), "--site", str(site)]
    done = subprocess.run([*words, "--out", str(out)], cwd=ROOT, capture_output=True, text=True,
                          timeout=60, check=False)  # fmt: skip
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("t.job.toml:8: thickness_mm is 0, out of range")
    assert "Traceback" not in done.stderr
    assert not out.exists()


@pytest.mark.parametrize("name", ["s.jpg", "s", "s.pdf.txt", ".pdf"])
def test_a_name_of_another_kind_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    assert sheet(write_job(tmp_path), "--out", str(tmp_path / name)) == 2
    assert "write a name that ends in .pdf or .png" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["none/s.pdf", "t.nc/s.png", "folder.pdf"])
def test_a_place_that_cannot_be_written_is_told_with_the_mend(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    (tmp_path / "folder.pdf").mkdir()
    assert sheet(write_job(tmp_path), "--out", str(tmp_path / name)) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"{tmp_path / name}: cannot be written (")
    assert told.rstrip().endswith("choose another place with --out")
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_a_data_folder_that_is_a_file_is_told_with_the_mend(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write_job(tmp_path)
    assert sheet(job, "--data", str(job)) == 2
    assert "give --data another folder" in capsys.readouterr().err


def test_an_unknown_seat_or_code_is_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sheet(write_job(tmp_path, JOB.replace('"auto"', '["Z9"]'))) == 2
    assert sheet(write_job(tmp_path, JOB, HEAD + "G1 X#5\nM30\n")) == 2
    told = capsys.readouterr().err
    assert "Z9" in told
    assert "t.nc:4:" in told


def test_pages_of_a_document_keep_their_order(tmp_path: Path) -> None:
    out = tmp_path / "s.pdf"
    assert sheet(write_job(tmp_path, JOB, SLOT), "--out", str(out)) == 0
    pictures = page_pictures(out.read_bytes())
    assert [codes_in(Image.open(io.BytesIO(row))) != [] for row in pictures] == [True]
