"""An expectation out of plain data, and the distribution for a day from it: what the field sheet asks for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tapedown.engine.expected.next_reading import NeighbourLevel, bottom_on, level_on, with_neighbours
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.expectations import Expectation, ExpectedBottom, ExpectedLevel, Neighbour
from tapedown.values.settings import Settings


def expectation_from(plain: Mapping[str, Any]) -> Expectation:
    """The expectation that `exchange.plain.plain` wrote."""
    level, bottom = plain.get("level"), plain.get("bottom")
    return Expectation(_level(level) if level else None, ExpectedBottom(**bottom) if bottom else None)


def _level(plain: Mapping[str, Any]) -> ExpectedLevel:
    lists = {
        "middles_m": tuple(plain["middles_m"]),
        "spreads_m2": tuple(plain["spreads_m2"]),
        "neighbours": tuple(Neighbour(**one) for one in plain["neighbours"]),
    }
    return ExpectedLevel(**{**plain, **lists})


def expected_once(given: Mapping[str, Any]) -> Predictive | None:
    """What is expected of one reading.

    Parameters
    ----------
    given
        Mapping with what ("level" or "bottom"), day (ISO 8601), length_unit ("ft" or "m"), expected (the well's
        expectation as `exchange.to_json.expectation_plain` wrote it) and, for a level, optionally seen: neighbours read
        about then, each with code, day, depth_m (below land surface) and its own expected.

    Returns
    -------
    Predictive or None
        Student's t, m below land surface; None where nothing can be said. A neighbour of which nothing was expected
        tells nothing.
    """
    settings, day, expected = Settings(given["length_unit"]), given["day"], expectation_from(given["expected"])
    if given["what"] == "bottom":
        return bottom_on(expected.bottom, day, settings) if expected.bottom else None
    if expected.level is None:
        return None
    alone = level_on(expected.level, day)
    seen = [one for one in map(_seen, given.get("seen", ())) if one is not None]
    return with_neighbours(alone, expected.level, day, seen, settings)


def _seen(given: Mapping[str, Any]) -> NeighbourLevel | None:
    level = expectation_from(given["expected"]).level
    return (
        NeighbourLevel(given["code"], given["day"], given["depth_m"], level_on(level, given["day"])) if level else None
    )
