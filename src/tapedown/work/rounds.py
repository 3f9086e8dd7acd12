"""The network at a glance: every well with its last reading."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from tapedown.engine.stages import TOTAL_DEPTH
from tapedown.record import Held, entries
from tapedown.values.conditions import NOTHING
from tapedown.values.results import Finding
from tapedown.work.history import History, Row, history_of
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.wells import file_of


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
    shelf = gear_shelf(network)
    by_well: dict[str, list[Held]] = defaultdict(list)
    for held in entries(network.record, as_of=network.as_of, struck=True):
        if held.entry.about.startswith("well/"):
            by_well[held.entry.about.partition("/")[2]].append(held)
    found = []
    for code in sorted(by_well):
        told = history_of(file_of(code, by_well[code], network), network, shelf)
        found.append(_now(told))
    return found


def _now(told: History) -> WellNow:
    standing = [row for row in told.rows if row.struck_by is None]
    last = standing[-1] if standing else None
    valued = [row for row in standing if row.value is not None]
    bottoms = [row for row in valued if row.value and row.value.use == TOTAL_DEPTH]
    levels = [row for row in valued if row.value and row.value.use not in {TOTAL_DEPTH, NOTHING}]
    newest = [row for row in (levels[-1:] + bottoms[-1:]) if last and row.entry.measured_at == last.entry.measured_at]
    findings = [f for row in newest if row.value for f in row.value.findings]
    findings += told.bottom.findings if told.bottom else ()
    identity = told.file.identity
    return WellNow(
        told.file.code,
        identity.name if identity else "",
        last,
        levels[-1] if levels else None,
        bottoms[-1] if bottoms else None,
        tuple(f for f in findings if f.weight != "note"),
    )
