"""The network at a glance: every well with its last reading."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from tapedown.engine.checks.at_the_well import NOTHING
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.record import Held, entries
from tapedown.values.results import Finding
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.wells.files import file_of
from tapedown.work.wells.history import History, Row, history_of

NEWEST = 4
"""Water levels looked at for a well's present state, in case the last ones gave no number."""


class WellNow(NamedTuple):
    """A well as it stands: last row of any kind, last water level, last total depth, findings that want a look."""

    code: str
    name: str
    last: Row | None
    level: Row | None
    bottom: Row | None
    to_look_at: tuple[Finding, ...]


def wells_now(network: OpenNetwork) -> list[WellNow]:
    """All wells by code, from one pass over the record."""
    shelf, held = gear_shelf(network), held_by_well(network)
    return [well_now(code, held[code], network, shelf) for code in sorted(held)]


def held_by_well(network: OpenNetwork) -> dict[str, list[Held]]:
    """Every entry about a well, struck ones too, by its code."""
    by_well: dict[str, list[Held]] = defaultdict(list)
    for held in entries(network.record, as_of=network.as_of, struck=True):
        if held.entry.about.startswith("well/"):
            by_well[held.entry.subject].append(held)
    return by_well


def well_now(code: str, held: list[Held], network: OpenNetwork, shelf: GearShelf) -> WellNow:
    """How one well stands, from the entries about it."""
    return now_of(history_of(file_of(code, _telling(held), network), network, shelf))


def _telling(held: list[Held]) -> list[Held]:
    """The entries that the present state follows from: every fact and sounding, but of water levels only the newest."""
    levels = [h for h in held if h.entry.kind == "readings" and not may_be_bottom(h)]
    standing = sorted((h for h in levels if h.struck_by is None), key=lambda h: h.entry.measured_at)
    old = {h.entry.id for h in levels} - {h.entry.id for h in standing[-NEWEST:]}
    return [h for h in held if h.entry.id not in old]


def may_be_bottom(held: Held) -> bool:
    """Whether a reading set may be a total depth, told from its body without reading it."""
    return '"weighted tape"' in held.entry.body or '"total depth"' in held.entry.body


def now_of(told: History) -> WellNow:
    """How a well stands, from its history."""
    standing = [row for row in told.rows if row.struck_by is None]
    last = standing[-1] if standing else None
    valued = [row for row in standing if row.value is not None]
    bottoms = [row for row in valued if row.value and row.value.use == TOTAL_DEPTH]
    levels = [row for row in valued if row.value and row.value.use not in {TOTAL_DEPTH, NOTHING}]
    newest = [row for row in (levels[-1:] + bottoms[-1:]) if last and row.entry.measured_at == last.entry.measured_at]
    findings = [f for row in newest if row.value for f in row.value.findings]
    findings += [*(told.bottom.findings if told.bottom else ()), *told.levels]
    identity = told.file.identity
    return WellNow(
        told.file.code,
        identity.name if identity else "",
        last,
        levels[-1] if levels else None,
        bottoms[-1] if bottoms else None,
        tuple(f for f in findings if f.weight != "note"),
    )
