"""Reductions as told in JSON: SI numbers with the unit in the name, beside the text reported."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tapedown.engine.expected.next_reading import range_of
from tapedown.engine.methods.registry import ENGINE_VERSION
from tapedown.engine.uncertainty.digits import rounded
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.results import Reduction, Result, Stage
from tapedown.values.units import from_si

if TYPE_CHECKING:  # the field sheet loads this module without them
    from tapedown.exchange.shapes import PredictiveJson, ReductionJson, StageJson


def reported(result: Result, step: float, unit: str) -> str:
    """The value rounded to its reporting step, in `unit`: "82.10"."""
    return rounded(from_si(result.value_m, unit, "length"), step)


def reduction_to_json(value: Reduction) -> ReductionJson:
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
        "digits": value.digits,
        "agreement": value.agreement,
        "stages": [_stage(stage) for stage in value.stages],
        "one_sided": value.one_sided,
        "findings": value.findings,
    }


def _stage(stage: Stage) -> StageJson:
    return {
        "starts_from": stage.starts_from or None,
        "steps": [
            {"what": s.what, "amount_m": s.amount_m, "note": s.note, "source": s.source, "parts": s.parts}
            for s in stage.steps
        ],
        "result": stage.result,
    }


def predictive_to_json(predictive: Predictive) -> PredictiveJson:
    """A distribution with its range."""
    low_m, high_m, how = range_of(predictive)
    middle_m, scale_m, dof, _ = predictive
    return {"middle_m": middle_m, "scale_m": scale_m, "dof": dof, "how": how, "low_m": low_m, "high_m": high_m}
