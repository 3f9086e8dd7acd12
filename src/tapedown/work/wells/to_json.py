"""Rows of a history and wells as they stand, as they are told in JSON."""

from __future__ import annotations

from typing import Any, TypedDict

from tapedown.exchange.shapes import ConditionJson, EntryJson, FactJson, ReductionJson, condition_to_json, entry_to_json
from tapedown.exchange.to_json import reduction_to_json
from tapedown.record import Held
from tapedown.values.readings import Review
from tapedown.values.results import Finding
from tapedown.values.seen import SEEN
from tapedown.work.wells.files import WellFact
from tapedown.work.wells.history import History, Row
from tapedown.work.wells.standing import WellNow


class RowJson(TypedDict):
    """A reading set, or a visit without one, worked out. seen: what went on, as facts; noted: the same in words."""

    entry: EntryJson
    what: str
    seen: dict[str, Any]
    noted: list[str]
    hours_since_pump: float | None
    quality: str
    struck_by: str | None
    review: Review | None
    remarks: str
    reduction: ReductionJson | None


class HistoryJson(TypedDict):
    """A well: its rows oldest first, the state of its bottom."""

    well: str
    rows: list[RowJson]
    bottom: ConditionJson | None


class StandingJson(TypedDict):
    """A well as it stands."""

    code: str
    name: str
    last: RowJson | None
    level: RowJson | None
    bottom: RowJson | None
    to_look_at: tuple[Finding, ...]


def fact_to_json(fact: WellFact | Held) -> FactJson:
    """An entry with what strikes it."""
    return {**entry_to_json(fact.entry), "struck_by": fact.struck_by}


def row_to_json(row: Row) -> RowJson:
    """A row with its entry and everything that was worked out."""
    return {
        "entry": entry_to_json(row.entry),
        "what": row.what,
        "seen": SEEN.body(row.seen),
        "noted": row.noted,
        "hours_since_pump": row.hours_since_pump,
        "quality": row.quality,
        "struck_by": row.struck_by,
        "review": row.review,
        "remarks": row.remarks,
        "reduction": reduction_to_json(row.value) if row.value else None,
    }


def history_to_json(told: History, *, struck: bool) -> HistoryJson:
    """A well's rows and the state of its bottom."""
    rows = [row_to_json(row) for row in told.rows if struck or row.struck_by is None]
    return {"well": told.file.code, "rows": rows, "bottom": condition_to_json(told.bottom) if told.bottom else None}


def standing_to_json(now: WellNow) -> StandingJson:
    """A well with its last row of any kind, last water level and last total depth."""
    return {
        "code": now.code,
        "name": now.name,
        "last": row_to_json(now.last) if now.last else None,
        "level": row_to_json(now.level) if now.level else None,
        "bottom": row_to_json(now.bottom) if now.bottom else None,
        "to_look_at": now.to_look_at,
    }
