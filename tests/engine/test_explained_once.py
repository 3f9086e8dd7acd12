"""What the sheet asks and the answer it gets: plain data in, plain data out."""

from __future__ import annotations

from typing import Any

import pytest

from tapedown.analysis.expected_level import expected_level
from tapedown.engine.one_off.explained import ExplainedOnce, explained_once, surroundings
from tapedown.engine.one_off.reading import reduce_once
from tapedown.exchange.explained_to_json import explained_to_json
from tapedown.exchange.plain import plain
from tapedown.values.days import day_number
from tapedown.values.expectations import Expectation
from tests.engine.at_the_well import FOOT_M

DAYS = [day_number("2024-01-05") + 30 * i for i in range(20)]
POINT = {"name": "MP-1", "height": "1.50", "side": "above", "description": "notch"}


def told(middle_ft: float) -> dict[str, Any]:
    """The expectation of a well that moves by hundredths of a foot."""
    depths = [(middle_ft + 0.03 * ((i * 7) % 5 - 2)) * FOOT_M for i in range(20)]
    found: dict[str, Any] = plain(Expectation(expected_level(DAYS, depths).expected, None))
    return found


def given(*readings: str) -> dict[str, Any]:
    return {"method": "electric tape", "readings": list(readings), "point": POINT, "when": "2025-09-02T10:00"}


def explained(*readings: str, **around: Any) -> ExplainedOnce | None:
    expecting = {"what": "level", "day": "2025-09-02", "length_unit": "ft", "expected": told(22.5)}
    return explained_once(given(*readings), surroundings({"expecting": expecting, **around}))


def test_a_foot_too_much_is_explained_from_the_pack_alone() -> None:
    once = explained("25.00")
    assert once is not None
    found = explained_to_json(once.explained, once.case.value)
    assert found["surprising"]
    assert (found["ranked"][0]["name"], found["ranked"][0]["corrected"]) == ("whole mark misread", "22.50 ft")
    assert found["ranked"][0]["likely"] in ("probably", "perhaps", "almost certainly")
    assert found["action"]


def test_the_wells_of_the_round_are_looked_at() -> None:
    others = [{"code": "MF-11", "expected": told(31.2), "point": {**POINT, "height": "2.60"}},
              {"code": "MF-12", "expected": None, "point": POINT}]  # fmt: skip
    once = explained("33.80", "33.80", others=others)
    assert once is not None
    assert once.explained.ranked[0].name == "wrong well"
    assert "MF-11" in once.explained.ranked[0].words


def test_an_older_point_of_the_pack_is_looked_at() -> None:
    once = explained("24.62", "24.62", points=[{**POINT, "name": "MP-0", "height": "2.12"}])
    assert once is not None
    assert once.explained.ranked[0].name == "older height of the measuring point"
    assert once.explained.ranked[0].corrected_m == pytest.approx(22.5 * FOOT_M)


def test_nothing_expected_or_nothing_readable_is_not_explained() -> None:
    assert explained("24.x") is None
    assert explained("24.00", expecting=None) is None


def test_being_explained_does_not_change_what_a_reading_comes_to() -> None:
    once = explained("25.00", "25.01")
    assert once is not None
    assert once.case.value == reduce_once(given("25.00", "25.01")).value
