"""How a well is usually read: the methods, and the gear each was read with last."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

from tapedown.values.reading_forms import gear_named
from tapedown.work.wells.files import WellFile

LOOKED_BACK = 16
"""Newest reading sets that say what is usual; ours."""


class Usual(NamedTuple):
    """Methods, the most used first, and for each the serial numbers it was read with last."""

    methods: tuple[str, ...]
    gear: Mapping[str, Mapping[str, str]]


def usual(file: WellFile) -> Usual:
    """What is usual at a well; values handed on by others do not count."""
    newest = [f.value for f in reversed(file.of_kind("readings")) if f.value.method != "reported"][:LOOKED_BACK]
    used = Counter(readings.method for readings in newest)
    gear: dict[str, Mapping[str, str]] = {}
    for readings in newest:
        gear.setdefault(readings.method, gear_named(readings.method, readings.read))
    return Usual(tuple(method for method, _ in used.most_common()), gear)
