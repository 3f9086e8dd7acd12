"""How a well is usually read: the methods, and the gear each was read with last."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

from tapedown.values.readings import Readings
from tapedown.work.wells.files import WellFile

LOOKED_BACK = 16
"""Newest reading sets that say what is usual; ours."""
GEAR_FIELDS = ("tape", "weight", "gauge", "logger")
"""Fields of a reading set that hold a serial number."""


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
        gear.setdefault(readings.method, _gear(readings))
    return Usual(tuple(method for method, _ in used.most_common()), gear)


def _gear(readings: Readings) -> dict[str, str]:
    named = {field: getattr(readings.read, field, "") for field in GEAR_FIELDS}
    return {field: serial for field, serial in named.items() if serial}
