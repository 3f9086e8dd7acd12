"""What is expected of a well, and readings unlike it, as they are told in JSON."""

from __future__ import annotations

from typing import TypedDict

from tapedown.exchange.explained_to_json import explained_told
from tapedown.exchange.to_json import predictive_told
from tapedown.exchange.told import ExplanationTold, PredictiveTold
from tapedown.work.expected.expecting import ExpectedOn
from tapedown.work.expected.explaining import Surprise


class SurpriseTold(TypedDict):
    """A reading held against what was known before it, with the likeliest explanations and what would tell."""

    entry: str
    measured_at: str
    what: str
    struck_by: str | None
    depth_m: float
    expected: PredictiveTold
    surprise: float
    surprising: bool
    verdict: str
    action: str
    ranked: list[ExplanationTold]


class ExpectedTold(TypedDict):
    """What would be read on a day, depths below land surface; null where nothing can be said."""

    on: str
    level: PredictiveTold | None
    bottom: PredictiveTold | None


def surprise_told(surprise: Surprise) -> SurpriseTold:
    """A row that is unlike its well, with what was expected and its first explanations."""
    row, explained = surprise.row, surprise.explained
    return {
        "entry": row.entry.id,
        "measured_at": row.entry.measured_at,
        "what": row.what,
        "struck_by": row.struck_by,
        "depth_m": explained.depth_m,
        "expected": predictive_told(explained.expected),
        **explained_told(explained, surprise.case.value),
    }


def expected_told(found: ExpectedOn) -> ExpectedTold:
    """What would be read on a day: distributions (Student's t) with the range of 19 readings in 20."""
    return {
        "on": found.day,
        "level": predictive_told(found.level) if found.level else None,
        "bottom": predictive_told(found.bottom) if found.bottom else None,
    }
