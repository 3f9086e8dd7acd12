"""Rows of a history and wells as they stand, as they are told in JSON."""

from __future__ import annotations

from typing import Any, TypedDict

from tapedown.exchange.to_json import reduction_told
from tapedown.exchange.told import ConditionTold, EntryTold, FactTold, ReductionTold, condition_told, entry_told
from tapedown.record import Held
from tapedown.values.readings import Review
from tapedown.values.results import Finding
from tapedown.values.seen import SEEN
from tapedown.work.wells.files import WellFact
from tapedown.work.wells.history import History, Row
from tapedown.work.wells.standing import WellNow


class RowTold(TypedDict):
    """A reading set, or a visit without one, worked out. seen: what went on, as facts; noted: the same in words."""

    entry: EntryTold
    what: str
    seen: dict[str, Any]
    noted: list[str]
    hours_since_pump: float | None
    quality: str
    struck_by: str | None
    review: Review | None
    remarks: str
    reduction: ReductionTold | None


class HistoryTold(TypedDict):
    """A well: its rows oldest first, the state of its bottom."""

    well: str
    rows: list[RowTold]
    bottom: ConditionTold | None


class StandingTold(TypedDict):
    """A well as it stands."""

    code: str
    name: str
    last: RowTold | None
    level: RowTold | None
    bottom: RowTold | None
    to_look_at: tuple[Finding, ...]


def fact_told(fact: WellFact | Held) -> FactTold:
    """An entry with what strikes it."""
    return {**entry_told(fact.entry), "struck_by": fact.struck_by}


def row_told(row: Row) -> RowTold:
    """A row with its entry and everything that was worked out."""
    return {
        "entry": entry_told(row.entry),
        "what": row.what,
        "seen": SEEN.body(row.seen),
        "noted": row.noted,
        "hours_since_pump": row.hours_since_pump,
        "quality": row.quality,
        "struck_by": row.struck_by,
        "review": row.review,
        "remarks": row.remarks,
        "reduction": reduction_told(row.value) if row.value else None,
    }


def history_told(told: History, *, struck: bool) -> HistoryTold:
    """A well's rows and the state of its bottom."""
    rows = [row_told(row) for row in told.rows if struck or row.struck_by is None]
    return {"well": told.file.code, "rows": rows, "bottom": condition_told(told.bottom) if told.bottom else None}


def standing_told(now: WellNow) -> StandingTold:
    """A well with its last row of any kind, last water level and last total depth."""
    return {
        "code": now.code,
        "name": now.name,
        "last": row_told(now.last) if now.last else None,
        "level": row_told(now.level) if now.level else None,
        "bottom": row_told(now.bottom) if now.bottom else None,
        "to_look_at": now.to_look_at,
    }
