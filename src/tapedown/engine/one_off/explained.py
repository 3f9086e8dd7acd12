"""One reading set with what its well should show, out of plain data: why it may be unlike it. The field sheet asks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from tapedown.engine.expected.next_reading import bottom_on, level_on
from tapedown.engine.explaining.case import ALONE, Around, Case, OtherWell, case_of
from tapedown.engine.explaining.weigh import Explained, explain
from tapedown.engine.one_off.expected import expectation_from, expected_once
from tapedown.engine.one_off.reading import read_once
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values import wells
from tapedown.values.settings import Settings
from tapedown.values.written import written


class Surroundings(NamedTuple):
    """What a well should show, and what is known around it: the same for every reading of a day.

    expected  what is expected of the reading, None where nothing can be said
    around    other heights of the point, other wells, the bottom
    """

    expected: Predictive | None
    around: Around


class ExplainedOnce(NamedTuple):
    """An explained set with its case."""

    case: Case
    explained: Explained


def explained_once(given: Mapping[str, Any], known: Surroundings) -> ExplainedOnce | None:
    """Explain one reading set out of plain data.

    Parameters
    ----------
    given
        The mapping of `tapedown.engine.one_off.reading.reduce_once`, with all gear and calibrations at hand.
    known
        What the well should show, as `surroundings` read it.

    Returns
    -------
    ExplainedOnce or None
        None where the set cannot be read, nothing was expected of it, or it has no value to hold against the well.
    """
    if known.expected is None:
        return None
    read, context, problems = read_once(given)
    if read is None or problems:
        return None
    case = case_of(read.method, read.read, context, known.expected, known.around)
    return ExplainedOnce(case, explain(case)) if case is not None else None


def surroundings(given: Mapping[str, Any]) -> Surroundings:
    """Read what stays the same while the readings of a well are typed.

    Parameters
    ----------
    given
        Mapping with expecting (that of `expected_once`, or None), points (the well's other measuring points) and others
        (the wells nearby, each with code, expected, its measuring point and its nearness). Of these, what cannot be
        read is left out.

    Returns
    -------
    Surroundings
        Without an expectation where expecting is left out or says nothing.
    """
    if not given.get("expecting"):
        return Surroundings(None, ALONE)
    return Surroundings(expected_once(given["expecting"]), _around(given))


def _around(given: Mapping[str, Any]) -> Around:
    asked = given["expecting"]
    unit = asked["length_unit"]
    points = [wells.FORMS["measuring point"].read(body, unit)[0] for body in given.get("points", ())]
    others = [_other(other, asked["day"], unit) for other in given.get("others", ())]
    bottom = expectation_from(asked["expected"]).bottom
    return Around(
        tuple(point for point in points if point is not None),
        tuple(other for other in others if other is not None),
        bottom_on(bottom, asked["day"], Settings(unit)) if bottom else None,
    )


def _other(given: Mapping[str, Any], day: str, unit: str) -> OtherWell | None:
    """Read by hand: a whole form for each well of a round would take longer than all explanations together."""
    point, level = given.get("point"), expectation_from(given["expected"]).level if given.get("expected") else None
    if not point or level is None:
        return None
    sign = -1.0 if point["side"] == "below" else 1.0
    height_m = sign * abs(written(point["height"], unit).si)
    return OtherWell(given["code"], level_on(level, day), height_m, float(given.get("nearness", 1.0)))
