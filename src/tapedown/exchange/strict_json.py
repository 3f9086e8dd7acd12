"""JSON as RFC 8259 has it, from people we do not know: no NaN, no name twice, no depth that breaks the reader."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from typing import Any

LARGEST = 200_000_000


class NotJson(ValueError):
    """Why the bytes are not JSON."""


def strict_json(data: bytes, *, largest: int = LARGEST) -> Any:
    """The value that the bytes hold; numbers as Python has them.

    Raises
    ------
    NotJson
        Too large, not UTF-8, not JSON, nested too deeply, a name twice, a number that is none.

    Example
    -------
    >>> strict_json(b'{"wells": ["MF-07"]}')
    {'wells': ['MF-07']}
    """
    if len(data) > largest:
        raise NotJson(f"it has {len(data):,} bytes; {largest:,} are read")
    try:
        text = data.decode("utf-8")
        return json.loads(
            text, object_pairs_hook=no_name_twice, parse_constant=no_constant, parse_int=_whole, parse_float=_fraction
        )
    except RecursionError:
        raise NotJson("it is nested too deeply") from None
    except UnicodeDecodeError as error:
        raise NotJson(f"byte {error.start + 1} is not UTF-8 text") from None
    except json.JSONDecodeError as error:
        raise NotJson(f"it is not JSON: {error.msg} in line {error.lineno}, column {error.colno}") from None


def no_name_twice(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
    """An object with each name once. Raises NotJson."""
    members: dict[str, Any] = {}
    for name, value in pairs:
        if name in members:
            raise NotJson(f"{name[:60]!r} stands in it twice")
        members[name] = value
    return members


def no_constant(word: str) -> Any:
    """NaN and the infinities, which are no numbers. Raises NotJson."""
    raise NotJson(f"{word} is not a number")


def _whole(digits: str) -> int:
    if len(digits) > 40:
        raise NotJson(f"{digits[:20]}... is too long for a number")
    return int(digits)


def _fraction(digits: str) -> float:
    number = float(digits)
    if not math.isfinite(number):
        raise NotJson(f"{digits[:40]} is too large for a number")
    return number
