"""What is expected of a well, and readings unlike it, as plain data for JSON."""

from __future__ import annotations

from typing import Any

from tapedown.exchange.explained_to_json import explained_plain
from tapedown.exchange.to_json import predictive_plain
from tapedown.work.expected.expecting import ExpectedOn
from tapedown.work.expected.explaining import Surprise


def surprise_plain(surprise: Surprise) -> dict[str, Any]:
    """A row that is unlike its well, with what was expected and its first explanations."""
    row, explained = surprise.row, surprise.explained
    return {
        "entry": row.entry.id,
        "measured_at": row.entry.measured_at,
        "what": row.what,
        "struck_by": row.struck_by,
        "depth_m": explained.depth_m,
        "expected": predictive_plain(explained.expected),
        **explained_plain(explained, surprise.case.value),
    }


def expected_plain(found: ExpectedOn) -> dict[str, Any]:
    """What would be read on a day: distributions (Student's t) with the range of 19 readings in 20."""
    return {
        "on": found.day,
        "level": predictive_plain(found.level) if found.level else None,
        "bottom": predictive_plain(found.bottom) if found.bottom else None,
    }
