"""What is told in JSON where that is not just the fields of a value. Lengths in m unless names say else.

`plain` makes plain data of it.
"""

from __future__ import annotations

from typing import Any, TypedDict

from tapedown.engine.well.fill import Projection, WellCondition
from tapedown.values.forms import Form
from tapedown.values.ledger.entries import Entry
from tapedown.values.results import Digits, Finding, OneSided, Part, Result
from tapedown.values.units import UNITS


class EntryJson(TypedDict):
    """An entry of the record."""

    id: str
    kind: str
    about: str
    measured_at: str
    written_at: str
    by: str
    body: dict[str, Any]
    strikes: str | None
    reason: str
    device: str
    sequence: int
    previous: str
    digest: str


class FactJson(EntryJson):
    """An entry about a well, with what strikes it."""

    struck_by: str | None


class FieldJson(TypedDict):
    """A field of a form; fields are those of its rows. unit is the one taken when none is written with the number.

    asked is "first" (before anything is read), "moving" (the same where the water moves), "" or "seldom"; gear holds
    the types of gear whose serial number it takes.
    """

    name: str
    kind: str
    help: str
    required: bool
    several: bool
    choices: tuple[str, ...]
    asked: str
    gear: tuple[str, ...]
    unit: str
    fields: list[FieldJson]


class StepJson(TypedDict):
    """One line of the sum; amount_m is the amount to add."""

    what: str
    amount_m: float
    note: str
    source: str
    parts: tuple[Part, ...]


class StageJson(TypedDict):
    """A stretch of the sum and the result it reaches."""

    starts_from: str | None
    steps: list[StepJson]
    result: Result


class ReductionJson(TypedDict):
    """A reading set worked out."""

    engine_version: str
    method: str
    use: str
    quality: str
    reported: str | None
    unit: str
    main: str | None
    vertical_datum: str | None
    digits: Digits
    agreement: str
    stages: list[StageJson]
    one_sided: tuple[OneSided, ...]
    findings: tuple[Finding, ...]


class ScreenJson(TypedDict):
    """A screen and how much of it is buried."""

    top: str
    bottom: str
    buried_m: float
    share: float


class ConditionJson(TypedDict):
    """State of the bottom of a well."""

    since: str
    fill: Result | None
    real: bool
    screens: list[ScreenJson]
    rate_m_per_year: Result | None
    projection: Projection | None
    findings: tuple[Finding, ...]


class PredictiveJson(TypedDict):
    """Where a reading is expected: Student's t about a middle, and the range of 19 readings in 20."""

    middle_m: float
    scale_m: float
    dof: float
    low_m: float
    high_m: float
    how: str


class ExplanationJson(TypedDict):
    """One explanation: its probability, the depth it would mean (null: this well was not read), what happened."""

    name: str
    probability: float
    likely: str
    percent: str
    corrected_m: float | None
    corrected: str | None
    words: str


class ExplainedJson(TypedDict):
    """A reading held against what was known before it, with the likeliest explanations and what would tell."""

    surprise: float
    surprising: bool
    verdict: str
    action: str
    ranked: list[ExplanationJson]


def entry_to_json(entry: Entry) -> EntryJson:
    """An entry with its body as JSON values."""
    return {
        "id": entry.id,
        "kind": entry.kind,
        "about": entry.about,
        "measured_at": entry.measured_at,
        "written_at": entry.written_at,
        "by": entry.by,
        "body": entry.data,
        "strikes": entry.strikes,
        "reason": entry.reason,
        "device": entry.device,
        "sequence": entry.sequence,
        "previous": entry.previous,
        "digest": entry.digest,
    }


def form_to_json(form: Form, length_unit: str) -> list[FieldJson]:
    """The fields of a form; `unit` is the one taken in a foot or metre network when none is written."""
    return [
        {
            "name": field.name,
            "kind": field.kind,
            "help": field.help,
            "required": field.required,
            "several": field.many,
            "choices": field.choices,
            "asked": field.asked,
            "gear": field.gear,
            "unit": field.unit(length_unit) if field.kind in UNITS else "",
            "fields": form_to_json(field.form, length_unit) if field.form is not None else [],
        }
        for field in form.asked
    ]


def condition_to_json(condition: WellCondition) -> ConditionJson:
    """State of a well's bottom."""
    return {
        "since": condition.since,
        "fill": condition.fill,
        "real": condition.real,
        "screens": [
            {"top": str(b.screen.top), "bottom": str(b.screen.bottom), "buried_m": b.buried_m, "share": b.share}
            for b in condition.screens
        ],
        "rate_m_per_year": condition.rate,
        "projection": condition.projection,
        "findings": condition.findings,
    }
