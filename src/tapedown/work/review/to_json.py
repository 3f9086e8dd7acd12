"""Queue, repeats, sign-offs and comparisons as plain data for JSON. Lengths in m; a missing figure is null."""

from __future__ import annotations

from typing import Any

from tapedown.exchange.to_json import entry_plain
from tapedown.work.entry.comparing import ComparisonEntered
from tapedown.work.review.queue import Item, Queue
from tapedown.work.review.remeasures import Again, Repeats
from tapedown.work.review.reviewing import Reviewed
from tapedown.work.review.signing import SetAsSigned, Signed
from tapedown.work.wells.to_json import row_plain


def queue_plain(queue: Queue) -> dict[str, Any]:
    """The queue in its order."""
    return {"items": [_item(item) for item in queue.items], "older": queue.older}


def _item(item: Item) -> dict[str, Any]:
    again = again_plain(item.again) if item.again else None
    told = {"well": item.code, "value": row_plain(item.row), "review": reviewed_plain(item.review), "again": again}
    return {**told, **item.worth._asdict()}


def reviewed_plain(state: Reviewed) -> dict[str, Any]:
    """Who looked at a value and who still must."""
    return {
        "looks": [look._asdict() for look in state.looks],
        "readers": list(state.readers),
        "people": list(state.people),
        "needed": state.needed,
        "missing": state.missing,
    }


def again_plain(again: Again) -> dict[str, Any]:
    """A request to measure a well again."""
    return {
        "well": again.code,
        "request": again.entry.id,
        "why": again.request.why,
        "drawing": again.request.drawing or None,
        "asked_by": again.entry.by,
        "asked_at": again.entry.measured_at,
        "original": again.original.id if again.original else None,
        "answer": again.answer.id if again.answer else None,
    }


def repeats_plain(found: Repeats) -> dict[str, Any]:
    """The observed repeat error, its pairs and what is waited for."""
    pairs = [
        {
            **again_plain(one.again),
            "method": one.first.what,
            "first_at": one.first.entry.measured_at,
            "second_at": one.second.entry.measured_at,
            "difference_m": one.difference_m,
            "u_m": one.u_m,
            "late": one.late,
        }
        for one in found.repeats
    ]
    by_method = {method: error._asdict() for method, error in found.by_method.items()}
    return {
        "error": found.error._asdict(),
        "by_method": by_method,
        "pairs": pairs,
        "waiting": [again_plain(one) for one in found.waiting],
    }


def signed_plain(signed: Signed) -> dict[str, Any]:
    """A sign-off."""
    value = signed.value
    return {
        "entry": entry_plain(signed.entry),
        "name": value.name,
        "by": signed.entry.by,
        "statement": value.statement,
        "wells": list(value.wells),
        "since": value.since,
        "until": value.until,
        "as_of": value.as_of,
        "entries": int(value.entries.si),
        "tree_head": value.tree_head,
        "follows": value.follows or None,
        "unreviewed": int(value.unreviewed.si),
        "why_unreviewed": value.why_unreviewed,
        "struck_by": signed.struck_by,
        "words": signed.words,
    }


def as_signed_plain(found: SetAsSigned) -> dict[str, Any]:
    """A signed set with its values as they stood then and what was struck since."""
    values = {code: [row_plain(row) for row in rows] for code, rows in found.rows.items()}
    struck = {entry_id: entry_plain(striker) for entry_id, striker in found.struck.items()}
    return {**signed_plain(found.signed), "values": values, "struck_since": struck}


def compared_plain(one: ComparisonEntered, level: float) -> dict[str, Any]:
    """A side-by-side comparison and what it comes to; the line at each mark."""
    found = one.found
    line = None
    if found.line is not None:
        line = {"offset_m": found.line.offset_m, "slope": found.line.slope, "residual_m": found.line.residual_m}
    marks = []
    for mark in found.marks:
        at = found.at(mark.shown_m, level)
        fitted = {"line_add_m": at[0] if at else None, "line_expanded_m": at[1] if at else None}
        marks.append({**mark._asdict(), "add_m": mark.add_m, **fitted})
    return {
        "entry": entry_plain(one.entry),
        "reference": one.value.reference,
        "marks": marks,
        "line": line,
        "within": found.within,
        "apply": found.apply,
        "used_by": one.used_by.id if one.used_by else None,
    }
