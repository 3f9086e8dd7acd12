"""What a well is expected to show next, from its history: which readings count, and the fit of them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from statistics import median
from typing import TYPE_CHECKING, NamedTuple

from tapedown.engine.checks.at_the_well import DEEPER_THAN, NOT_NOTED, STATIC
from tapedown.engine.expected.next_reading import bottom_on, level_on
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.days import day_number
from tapedown.values.expectations import Expectation, ExpectedBottom, Neighbour
from tapedown.values.results import BELOW_LAND, Result
from tapedown.values.settings import Settings
from tapedown.values.times import zone
from tapedown.work.networks import OpenNetwork
from tapedown.work.rounds.planning import today
from tapedown.work.wells.files import WellFile
from tapedown.work.wells.history import USABLE, History, Row

if TYPE_CHECKING:
    from tapedown.analysis.expected_level import LevelFit

NOT_BY_HAND = "logger check"
"""A reading that repeats what a logger showed is no reading of its own."""


def expectation(told: History, before: str = "") -> Expectation:
    """What the well is expected to show, from all that was read there, or from what was read before a day."""
    return _fitted(told, before)[0]


def expectations(histories: Sequence[History]) -> dict[str, Expectation]:
    """Of the wells of a round, each with those of the others that move together with it."""
    from tapedown.analysis.co_moving import neighbours

    fits = {one.file.code: _fitted(one) for one in histories}
    near = neighbours({code: fit.surprises for code, (_, fit) in fits.items() if fit is not None})
    return {code: _among(own, near.get(code, ())) for code, (own, _) in fits.items()}


class ExpectedOn(NamedTuple):
    """What would be read on a day, None where nothing can be said; `expected` gives any other day."""

    day: str
    level: Predictive | None
    bottom: Predictive | None
    expected: Expectation


def expected_now(told: History, network: OpenNetwork) -> ExpectedOn:
    """What the well is expected to show today, or on the day that the network is looked at as known on."""
    at = network.as_of
    local = datetime.fromisoformat(at).astimezone(zone(network.facts.zone)).date().isoformat() if at else ""
    return expected_on(told, local or today(network), network.settings)


def expected_on(told: History, day: str, settings: Settings) -> ExpectedOn:
    """What the well is expected to show on a day."""
    expected = expectation(told)
    level = level_on(expected.level, day) if expected.level else None
    return ExpectedOn(day, level, bottom_on(expected.bottom, day, settings) if expected.bottom else None, expected)


def _among(own: Expectation, near: tuple[Neighbour, ...]) -> Expectation:
    return own._replace(level=own.level._replace(neighbours=near)) if own.level and near else own


def _fitted(well_history: History, before: str = "") -> tuple[Expectation, LevelFit | None]:
    """The expectation, and the fit behind its level where anything was read."""
    from tapedown.analysis.expected_level import expected_level, unread_level  # scipy: a third of a second to load

    dated = [row for row in well_history.rows if row.entry.measured_at]
    rows = [row for row in dated if not before or row.entry.measured_at[:10] < before[:10]]
    bottom, levels = _bottom(rows, well_history.file), static_levels(rows)
    if not levels:
        return Expectation(unread_level(bottom.depth_m) if bottom else None, bottom), None
    days = [day_number(row.entry.measured_at) for row, _ in levels]
    depths_m = [float(below.value_m) for _, below in levels]
    dry = sum(row.value is not None and row.value.use == DEEPER_THAN for row, _ in levels)
    fit = expected_level(days, depths_m, u_m=median(float(below.u_m) for _, below in levels), dry=dry)
    return Expectation(fit.expected, bottom), fit


def static_levels(rows: Sequence[Row]) -> list[tuple[Row, Result]]:
    """Levels read by hand that, as far as noted, nothing disturbed: the row and its depth below land surface.

    Of a dry well the depth the tape reached: the level was no shallower.
    """
    by_hand = [row for row in rows if row.what != NOT_BY_HAND]
    return [(row, below) for row in by_hand if (below := _dry(row) or _usable(row, (STATIC, NOT_NOTED))) is not None]


def _dry(row: Row) -> Result | None:
    """The depth reached where water was not; its quality is "missing", for it is no level."""
    noted = row.value is not None and row.value.use == DEEPER_THAN
    return row.value.result(BELOW_LAND) if noted and row.value and not row.struck_by else None


def _bottom(rows: Sequence[Row], file: WellFile) -> ExpectedBottom | None:
    from tapedown.analysis.expected_bottom import Depth, Reason, completed_bottom, expected_bottom

    depths = [
        Depth(day_number(row.entry.measured_at), float(below.value_m), float(below.u_m))
        for row in rows
        if (below := _usable(row, (TOTAL_DEPTH,))) is not None
    ]
    built = [(fact.entry.measured_at, fact.value) for fact in file.of_kind("construction")]
    if depths:
        reasons = [Reason(day_number(on), f"construction of {on[:10]}") for on, _ in built[1:] if on]
        return expected_bottom(depths, reasons)
    if not built:
        return None
    on, newest = built[-1]
    return completed_bottom(newest.completed_depth.si, on[:10]) if newest.completed_depth else None


def _usable(row: Row, uses: Sequence[str]) -> Result | None:
    if row.value is None or row.struck_by or row.quality not in USABLE or row.value.use not in uses:
        return None
    return row.value.result(BELOW_LAND)
