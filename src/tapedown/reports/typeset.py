"""From words and drawings to a PDF: a template of ours, filled with data, set by typst in memory.

What people wrote reaches the page as data, never as part of the template, so that nothing in it can be taken for
markup. Only typst's own typefaces are used, and the date of the document is given, so the same words give the same
bytes on every machine. Nothing is written to a disk.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import lru_cache
from importlib.resources import files
from typing import Any, NamedTuple

import typst

from tapedown.reports import svg
from tapedown.reports.words import visible

FACE = "Libertinus Serif"
"""Typeface of everything printed; typst carries it along."""
LONGEST = 420
"""Characters of one text; what is longer is cut with an ellipsis, the record has the whole."""
PAPERS = {"A4": "a4", "Letter": "us-letter"}
"""Paper sizes: ISO 216 A4, and the letter size of ANSI/ASME Y14.1 (from memory); the values are typst's names."""
SHARED = "sheet.typ"
"""What all templates have in common."""


class Heading(NamedTuple):
    """What stands at the head and foot of every page.

    network  its name
    code     of the well, "" for the whole network
    title    what the document is
    known    "as known on 31 Oct 2025"
    foot     what the numbers rest on
    head     the record's signed state as text, "" when none is given
    """

    network: str
    code: str
    title: str
    known: str
    foot: str
    head: str = ""


def typeset(
    template: str, heading: Heading, content: Any, drawings: Mapping[str, str], *, paper: str, day: str
) -> bytes:
    """The PDF of a template.

    Parameters
    ----------
    template : name of a template in `sheets`
    content : named tuples, tuples, mappings, texts, numbers
    drawings : name -> SVG text, as the template calls them
    paper : a name of PAPERS
    day : date of the document, "2026-05-14"

    Raises
    ------
    ValueError
        A paper that is not known.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper {paper!r} is not one of: {', '.join(PAPERS)}")
    data = {"heading": _data(heading), "content": _data(content), "paper": PAPERS[paper]}
    sources = {
        "main.typ": _template(template),
        SHARED: _template(SHARED),
        "data.json": json.dumps(data).encode(),
        **{name: svg.in_face(text, FACE).encode() for name, text in drawings.items()},
    }
    made = datetime.fromisoformat(day).replace(tzinfo=UTC)
    # typst takes the sources as a mapping, as its README tells; its stubs leave that out
    compiled: bytes = typst.compile(  # type: ignore[call-overload]
        sources, font_paths=_fonts(), ignore_system_fonts=True, timestamp=made
    )
    return compiled


def _data(value: Any) -> Any:
    """As JSON, named tuples by their names, texts made visible and not too long."""
    if isinstance(value, str):
        shown = visible(value)
        return shown if len(shown) <= LONGEST else f"{shown[: LONGEST - 1]}…"
    if isinstance(value, Mapping):
        return {key: _data(inner) for key, inner in value.items()}
    if hasattr(value, "_asdict"):
        return _data(value._asdict())
    return [_data(inner) for inner in value] if isinstance(value, (tuple, list)) else value


@lru_cache(maxsize=8)
def _template(name: str) -> bytes:
    return files("tapedown.reports").joinpath("sheets", name).read_bytes()


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False)
