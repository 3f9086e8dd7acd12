"""A one-off reduction: everything in one file, no record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tapedown.engine.one_off import reading as once
from tapedown.values.results import Reduction
from tapedown.values.settings import Settings
from tapedown.work.refusals import WrittenWrong


def reduce_once(given: Mapping[str, Any]) -> tuple[Reduction, Settings]:
    """Work out one reading set from a plain mapping (see `tapedown.engine.one_off.reading.reduce_once`).

    Raises
    ------
    WrittenWrong
        Every problem with its place and mend.
    """
    outcome = once.reduce_once(given)
    if outcome.value is None:
        raise WrittenWrong("the reduction", outcome.problems)
    return outcome.value, outcome.settings
