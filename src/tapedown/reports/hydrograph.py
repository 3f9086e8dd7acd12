"""A small hydrograph: the water of one well through time, to stand beside those of the others.

All of a report share the time axis, so that a dry summer stands above a dry summer. Each has a depth axis of its own,
deeper downwards; how much a panel spans is told by its ticks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tapedown.reports import svg
from tapedown.reports.axes import Scale, ticks
from tapedown.reports.time_axis import time_axis
from tapedown.reports.well_history import HistoryPanel, history_marks
from tapedown.reports.well_picture import DEEPER, LEVELS, ReadingMark, WellPicture, ends
from tapedown.values.units import from_si, to_si

_WIDTH, _HEIGHT, _LEFT, _TOP, _FLOOR, _FONT = 300.0, 150.0, 44.0, 8.0, 128.0, 13.0
NARROWEST_M = 0.15
"""A panel spans at least this much, so that a level that stands still looks like one."""


def shared_days(pictures: Iterable[WellPicture]) -> tuple[float, float]:
    """First and last day of all readings and records together, with a margin; a year where there are none."""
    days = [day for picture in pictures for day in _days(picture)]
    low, high = (min(days), max(days)) if days else (730_000.0, 730_365.0)
    pad = max(0.02 * (high - low), 15.0)
    return low - pad, high + pad


def hydrograph(picture: WellPicture, days: tuple[float, float]) -> str:
    """The panel as SVG text; a frame that says so where no water was read."""
    time = Scale(*days, _LEFT + 6, _WIDTH - 8)
    marks = _water(picture)
    depths = _depths(picture, marks)
    frame = svg.element("rect", paint="f-ink", x=_LEFT, y=_TOP, width=_WIDTH - 2 - _LEFT, height=_FLOOR - _TOP,
                        stroke_width=1)  # fmt: skip
    label = f"{picture.name}: {len(marks)} water levels through time"
    years = time_axis(time, _TOP, _FLOOR, most=5, font=_FONT, right=_WIDTH - 1)
    if not depths:
        none = svg.text(
            "no water level yet", (_LEFT + _WIDTH) / 2, (_TOP + _FLOOR) / 2, paint="f-soft", anchor="middle"
        )
        return svg.drawing(_WIDTH, _HEIGHT, label, *years, frame, none, font=_FONT)
    depth = _depth_scale(depths)
    bare = picture._replace(marks=tuple(mark._replace(link="", words="") for mark in marks))
    drawn = history_marks(bare, HistoryPanel(time, depth, 2.9, whole=True))
    return svg.drawing(_WIDTH, _HEIGHT, label, *years, *_depth_ticks(depth, picture.unit), frame, *drawn, font=_FONT)


def _water(picture: WellPicture) -> list[ReadingMark]:
    return [mark for mark in picture.marks if mark.kind in (*LEVELS, DEEPER) and not mark.struck]


def _days(picture: WellPicture) -> list[float]:
    return [mark.on_d for mark in _water(picture)] + [end for series in picture.series for end in ends(series.days)]


def _depths(picture: WellPicture, marks: Sequence[ReadingMark]) -> list[float]:
    """What the axis has to hold; a value that must not be used does not stretch it, unless there is no other."""
    usable = [mark for mark in marks if mark.weight != "stop"] or marks
    return [m.depth_m for m in usable] + [end for series in picture.series for end in ends(series.depth_m)]


def _depth_scale(depths: Sequence[float]) -> Scale:
    low, high = min(depths), max(depths)
    pad = max(0.12 * (high - low), (NARROWEST_M - (high - low)) / 2)
    return Scale(low - pad, high + pad, _TOP, _FLOOR)


def _depth_ticks(depth: Scale, unit: str) -> list[str]:
    low, high = (from_si(end, unit, "length") for end in (depth.low, depth.high))
    drawn = []
    for value, label in ticks(low, high, 4):
        y = depth.at(to_si(value, unit, "length"))
        drawn.append(svg.line(_LEFT - 4, y, _WIDTH - 2, y, paint="f-faint", stroke_width=0.8))
        drawn.append(svg.text(label, _LEFT - 7, y + 4.5, anchor="end"))
    return drawn
