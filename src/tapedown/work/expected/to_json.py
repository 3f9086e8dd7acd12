"""What is expected of a well, and readings unlike it, as they are told in JSON."""

from __future__ import annotations

from typing import TypedDict

from tapedown.exchange.explained_to_json import explained_to_json
from tapedown.exchange.shapes import ExplanationJson, PredictiveJson
from tapedown.exchange.to_json import predictive_to_json
from tapedown.work.expected.expecting import ExpectedOn
from tapedown.work.expected.explaining import Surprise


class SurpriseJson(TypedDict):
    """A reading held against what was known before it, with the likeliest explanations and what would tell."""

    entry: str
    measured_at: str
    what: str
    struck_by: str | None
    depth_m: float
    expected: PredictiveJson
    surprise: float
    surprising: bool
    verdict: str
    action: str
    ranked: list[ExplanationJson]


class ExpectedJson(TypedDict):
    """What would be read on a day, depths below land surface; null where nothing can be said."""

    on: str
    level: PredictiveJson | None
    bottom: PredictiveJson | None


def surprise_to_json(surprise: Surprise) -> SurpriseJson:
    """A row that is unlike its well, with what was expected and its first explanations."""
    row, explained = surprise.row, surprise.explained
    return {
        "entry": row.entry.id,
        "measured_at": row.entry.measured_at,
        "what": row.what,
        "struck_by": row.struck_by,
        "depth_m": explained.depth_m,
        "expected": predictive_to_json(explained.expected),
        **explained_to_json(explained, surprise.case.value),
    }


def expected_to_json(found: ExpectedOn) -> ExpectedJson:
    """What would be read on a day: distributions (Student's t) with the range of 19 readings in 20."""
    return {
        "on": found.day,
        "level": predictive_to_json(found.level) if found.level else None,
        "bottom": predictive_to_json(found.bottom) if found.bottom else None,
    }
