"""Reads a job sheet back: PDFium gives its text, letters and picture, ZXing-C++ its bar codes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pypdfium2
import pypdfium2.raw as pdfium
import zxingcpp
from PIL.Image import Image

MM_PER_POINT = 25.4 / 72.0  # ISO 32000-1, 8.3.2.3
DPI = 200
PX_PER_MM = DPI / 25.4


@dataclass(frozen=True)
class Letter:
    """One letter on a page: the tight box of its ink, mm from the lower left corner."""

    text: str
    left: float
    bottom: float
    right: float
    top: float


@dataclass(frozen=True)
class Words:
    """One run of words as drawn, with the box of its ink."""

    text: str
    left: float
    bottom: float
    right: float
    top: float


def document(pdf: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(pdf)


def text_of(pdf: bytes) -> str:
    """The text of all pages with every run of white space as one space."""
    pages = [page.get_textpage().get_text_bounded() for page in document(pdf)]
    return " ".join(" ".join(pages).split())


def picture(pdf: bytes, page: int = 0) -> Image:
    """A page in grey at 200 dpi."""
    return document(pdf)[page].render(scale=DPI / 72.0, grayscale=True).to_pil()


def codes_in(image: Image) -> list[tuple[str, str]]:
    """Kind and text of every bar code in a picture."""
    found = zxingcpp.read_barcodes(image, text_mode=zxingcpp.TextMode.Plain)
    return sorted((code.format.name, code.text) for code in found)


def letters(pdf: bytes, page: int = 0) -> list[Letter]:
    textpage = document(pdf)[page].get_textpage()
    whole = [textpage.get_text_range(n, 1) for n in range(textpage.count_chars())]
    return [
        Letter(text, *(side * MM_PER_POINT for side in textpage.get_charbox(n)))
        for n, text in enumerate(whole)
        if text.strip()
    ]


def runs(pdf: bytes, page: int = 0) -> Iterator[Words]:
    drawn = document(pdf)[page]
    kinds = [pdfium.FPDF_PAGEOBJ_TEXT]
    for thing in drawn.get_objects(filter=kinds, textpage=drawn.get_textpage()):
        box = (side * MM_PER_POINT for side in thing.get_bounds())
        yield Words(thing.extract().strip(), *box)
