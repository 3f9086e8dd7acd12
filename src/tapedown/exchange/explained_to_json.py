"""An explained reading as plain data; apart from `plain`, for the sheet loads it after the engine is ready."""

from __future__ import annotations

from typing import Any

from tapedown.engine.explaining.weigh import Explained, Ranked, how_likely, in_percent
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.results import Digits, Reduction
from tapedown.values.units import from_si


def explained_plain(explained: Explained, value: Reduction) -> dict[str, Any]:
    """A reading weighed against its well, with its first explanations; corrected values as they would be reported."""
    return {
        "surprise": explained.surprise,
        "surprising": explained.surprising,
        "verdict": explained.verdict,
        "action": explained.action,
        "ranked": [_explanation(row, value.digits) for row in explained.first()],
    }


def _explanation(row: Ranked, digits: Digits) -> dict[str, Any]:
    corrected = None if row.corrected_m is None else from_si(row.corrected_m, digits.unit, "length")
    return {
        **row._asdict(),
        "likely": how_likely(row.probability),
        "percent": in_percent(row.probability),
        "corrected": None if corrected is None else f"{rounded(corrected, digits.step)} {digits.unit}",
    }
