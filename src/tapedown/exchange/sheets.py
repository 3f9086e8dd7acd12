"""Files a person writes (TOML, JSON): bytes to a mapping, numbers kept as the text they were written in."""

from __future__ import annotations

import json
import tomllib
from typing import Any

from tapedown.values.errors import TapedownError

LARGEST_BYTES = 4_000_000
"""No visit is longer; a larger file is something else."""


class UnreadableSheet(TapedownError):
    """A file that is no TOML or JSON mapping; the message names the place."""


def read_sheet(data: bytes, name: str) -> dict[str, Any]:
    """The mapping in a TOML file, or in a JSON file when the name ends in .json.

    Numbers come back as text with their decimals: `84.30` stays "84.30".

    Raises
    ------
    UnreadableSheet
        Not text, not TOML or JSON, or not a mapping; line and column are named where they are known.

    Example
    -------
    >>> read_sheet(b"readings = [84.30, 84.3]", "visit.toml")
    {'readings': ['84.30', '84.3']}
    """
    if len(data) > LARGEST_BYTES:
        raise UnreadableSheet(f"{name} has {len(data)} bytes", hint="a visit is a few lines; is this another file?")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableSheet(
            f"{name}: byte {error.start + 1} is not UTF-8 text", hint="save the file as UTF-8 and try again"
        ) from None
    sheet = _json(text, name) if name.lower().endswith(".json") else _toml(text, name)
    if not isinstance(sheet, dict):
        raise UnreadableSheet(f"{name} holds no fields at its top", hint='begin with lines such as well = "MF-07"')
    return sheet


def _toml(text: str, name: str) -> Any:
    try:
        return tomllib.loads(text.replace("\r\n", "\n"), parse_float=str)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        hint = "mend that line; text and times go in quotes, a list in [ ], a set begins with [[readings]]"
        raise UnreadableSheet(f"{name}: {error}", hint=hint) from None


def _json(text: str, name: str) -> Any:
    try:
        return json.loads(text, parse_float=str, parse_int=str, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise UnreadableSheet(f"{name}: {error}", hint="mend that place; is a comma or a quote missing?") from None


def _no_constant(word: str) -> Any:
    raise ValueError(f"{word} is not a number anyone reads")
