"""The figure of a logger series: one time axis, depth downwards, gaps left open, tape readings that lead somewhere."""

from __future__ import annotations

import re
from datetime import date

from tapedown.reports.axes import day_of
from tapedown.reports.series_figure import NARROW, Curve, FigurePanel, Tape, series_figure

LOW = day_of(date(2026, 5, 1))


def days(*hours: float) -> list[float]:
    return [LOW + hour / 24 for hour in hours]


def test_a_deeper_level_stands_lower_in_the_figure() -> None:
    panel = FigurePanel("depth", 100, (Curve(days(0, 24), [1.0, 2.0], "f-water"),), down=True)
    [first, last] = re.findall(r"[ML]([\d.]+) ([\d.]+)", series_figure([panel], LOW, LOW + 1, "x").split("f-water")[1])[
        :2
    ]
    assert float(last[1]) > float(first[1])
    assert float(last[0]) > float(first[0])


def test_a_line_is_lifted_over_a_gap() -> None:
    curve = Curve(days(0, 1, 2, 3, 40, 41, 42), [1.0] * 7, "f-water")
    drawn = series_figure([FigurePanel("depth", 100, (curve,))], LOW, LOW + 2, "x")
    path = re.search(r'class="f-water"[^>]* d="([^"]+)"', drawn)
    assert path is not None
    assert path[1].count("M") == 2


def test_a_tape_reading_is_named_and_leads_to_its_value() -> None:
    tape = Tape(LOW + 0.5, 1.5, 0.1, "tape 1.50 m & more", "/wells/MF-07/values/1")
    drawn = series_figure([FigurePanel("depth", 100, (), (tape,))], LOW, LOW + 1, "a series")
    assert 'href="/wells/MF-07/values/1"' in drawn
    assert "tape 1.50 m &amp; more" in drawn


def test_panels_without_anything_to_show_are_left_out() -> None:
    full = FigurePanel("depth", 100, (Curve(days(0, 1), [1.0, 1.0], "f-water"),), aside=days(0.5))
    drawn = series_figure([full, FigurePanel("air pressure", 80, (Curve([], [], "f-earth"),))], LOW, LOW + 1, "x")
    assert "air pressure" not in drawn
    assert "rows that are set aside" in drawn


def test_hours_stand_on_the_axis_of_a_day_and_months_on_that_of_a_year() -> None:
    day = FigurePanel("depth", 100, (Curve(days(0, 24), [1.0, 2.0], "f-water"),))
    assert ">12:00<" in series_figure([day], LOW, LOW + 1, "x")
    year = series_figure([day], LOW, LOW + 365, "x", NARROW)
    assert "Aug 2026" in year
    assert 'viewBox="0 0 372' in year
