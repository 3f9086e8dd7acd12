"""How the water of a well moved between two readings that stand for the same."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.checks.at_the_well import DEEPER_THAN, NOTHING
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.engine.uncertainty.digits import own_step, spread
from tapedown.engine.well.fill import Sounding, change_is_real
from tapedown.reports.words import day_text, length_text
from tapedown.values.results import BELOW_LAND, Reduction
from tapedown.work.networks import OpenNetwork
from tapedown.work.wells.history import Row

STOP = "stop"
"""Weight of a finding after which a value must not be used as it stands."""


def unusable(value: Reduction) -> bool:
    """Whether a value must not be used as it stands."""
    return any(finding.weight == STOP for finding in value.findings)


def change_text(rows: Sequence[Row], network: OpenNetwork) -> str:
    """How the water moved since the last reading that stands for the same: "rose 1.90 ft ± 0.02 since 4 Sep 2025".

    What the two share (tape, measuring point) cancels in the uncertainty. "" where there are no two, for a well that
    is dry now, and where the last value must not be used.
    """
    levels = _levels(rows)
    same = [level for level in levels if level.use == levels[-1].use][-2:]
    if len(same) < 2 or levels[-1].use in {DEEPER_THAN, STOP}:
        return ""
    before, after = same
    change, expanded, real = change_is_real(after.sounding, before.sounding, network.settings.si("coverage"))
    step = max(before.step, after.step)
    moved = f"{length_text(abs(change), network.unit, step)} ± {spread(expanded, network.unit, step)}"
    verb = ("fell" if change > 0 else "rose") if real else "no change seen,"
    return f"{verb} {moved} since {day_text(before.sounding.on)}"


class _Level(NamedTuple):
    """A level as a change is counted from: what it stands for (STOP: nothing), reporting step, depth with its parts."""

    use: str
    step: float
    sounding: Sounding


def _levels(rows: Sequence[Row]) -> list[_Level]:
    """The standing levels below land surface, bounds too, oldest first."""
    levels = []
    for row in rows:
        below = row.value.result(BELOW_LAND) if row.value and not row.struck_by else None
        if row.value is None or below is None or row.value.use in {TOTAL_DEPTH, NOTHING}:
            continue
        sounding = Sounding(row.entry.measured_at[:10], float(below.value_m), tuple(row.value.parts))
        use = STOP if unusable(row.value) else row.value.use
        levels.append(_Level(use, own_step(below, row.value.digits), sounding))
    return levels
