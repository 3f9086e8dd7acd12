"""Queue, repeats, sign-offs and comparisons as they are told in JSON. Lengths in m; a missing figure is null."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypedDict

from tapedown.analysis.repeat_error import RepeatError
from tapedown.engine.tape.calibration import FittedLine
from tapedown.exchange.shapes import EntryJson, entry_to_json
from tapedown.work.entry.comparing import ComparisonEntered
from tapedown.work.review.queue import Item, Queue
from tapedown.work.review.remeasures import Again, Repeats
from tapedown.work.review.reviewing import Look, Reviewed
from tapedown.work.review.signing import SetAsSigned, Signed
from tapedown.work.wells.to_json import RowJson, row_to_json


class ReviewedJson(TypedDict):
    """Who looked at a value and who still must; readers do not count."""

    looks: tuple[Look, ...]
    readers: tuple[str, ...]
    people: tuple[str, ...]
    needed: int
    missing: int


class AgainJson(TypedDict):
    """A request to measure a well again; drawing is null when a person asked, answer while it is open."""

    well: str
    request: str
    why: str
    drawing: str | None
    asked_by: str
    asked_at: str
    original: str | None
    answer: str | None


class ItemJson(TypedDict):
    """A value that waits for a look, with what the look is worth."""

    well: str
    value: RowJson
    review: ReviewedJson
    again: AgainJson | None
    chance: float
    moves_m: float
    worth_m: float


class WaitingJson(TypedDict):
    """What waits for a look, in its order; older readings are counted, not looked through."""

    items: list[ItemJson]
    older: int


class RepeatJson(AgainJson):
    """A drawn well measured twice: second less first, and the standard uncertainty claimed for that."""

    method: str
    first_at: str
    second_at: str
    difference_m: float
    u_m: float
    late: bool


class RepeatsJson(TypedDict):
    """All drawn repeats and what they say."""

    error: RepeatError
    by_method: Mapping[str, RepeatError]
    pairs: list[RepeatJson]
    waiting: list[AgainJson]


class SignedJson(TypedDict):
    """A sign-off."""

    entry: EntryJson
    name: str
    by: str
    statement: str
    wells: tuple[str, ...]
    since: str
    until: str
    as_of: str
    entries: int
    tree_head: str
    follows: str | None
    unreviewed: int
    why_unreviewed: str
    struck_by: str | None
    words: str


class SetJson(SignedJson):
    """A signed set with its values as they stood then; struck_since: entry -> what struck it."""

    values: dict[str, list[RowJson]]
    struck_since: dict[str, EntryJson]


class ComparedMarkJson(TypedDict):
    """One depth of a comparison: shown, true by the corrected reference, amount to add, and that by the line."""

    shown_m: float
    true_m: float
    u_m: float
    add_m: float
    line_add_m: float | None
    line_expanded_m: float | None


class LineJson(TypedDict):
    """true = offset + slope * shown."""

    offset_m: float
    slope: float
    residual_m: float


class ComparedJson(TypedDict):
    """A side-by-side comparison; within: year of the document -> whether its allowed difference is kept."""

    entry: EntryJson
    reference: str
    marks: list[ComparedMarkJson]
    line: LineJson | None
    within: dict[str, bool]
    apply: str
    used_by: str | None


def queue_to_json(queue: Queue) -> WaitingJson:
    """The queue in its order."""
    return {"items": [_item(item) for item in queue.items], "older": queue.older}


def _item(item: Item) -> ItemJson:
    return {
        "well": item.code,
        "value": row_to_json(item.row),
        "review": reviewed_to_json(item.review),
        "again": again_to_json(item.again) if item.again else None,
        "chance": item.worth.chance,
        "moves_m": item.worth.moves_m,
        "worth_m": item.worth.worth_m,
    }


def reviewed_to_json(state: Reviewed) -> ReviewedJson:
    """Who looked at a value and who still must."""
    return {
        "looks": state.looks,
        "readers": state.readers,
        "people": state.people,
        "needed": state.needed,
        "missing": state.missing,
    }


def again_to_json(again: Again) -> AgainJson:
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


def repeats_to_json(found: Repeats) -> RepeatsJson:
    """The observed repeat error, its pairs and what is waited for."""
    pairs: list[RepeatJson] = [
        {
            **again_to_json(one.again),
            "method": one.first.what,
            "first_at": one.first.entry.measured_at,
            "second_at": one.second.entry.measured_at,
            "difference_m": one.difference_m,
            "u_m": one.u_m,
            "late": one.late,
        }
        for one in found.repeats
    ]
    waiting = [again_to_json(one) for one in found.waiting]
    return {"error": found.error, "by_method": found.by_method, "pairs": pairs, "waiting": waiting}


def signed_to_json(signed: Signed) -> SignedJson:
    """A sign-off."""
    value = signed.value
    return {
        "entry": entry_to_json(signed.entry),
        "name": value.name,
        "by": signed.entry.by,
        "statement": value.statement,
        "wells": value.wells,
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


def as_signed_to_json(found: SetAsSigned) -> SetJson:
    """A signed set with its values as they stood then and what was struck since."""
    values = {code: [row_to_json(row) for row in rows] for code, rows in found.rows.items()}
    struck = {entry_id: entry_to_json(striker) for entry_id, striker in found.struck.items()}
    return {**signed_to_json(found.signed), "values": values, "struck_since": struck}


def _line(line: FittedLine) -> LineJson:
    return {"offset_m": line.offset_m, "slope": line.slope, "residual_m": line.residual_m}


def compared_to_json(one: ComparisonEntered, level: float) -> ComparedJson:
    """A side-by-side comparison and what it comes to; the line at each mark."""
    found = one.found
    marks: list[ComparedMarkJson] = []
    for mark in found.marks:
        add_m, expanded_m = found.at(mark.shown_m, level) or (None, None)
        marks.append(
            {
                "shown_m": mark.shown_m,
                "true_m": mark.true_m,
                "u_m": mark.u_m,
                "add_m": mark.add_m,
                "line_add_m": add_m,
                "line_expanded_m": expanded_m,
            }
        )
    return {
        "entry": entry_to_json(one.entry),
        "reference": one.value.reference,
        "marks": marks,
        "line": _line(found.line) if found.line else None,
        "within": found.within,
        "apply": found.apply,
        "used_by": one.used_by.id if one.used_by else None,
    }
