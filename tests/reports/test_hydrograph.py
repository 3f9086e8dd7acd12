"""Small hydrographs: days above days, deeper below shallower, nothing left out of the frame."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from tapedown.reports.hydrograph import NARROWEST_M, hydrograph, shared_days
from tapedown.reports.well_picture import LoggerTrace, ReadingMark, WellPicture

SVG = "{http://www.w3.org/2000/svg}"


def picture(*marks: tuple[float, float], kind: str = "level") -> WellPicture:
    return WellPicture("MF-07", "m", marks=tuple(ReadingMark(day, depth, 0.001, kind) for day, depth in marks))


def dots(drawing: str) -> list[tuple[float, float]]:
    root = ElementTree.fromstring(drawing)  # noqa: S314 - made by us
    return [(float(e.get("cx", "")), float(e.get("cy", ""))) for e in root.iter(f"{SVG}circle")]


def test_a_day_stands_in_the_same_place_in_every_panel() -> None:
    one, other = picture((738_000, 3.0), (738_400, 4.0)), picture((738_400, 31.0), (739_000, 30.0))
    days = shared_days([one, other])
    assert dots(hydrograph(one, days))[1][0] == dots(hydrograph(other, days))[0][0]
    assert days[0] < 738_000
    assert days[1] > 739_000


def test_deeper_water_is_drawn_lower_and_water_above_land_highest() -> None:
    one = picture((738_000, 3.0), (738_100, 4.0), (738_200, -1.0))
    (_, three), (_, four), (_, above) = dots(hydrograph(one, shared_days([one])))
    assert above < three < four


def test_a_level_that_stands_still_is_not_blown_up() -> None:
    """Two readings 1 mm apart lie closer than a hundredth of a panel that spans 150 mm."""
    one = picture((738_000, 3.0), (738_100, 3.001))
    (_, a), (_, b) = dots(hydrograph(one, shared_days([one])))
    assert abs(b - a) / 120 <= 0.001 / NARROWEST_M + 0.001


def test_a_value_that_must_not_be_used_does_not_stretch_the_axis_and_is_shown_at_its_edge() -> None:
    good = picture((738_000, 3.0), (738_100, 3.5))
    bad = good._replace(marks=(*good.marks, ReadingMark(738_200, -100.0, 0.01, "level", weight="stop")))
    days = shared_days([bad])
    before, after = dots(hydrograph(good, days)), dots(hydrograph(bad, days))
    assert after[:2] == before
    assert all(0 <= y <= 150 for _, y in after)


def test_a_well_without_water_levels_says_so() -> None:
    drawing = hydrograph(WellPicture("MF-07", "ft"), shared_days([]))
    assert "no water level yet" in drawing
    bottom = picture((738_000, 80.0), kind="bottom")
    assert "no water level yet" in hydrograph(bottom, shared_days([bottom]))


def test_struck_readings_are_left_out_of_the_axis() -> None:
    one = picture((738_000, 3.0), (738_100, 3.5))
    struck = ReadingMark(738_050, 50.0, 0.01, "level", struck=True)
    days = shared_days([one])
    assert shared_days([one._replace(marks=(*one.marks, struck))]) == days
    assert dots(hydrograph(one._replace(marks=(*one.marks, struck)), days)) == dots(hydrograph(one, days))


def test_a_dry_well_is_an_arrow_and_a_logger_is_a_line() -> None:
    dry = picture((738_000, 19.5), kind="deeper than")
    assert not dots(hydrograph(dry, shared_days([dry])))
    logged = WellPicture(
        "MF-05", "ft", series=(LoggerTrace("logger", [738_000.0, 738_001.0, 738_002.0], [3.0, 3.1, 3.2]),)
    )
    drawing = hydrograph(logged, shared_days([logged]))
    assert "no water level yet" not in drawing
    assert re.search(r'd="M[\d.]+ [\d.]+L', drawing)


@pytest.mark.parametrize(("unit", "label"), [("m", ">3.5<"), ("ft", ">10<")])
def test_ticks_are_in_the_networks_unit(unit: str, label: str) -> None:
    one = picture((738_000, 2.6), (738_100, 3.6))._replace(unit=unit)
    assert label in hydrograph(one, shared_days([one]))
