"""A logger's series as a figure: what was logged, the air, the depth with the tape readings, the logger's zero.

All panels stand on one time axis; depth grows downwards.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple, TypeAlias

from tapedown.reports import svg
from tapedown.reports.axes import Scale, ticks, time_ticks

GAP, FOOT = 30.0, 34.0
Moments: TypeAlias = list[tuple[float, str]]
GAP_TIMES = 12.0
"""A line is lifted where a step is this many times its usual one."""


class FigureSize(NamedTuple):
    """Size of a figure: width, edges left and right of the panels, most ticks of time, class for the style sheet."""

    width: float
    left: float
    right: float
    most: int
    class_: str


WIDE = FigureSize(1000, 62, 12, 8, "series figure-wide")
NARROW = FigureSize(372, 46, 8, 4, "series figure-narrow")


class Curve(NamedTuple):
    """A line of a panel: days (as axes.day_of counts them, UTC) and values."""

    days: Sequence[float]
    values: Sequence[float]
    paint: str


class Tape(NamedTuple):
    """A tape reading on a panel: day, value, half of its expanded uncertainty, words, link."""

    day: float
    value: float
    half: float
    words: str
    link: str


class FigurePanel(NamedTuple):
    """One panel.

    band   days, low, high of a stretch the value lies in
    aside  days of rows that are set aside: a stroke at the lower edge
    down   values grow downwards
    """

    title: str
    height: float
    curves: tuple[Curve, ...]
    tapes: tuple[Tape, ...] = ()
    band: tuple[Sequence[float], Sequence[float], Sequence[float]] | None = None
    aside: Sequence[float] = ()
    down: bool = False


def series_figure(
    panels: Sequence[FigurePanel], low_d: float, high_d: float, label: str, sheet: FigureSize = WIDE
) -> str:
    """The figure, low_d and high_d being the ends of the time axis."""
    shown = [panel for panel in panels if any(len(curve.days) for curve in panel.curves) or panel.tapes]
    height = sum(panel.height + GAP for panel in shown) + FOOT
    time = Scale(low_d, high_d, sheet.left, sheet.width - sheet.right)
    moments = _moments(time, sheet.most)
    top, drawn = GAP - 6, []
    for panel in shown:
        drawn.append(_panel(panel, time, top, moments))
        top += panel.height + GAP
    drawn += _time_axis(time, top - GAP, moments)
    return svg.drawing(sheet.width, height, label, *drawn, class_=sheet.class_)


def _panel(panel: FigurePanel, time: Scale, top: float, moments: Moments) -> str:
    low, high = _span(panel)
    ends = (top, top + panel.height) if panel.down else (top + panel.height, top)
    scale = Scale(low, high, *ends)
    parts = [svg.text(panel.title, time.at_low, top - 7, paint="f-soft", font_size=12)]
    for value, label in ticks(low, high, max(3, int(panel.height // 28))):
        y = scale.at(value)
        parts += [
            svg.line(time.at_low, y, time.at_high, y, paint="f-faint", stroke_width=0.7),
            svg.text(label, time.at_low - 6, y + 4, paint="f-soft", anchor="end", font_size=12),
        ]
    parts += [svg.line(time.at(at), top, time.at(at), top + panel.height, paint="f-faint", stroke_width=0.7)
              for at, _ in moments]  # fmt: skip
    if panel.band is not None:
        parts.append(_band(panel.band, time, scale))
    parts += [
        svg.path(_pen(curve, time, scale), paint=curve.paint, stroke_width=1.1, fill="none") for curve in panel.curves
    ]
    d = "".join(f"M{svg.number(time.at(float(day)))} {svg.number(top + panel.height)}v-7" for day in panel.aside)
    if d:
        title = svg.titled("rows that are set aside")
        parts.append(svg.element("g", title, svg.element("path", paint="f-look", d=d, stroke_width=1.4)))
    parts += [_tape(tape, time, scale) for tape in panel.tapes if low <= tape.value <= high]
    return svg.element("g", *parts)


def _span(panel: FigurePanel) -> tuple[float, float]:
    """What the panel must show, with a little room."""
    values = [end for c in panel.curves if len(c.values) for end in (min(c.values), max(c.values))]
    values += [tape.value + sign * tape.half for tape in panel.tapes for sign in (-1, 1)]
    low, high = min(values), max(values)
    room = (high - low) * 0.06 or max(abs(high) * 0.001, 0.005)
    return low - room, high + room


def _pen(curve: Curve, time: Scale, scale: Scale) -> Iterable[tuple[float, float, bool]]:
    """Points of a line, the pen lifted over gaps."""
    steps = sorted(b - a for a, b in zip(curve.days, curve.days[1:]))
    usual = steps[len(steps) // 2] if steps else 0.0
    before = -math.inf
    for day, value in zip(curve.days, curve.values):
        yield time.at(float(day)), scale.at(float(value)), day - before > max(GAP_TIMES * usual, 1e-9)
        before = day


def _band(band: tuple[Sequence[float], Sequence[float], Sequence[float]], time: Scale, scale: Scale) -> str:
    days, low, high = band
    if len(days) < 2:
        return ""
    there = [(time.at(float(d)), scale.at(float(v))) for d, v in zip(days, high)]
    back = [(time.at(float(d)), scale.at(float(v))) for d, v in zip(days, low)][::-1]
    top, floor = min(scale.at_low, scale.at_high), max(scale.at_low, scale.at_high)
    d = "L".join(f"{svg.number(x)} {svg.number(min(max(y, top), floor))}" for x, y in (*there, *back))
    return svg.element("path", paint="f-wash", d=f"M{d}z")


def _tape(tape: Tape, time: Scale, scale: Scale) -> str:
    if not time.low <= tape.day <= time.high:
        return ""
    x, y = time.at(tape.day), scale.at(tape.value)
    bar = svg.line(
        x, scale.at(tape.value - tape.half), x, scale.at(tape.value + tape.half), paint="f-point", stroke_width=1.4
    )
    dot = svg.element("circle", paint="f-point", cx=x, cy=y, r=4)
    return svg.linked(tape.link, tape.words, bar, dot)


def _moments(time: Scale, most: int) -> Moments:
    """Ticks of the time axis; hours where days are too far apart."""
    span = time.high - time.low
    if span >= 3:
        return time_ticks(time.low, time.high, most)
    step = next(hours for hours in (1, 2, 3, 6, 12, 24) if span * 24 / hours <= most or hours == 24)
    first = math.ceil(time.low * 24 / step) * step
    hours = range(first, math.floor(time.high * 24) + 1, step)
    return [
        (hour / 24, f"{hour % 24:02d}:00" if hour % 24 else time_ticks(hour / 24, hour / 24 + 1, 1)[0][1])
        for hour in hours
    ]


def _time_axis(time: Scale, floor: float, moments: Moments) -> list[str]:
    drawn = [svg.line(time.at_low, floor, time.at_high, floor, stroke_width=1)]
    for at, label in moments:
        drawn.append(svg.line(time.at(at), floor, time.at(at), floor + 5, stroke_width=1))
        x = time.at(at)
        anchor = "end" if x > time.at_high - 26 else "middle"
        drawn.append(svg.text(label, min(x, time.at_high), floor + 19, anchor=anchor, font_size=12))
    return drawn
