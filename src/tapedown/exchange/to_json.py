"""Reductions and findings as plain data for JSON: SI numbers with the unit in the name, beside the text reported."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tapedown.engine.expected.next_reading import range_of
from tapedown.engine.methods.registry import ENGINE_VERSION
from tapedown.engine.uncertainty.digits import rounded
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.engine.well.fill import WellCondition
from tapedown.values.expectations import Expectation
from tapedown.values.results import MANY, Finding, Part, Reduction, Result, Stage
from tapedown.values.units import UNITS, from_si

if TYPE_CHECKING:  # the field sheet loads this module without the record's values
    from tapedown.values.forms import Form
    from tapedown.values.ledger.entries import Entry


def reported(result: Result, step: float, unit: str) -> str:
    """The value rounded to its reporting step, in `unit`: "82.10"."""
    return rounded(from_si(result.value_m, unit, "length"), step)


def reduction_plain(value: Reduction) -> dict[str, Any]:
    """A reduction with every step, part and finding."""
    main = value.main
    return {
        "engine_version": ENGINE_VERSION,
        "method": value.method,
        "use": value.use,
        "quality": value.quality,
        "reported": reported(main, value.digits.step, value.digits.unit) if main else None,
        "unit": value.digits.unit,
        "main": main.name if main else None,
        "vertical_datum": value.datum or None,
        "digits": value.digits._asdict(),
        "agreement": value.agreement,
        "stages": [_stage(stage) for stage in value.stages],
        "one_sided": [effect._asdict() for effect in value.one_sided],
        "findings": [finding_plain(found) for found in value.findings],
    }


def _stage(stage: Stage) -> dict[str, Any]:
    steps = [
        {
            "what": s.what,
            "amount_m": s.amount_m,
            "note": s.note,
            "source": s.source,
            "parts": [_part(p) for p in s.parts],
        }
        for s in stage.steps
    ]
    return {"starts_from": stage.starts_from or None, "steps": steps, "result": result_plain(stage.result)}


def result_plain(result: Result) -> dict[str, Any]:
    """A result; degrees of freedom beyond counting are null."""
    return {**result._asdict(), "dof": _dof(result.dof)}


def _part(part: Part) -> dict[str, Any]:
    return {**part._asdict(), "dof": _dof(part.dof)}


def _dof(dof: float) -> float | None:
    return None if dof >= MANY else dof


def finding_plain(found: Finding) -> dict[str, Any]:
    """A finding as plain data."""
    return dict(found._asdict())


def entry_plain(entry: Entry) -> dict[str, Any]:
    """An entry with its body as JSON values."""
    return {**entry._asdict(), "body": entry.data}


def form_plain(form: Form, length_unit: str) -> list[dict[str, Any]]:
    """The fields of a form; `unit` is the one taken in a foot or metre network when none is written."""
    return [
        {
            "name": field.name,
            "kind": field.kind,
            "help": field.help,
            "required": field.required,
            "several": field.many,
            "choices": list(field.choices),
            "asked": field.asked,
            "gear": list(field.gear),
            "unit": field.unit(length_unit) if field.kind in UNITS else "",
            "fields": form_plain(field.form, length_unit) if field.form is not None else [],
        }
        for field in form.asked
    ]


def condition_plain(condition: WellCondition) -> dict[str, Any]:
    """State of a well's bottom."""
    projection = condition.projection
    return {
        "since": condition.since,
        "fill": result_plain(condition.fill) if condition.fill else None,
        "real": condition.real,
        "screens": [
            {"top": str(b.screen.top), "bottom": str(b.screen.bottom), "buried_m": b.buried_m, "share": b.share}
            for b in condition.screens
        ],
        "rate_m_per_year": result_plain(condition.rate) if condition.rate else None,
        "projection": None
        if projection is None
        else {
            "share": projection.share,
            "on": projection.on,
            "earliest": projection.earliest,
            "latest": projection.latest,
        },
        "findings": [finding_plain(found) for found in condition.findings],
    }


def expectation_plain(expected: Expectation) -> dict[str, Any]:
    """An expectation as the pack carries it (`engine.one_off.expected.expectation_from` reads it back)."""
    level, bottom = expected
    written = None
    if level is not None:
        lists = {"middles_m": list(level.middles_m), "spreads_m2": list(level.spreads_m2)}
        written = {**level._asdict(), **lists, "neighbours": [one._asdict() for one in level.neighbours]}
    return {"level": written, "bottom": bottom._asdict() if bottom else None}


def predictive_plain(predictive: Predictive) -> dict[str, Any]:
    """A distribution with its range."""
    return {**predictive._asdict(), **range_of(predictive)._asdict()}
