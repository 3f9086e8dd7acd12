"""Short ways to write a table with its mapping in tests."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from tapedown.exchange.tables.lines import FactInForce, Known, TableLine
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.exchange.tables.proposals import propose
from tapedown.exchange.tables.reading import read_table
from tapedown.values.settings import Settings

LEVELS = """
makes = "readings"
length_unit = "ft"
well = {code = "well"}
time = {date = "date", zone = "Europe/London"}
[reading]
value = "depth"
positive = "down"
reference = "below land surface"
"""


def fact(kind: str, code: str, body: Mapping[str, Any], measured_at: str = "") -> FactInForce:
    """A fact the record holds."""
    return FactInForce(f"{kind}-{code}-{measured_at}", kind, f"well/{code}", measured_at, body)


def wells(*codes: str) -> list[FactInForce]:
    """Wells the record holds by their codes alone."""
    return [fact("well", code, {"code": code}) for code in codes]


def lines(
    table: str, mapping: str = LEVELS, known: Iterable[FactInForce] | None = None, unit: str = "ft"
) -> list[TableLine]:
    """The lines proposed; MF-01 to MF-03 are known unless said otherwise."""
    facts = wells("MF-01", "MF-02", "MF-03") if known is None else known
    data = table.encode()
    return propose(read_table(data), read_mapping(mapping.encode()), Known(facts, unit), Settings(unit))


def bodies(line: TableLine, kind: str) -> list[dict[str, Any]]:
    """Bodies of a line's drafts of one kind."""
    return [json.loads(draft.body) for draft in line.drafts if draft.kind == kind]


def checks(line: TableLine) -> list[str]:
    """Names of the checks that found something in a line."""
    return [found.check for found in line.findings]
