"""Rows of a history and wells as they stand, as plain data for JSON."""

from __future__ import annotations

from typing import Any

from tapedown.exchange.to_json import condition_plain, entry_plain, finding_plain, reduction_plain
from tapedown.values.seen import SEEN
from tapedown.work.wells.history import History, Row
from tapedown.work.wells.standing import WellNow


def row_plain(row: Row) -> dict[str, Any]:
    """A row with its entry and everything that was worked out."""
    return {
        "entry": entry_plain(row.entry),
        "what": row.what,
        "seen": SEEN.body(row.seen),
        "noted": row.noted,
        "hours_since_pump": row.hours_since_pump,
        "quality": row.quality,
        "struck_by": row.struck_by,
        "review": row.review._asdict() if row.review else None,
        "remarks": row.remarks,
        "reduction": reduction_plain(row.value) if row.value else None,
    }


def history_plain(told: History, *, struck: bool) -> dict[str, Any]:
    """A well's rows and the state of its bottom."""
    rows = [row_plain(row) for row in told.rows if struck or row.struck_by is None]
    return {"well": told.file.code, "rows": rows, "bottom": condition_plain(told.bottom) if told.bottom else None}


def well_now_plain(now: WellNow) -> dict[str, Any]:
    """A well with its last row of any kind, last water level and last total depth."""
    rows = {"last": now.last, "level": now.level, "bottom": now.bottom}
    return {
        "code": now.code,
        "name": now.name,
        **{name: row_plain(row) if row else None for name, row in rows.items()},
        "to_look_at": [finding_plain(f) for f in now.to_look_at],
    }
