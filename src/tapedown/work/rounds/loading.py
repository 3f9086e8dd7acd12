"""What to load for a round: gear by how its wells are usually read, keys by what is noted of their access."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.gear import Gear
from tapedown.values.wells import AccessNote
from tapedown.work.networks import GearShelf
from tapedown.work.wells.files import WellFile
from tapedown.work.wells.usual_methods import usual

BESIDE = {"chalked tape": "chalk and a cloth", "electric tape": "spare batteries"}
"""What a method needs beside the gear that has a serial number."""
ALWAYS = ("cleaning kit for tapes and weights", "between wells, the cleaner before the dirtier")


class LoadItem(NamedTuple):
    """One thing to load, and why."""

    what: str
    why: str


def load_list(files: Sequence[WellFile], shelf: GearShelf) -> list[LoadItem]:
    """What to load for these wells: gear first, then what goes with it, then keys."""
    gear: dict[str, list[str]] = defaultdict(list)
    beside: dict[str, list[str]] = defaultdict(list)
    keys: dict[str, list[str]] = defaultdict(list)
    for file in files:
        habits = usual(file)
        for serial in dict.fromkeys(serial for named in habits.gear.values() for serial in named.values()):
            gear[serial].append(file.code)
        for method in habits.methods:
            if method in BESIDE:
                beside[BESIDE[method]].append(file.code)
        access: AccessNote | None = file.in_force("access", "")
        if access is not None and access.keys:
            keys[access.keys].append(file.code)
    loads = [
        LoadItem(serial, f"{_called(shelf.gear.get(serial))}used at {_some(gear[serial])}") for serial in sorted(gear)
    ]
    loads += [LoadItem(what, f"for {_some(beside[what])}") for what in sorted(beside)]
    loads += [LoadItem(*ALWAYS)] if files else []
    return loads + [LoadItem(what, _some(keys[what])) for what in sorted(keys)]


def _called(gear: Gear | None) -> str:
    return f"{gear.type}, " if gear else ""


def _some(codes: Sequence[str]) -> str:
    """Codes in words; a long list is cut."""
    return ", ".join(codes) if len(codes) <= 12 else f"{', '.join(codes[:10])} and {len(codes) - 10} more"
