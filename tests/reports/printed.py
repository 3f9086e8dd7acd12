"""A PDF read back, as somebody with it in hand would read it."""

from __future__ import annotations

import io
import re
import unicodedata

import pypdf
import pypdfium2


def pages_of(pdf: bytes) -> list[str]:
    """The words of each page, spaces and line ends alike, ligatures apart."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return [_plain(page.extract_text()) for page in reader.pages]


def words_of(pdf: bytes) -> str:
    """The words of all pages."""
    return " ".join(pages_of(pdf))


def size_mm(pdf: bytes) -> tuple[int, int]:
    """Width and height of the first page, mm."""
    box = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    return round(float(box.width) * 25.4 / 72), round(float(box.height) * 25.4 / 72)


def edges_white(pdf: bytes) -> bool:
    """Whether nothing runs into the margins of any page: 7 mm at each edge are bare."""
    for page in pypdfium2.PdfDocument(pdf):
        image = page.render(scale=1.0).to_pil().convert("L")
        edge = round(7 * 72 / 25.4)
        wide, high = image.size
        strips = [(0, 0, wide, edge), (0, high - edge, wide, high), (0, 0, edge, high), (wide - edge, 0, wide, high)]
        if any(image.crop(strip).getextrema()[0] < 250 for strip in strips):
            return False
    return True


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text.replace("\u200b", "")))
