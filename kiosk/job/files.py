"""Reads the files of one job: the job file, its drawing and its program."""

from __future__ import annotations

import codecs
from collections.abc import Callable
from pathlib import Path

from kiosk.job.cuts import refuse_missing
from kiosk.job.gcode import read_program
from kiosk.job.gcode_codes import NO_OTHERS, OtherCodes
from kiosk.job.job_file import Job, load_job
from kiosk.job.outline import Blank, read_blank
from kiosk.job.program import Program
from kiosk.mistakes import BadInput, Mistake
from kiosk.shop import Shop
from kiosk.toml_lines.source import content_of

Progress = Callable[[float, str], None]
_READING = "reading the program"
_LARGEST_PROGRAM = 64 * 1024 * 1024


def silent(share: float, words: str) -> None:
    """No one asked for progress."""


def read_files(
    job_path: Path, shop: Shop, progress: Progress = silent, others: OtherCodes = NO_OTHERS
) -> tuple[Job, Blank, tuple[Program | None, bytes]]:
    """The job, its blank, its program with its bytes.  ``others``: codes to pass over.

    Raises ``BadInput``: the mistakes of the job file, or else of drawing and program together.
    """
    job = load_job(job_path, tuple(shop.materials.by_key))
    mistakes: list[Mistake] = []
    blank = program = None
    try:
        blank = read_blank(job)
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    progress(0.1, _READING)
    try:
        program = _read_program(job, progress, others)
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    if blank is None or program is None:
        raise BadInput(mistakes)
    return job, blank, program


def _read_program(job: Job, progress: Progress, others: OtherCodes) -> tuple[Program | None, bytes]:
    if job.program is None:
        return None, b""
    name = job.program.file.name
    content = content_of(job.program.file, name, _LARGEST_PROGRAM)
    wide = content[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
    text = content.decode("utf-16" if wide else "utf-8", errors="replace")

    def told(share: float) -> None:
        progress(0.1 + 0.1 * share, _READING)

    program = read_program(text, name, job.program.offsets, told, others)
    refuse_missing(job, program, name)
    return program, content
