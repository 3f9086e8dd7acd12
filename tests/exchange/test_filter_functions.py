"""What a filter asks of values: durations, times, places; by the standard library and by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from tapedown.exchange.services.filter_functions import FUNCTIONS, BadFilter, Span, as_span, duration, ring


def asked(name: str, *values: Any) -> Any:
    return FUNCTIONS[name][1](*values)


@pytest.mark.parametrize(("text", "size"), [
    ("P2D", timedelta(days=2)), ("PT3H", timedelta(hours=3)), ("PT4M", timedelta(minutes=4)),
    ("PT5.5S", timedelta(seconds=5.5)), ("-P1DT2H3M4S", -timedelta(days=1, hours=2, minutes=3, seconds=4)),
])  # fmt: skip
def test_durations_are_those_of_iso_8601(text: str, size: timedelta) -> None:
    assert duration(text) == size


@pytest.mark.parametrize("text", ["", "P", "PT", "P1W", "2H", "PT1H ", "xPT1H"])
def test_what_is_no_duration_is_refused(text: str) -> None:
    with pytest.raises(BadFilter, match="is not a duration such as P1DT2H"):
        duration(text)


def test_a_time_is_an_interval_of_no_length_and_without_an_offset_utc() -> None:
    ten = datetime(2026, 5, 14, 10, tzinfo=UTC)
    assert as_span("2026-05-14T10:00") == as_span("2026-05-14T11:00+01:00") == Span(ten, ten)
    assert as_span("2026-05-14T10:00Z/2026-05-14T11:00Z") == Span(ten, ten + timedelta(hours=1))
    assert as_span(Span(ten, ten)) == Span(ten, ten)
    assert [as_span(other) for other in ("soon", "2026-05-14/soon", 7, None, "0001-01-01T00:00+01:00")] == [None] * 5


MORNING, NOON, EVENING, NIGHT = (f"2026-05-14T{hour}:00Z" for hour in ("06", "12", "18", "23"))


@pytest.mark.parametrize(("name", "a", "b", "true"), [
    ("before", f"{MORNING}/{NOON}", EVENING, True), ("before", f"{MORNING}/{NOON}", NOON, False),
    ("after", EVENING, f"{MORNING}/{NOON}", True), ("after", NOON, f"{MORNING}/{NOON}", False),
    ("meets", f"{MORNING}/{NOON}", f"{NOON}/{EVENING}", True),
    ("meets", f"{NOON}/{EVENING}", f"{MORNING}/{NOON}", True),
    ("meets", f"{MORNING}/{NOON}", f"{EVENING}/{NIGHT}", False), ("during", NOON, f"{NOON}/{EVENING}", True),
    ("during", f"{NOON}/{NIGHT}", f"{NOON}/{EVENING}", False),
    ("during", f"{MORNING}/{NOON}", f"{NOON}/{NIGHT}", False),
    ("overlaps", f"{MORNING}/{NOON}", f"{NOON}/{NIGHT}", True), ("overlaps", MORNING, f"{NOON}/{NIGHT}", False),
    ("overlaps", f"{NOON}/{NIGHT}", MORNING, False), ("starts", f"{NOON}/{EVENING}", f"{NOON}/{NIGHT}", True),
    ("starts", f"{MORNING}/{NIGHT}", f"{NOON}/{NIGHT}", False),
    ("finishes", f"{MORNING}/{NIGHT}", f"{NOON}/{NIGHT}", True),
    ("finishes", f"{NOON}/{EVENING}", f"{NOON}/{NIGHT}", False),
])  # fmt: skip
def test_intervals_lie_to_each_other_as_they_are_said_to(name: str, a: str, b: str, true: bool) -> None:
    assert asked(name, a, b) is true
    assert asked(name, a, "soon") is None
    assert asked(name, 7, b) is None


@pytest.mark.parametrize(("name", "part"), [
    ("year", 2026), ("month", 5), ("day", 14), ("hour", 9), ("minute", 20), ("second", 30), ("fractionalseconds", 0.25),
    ("totaloffsetminutes", 0),
])  # fmt: skip
def test_parts_of_a_time_are_those_of_utc(name: str, part: float) -> None:
    assert asked(name, "2026-05-14T10:20:30.25+01:00") == part
    assert asked(name, "soon") is None


@pytest.mark.parametrize(("name", "values", "found"), [
    ("substringof", ("ar", "Marrow"), True), ("contains", ("Marrow", "ar"), True),
    ("contains", ("ar", "Marrow"), False),
    ("startswith", ("Marrow", "Ma"), True), ("startswith", ("Marrow", "ow"), False),
    ("endswith", ("Marrow", "ow"), True),
    ("endswith", ("Marrow", "Ma"), False), ("length", ("Marrow",), 6), ("indexof", ("Marrow", "rr"), 2),
    ("substring", ("Marrow", 2), "rrow"), ("substring", ("Marrow", 2, 3), "rro"), ("tolower", ("MaR",), "mar"),
    ("toupper", ("MaR",), "MAR"), ("trim", (" a ",), "a"), ("concat", ("a", "b"), "ab"), ("contains", (7, "7"), None),
    ("round", (2.5,), 3), ("round", (-2.5,), -2), ("floor", (-2.1,), -3), ("ceiling", (2.1,), 3),
])  # fmt: skip
def test_texts_and_numbers_are_worked_on_as_the_names_say(name: str, values: tuple[Any, ...], found: Any) -> None:
    assert asked(name, *values) == found


def test_a_place_lies_in_a_polygon_when_it_winds_about_it() -> None:
    """The peer is the winding number: angles from the place to the corners, summed round a crooked ring, by numpy."""
    corners = [(0.0, 0.0), (6.0, 1.0), (3.0, 2.5), (5.0, 5.0), (-1.0, 4.0)]
    text = ", ".join(f"{x} {y}" for x, y in [*corners, corners[0]])
    fence = ring(f"POLYGON(({text}))")
    assert fence == (*corners, corners[0])
    for x, y in np.random.default_rng(7).uniform(-2, 7, (200, 2)):
        rays = np.array([complex(a - x, b - y) for a, b in [*corners, corners[0]]])
        inside = bool(abs(np.angle(rays[1:] / rays[:-1]).sum()) > np.pi)
        place = {"type": "Point", "coordinates": [x, y, 12.0]}
        assert asked("st_within", place, fence) is inside
        assert asked("st_intersects", place, fence) is inside
        assert asked("st_disjoint", place, fence) is not inside
    for other in ({"type": "LineString"}, "POINT(1 1)", None):
        assert asked("st_within", other, fence) is None
        assert asked("st_disjoint", other, fence) is None
    assert asked("st_within", {"type": "Point", "coordinates": [1, 1]}, "POLYGON") is None


@pytest.mark.parametrize("text", ["POINT(1 1)", "", "POLYGON((0 0, 1 0, 1 1))", "POLYGON((0 0, 1 0, 1 1, x y))",
                                  "POLYGON((0 0, 1 0, 1 1, nan 0))", "POLYGON((0 0, 1 0, 1 1, 0 inf))"])  # fmt: skip
def test_what_is_no_polygon_is_refused(text: str) -> None:
    with pytest.raises(BadFilter, match=r"write POLYGON|four points or more"):
        ring(text)


def test_a_polygon_may_be_written_in_small_letters_with_spaces_and_three_sides() -> None:
    assert ring(" polygon ( ( 0 0,1 0 , 1 1,0 0 ))") == ((0, 0), (1, 0), (1, 1), (0, 0))
