"""An explained reading as told in JSON; apart from `to_json`, for the sheet loads it after the engine is ready."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tapedown.engine.explaining.weigh import Explained, Ranked, how_likely, in_percent
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.results import Digits, Reduction
from tapedown.values.units import from_si

if TYPE_CHECKING:  # as in `to_json`
    from tapedown.exchange.shapes import ExplainedJson, ExplanationJson


def explained_to_json(explained: Explained, value: Reduction) -> ExplainedJson:
    """A reading weighed against its well, with its first explanations; corrected values as they would be reported."""
    return {
        "surprise": explained.surprise,
        "surprising": explained.surprising,
        "verdict": explained.verdict,
        "action": explained.action,
        "ranked": [_explanation(row, value.digits) for row in explained.first()],
    }


def _explanation(row: Ranked, digits: Digits) -> ExplanationJson:
    corrected = None if row.corrected_m is None else from_si(row.corrected_m, digits.unit, "length")
    return {
        "name": row.name,
        "probability": row.probability,
        "corrected_m": row.corrected_m,
        "words": row.words,
        "likely": how_likely(row.probability),
        "percent": in_percent(row.probability),
        "corrected": None if corrected is None else f"{rounded(corrected, digits.step)} {digits.unit}",
    }
