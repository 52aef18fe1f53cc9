"""``holdpoint sheet JOB``: the job on paper, for the person who changes the grid over.

A job that does not hold gets a sheet too, for the one who must mend it: marked across the page,
with the reason, without bar codes, and exit status 1.
"""

from __future__ import annotations

import argparse
import io
import os
import sys
import tempfile
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from kiosk import words
from kiosk.job.check import shop_arguments
from kiosk.job.checking import plan_of, shop_of
from kiosk.job.plan import Plan
from kiosk.job.sheet_map import CupMap
from kiosk.job.sheet_page import draw_sheet
from kiosk.job.sheet_paper import PAPERS, POINTS_PER_MM, Paper
from kiosk.job.sheet_words import sheet_words
from kiosk.mistakes import BadInput, Mistake
from kiosk.places import data_dir
from kiosk.site import load_site

PNG_DPI = 200
_KINDS = (".pdf", ".png")
_JOB_ENDING = ".job.toml"


def arguments(parser: argparse.ArgumentParser) -> None:
    """The words that follow ``sheet``."""
    parser.add_argument("job", metavar="JOB", type=Path, help="a job file, *.job.toml")
    parser.add_argument("--site", metavar="FILE", type=Path, required=True,
                        help="the site file of the machine, *.site.toml")  # fmt: skip
    parser.add_argument("--out", metavar="FILE", type=Path,
                        help="a name ending in .pdf or .png; default: in the folder sheets "
                        "of the data folder")  # fmt: skip
    parser.add_argument("--paper", choices=tuple(PAPERS), default="a4", help="default: a4")
    shop_arguments(parser)
    parser.add_argument("--data", metavar="DIR", help="the data folder")


def main(args: argparse.Namespace) -> int:
    """Write one sheet; returns 0, or 1 when the job does not hold.

    Raises ``BadInput`` for mistakes in the files and for a place that cannot be written to.
    """
    if args.out is not None and args.out.suffix.lower() not in _KINDS:
        text = "cannot make a sheet of this kind: write a name that ends in .pdf or .png"
        raise BadInput([Mistake(str(args.out), None, text)])
    plan = plan_of(args.job, args.site, lambda: shop_of(args))
    site = load_site(args.site)
    pdf = sheet_pdf(plan, site.name, site.simulated, args.paper)
    out = args.out or _usual_place(args.job, args.data)
    for path in write_sheet(pdf, out):
        print(path)
    if plan.refused:
        print(words.load().say("sheet.refused"), file=sys.stderr)
    return 1 if plan.refused else 0


def sheet_pdf(plan: Plan, machine: str, simulated: bool = False, paper: str = "a4") -> bytes:
    """The sheet as a PDF document; equal plans give equal bytes.

    ``machine``: the site's name.  ``paper``: a key of ``PAPERS``.
    """
    size = PAPERS[paper]
    said = sheet_words(words.load(), plan, machine, simulated)
    buffer = io.BytesIO()
    page = (size.width_mm * POINTS_PER_MM, size.height_mm * POINTS_PER_MM)
    canvas = Canvas(buffer, pagesize=page, invariant=1, lang="en")
    canvas.setTitle(f"{plan.job_id} {plan.title}")
    canvas.setCreator("holdpoint")
    draw_sheet(Paper(canvas, size), said, CupMap(plan))
    canvas.save()
    return buffer.getvalue()


def write_sheet(pdf: bytes, out: Path) -> list[Path]:
    """Write the document as its name's ending says; a PNG has a file for each page.

    Returns the files.  Raises ``BadInput`` when the place cannot be written to.
    """
    contents = [pdf] if out.suffix.lower() == ".pdf" else page_pictures(pdf)
    paths = [out if n == 1 else out.with_stem(f"{out.stem}-{n}")
             for n in range(1, len(contents) + 1)]  # fmt: skip
    try:
        for path, content in zip(paths, contents, strict=True):
            _replace(path, content)
    except OSError as trouble:
        text = f"cannot be written ({trouble.strerror}): choose another place with --out"
        raise BadInput([Mistake(str(out), None, text)]) from None
    return paths


def page_pictures(pdf: bytes) -> list[bytes]:
    """Each page of a document as a PNG at ``PNG_DPI``."""
    from pypdfium2 import PdfDocument

    pictures = []
    with PdfDocument(pdf) as document:
        for page in document:
            buffer = io.BytesIO()
            image = page.render(scale=PNG_DPI / 72.0, grayscale=True).to_pil()
            image.save(buffer, "PNG", dpi=(PNG_DPI, PNG_DPI), optimize=True)
            pictures.append(buffer.getvalue())
    return pictures


def _usual_place(job: Path, data: str | None) -> Path:
    folder = data_dir(data) / "sheets"
    try:
        folder.mkdir(exist_ok=True)
    except OSError as trouble:
        text = f"cannot be made ({trouble.strerror}): give --data another folder"
        raise BadInput([Mistake(str(folder), None, text)]) from None
    return folder / f"{job.name.removesuffix(_JOB_ENDING)}.pdf"


def _replace(path: Path, content: bytes) -> None:
    """Whole or not at all: a reader never meets half a sheet."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".sheet-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
