"""The figure of a well: section and history on one depth axis.

The axis is linear from the top of the casing to the bottom of the hole and never broken, so a length on it is the
same length everywhere. Where the water or the bottom moved by so little that it would be a flat line (a deep well
with a shallow level), the stretch it moved in is drawn again below, enlarged, with an axis of its own; a band on the
main axis shows where it was taken from.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import NamedTuple

from tapedown.reports import svg
from tapedown.reports.axes import Scale, ticks
from tapedown.reports.time_axis import time_axis
from tapedown.reports.well_history import PAINTS, HistoryPanel, history_marks, ring, shape
from tapedown.reports.well_picture import (
    BOTTOM,
    DEEPER,
    DISTURBED,
    LEVELS,
    PUMPING,
    STATIC,
    PointMark,
    ReadingMark,
    WellPicture,
    ends,
)
from tapedown.reports.well_section import SectionFrame, section
from tapedown.values.units import from_si, to_si

Drawn = Callable[[float, float], str]
"""A small picture about a place."""
SMALL_SHARE = 0.3
"""What moved within less than this share of the axis is drawn again, enlarged."""
MOST_BAND = 3.0
"""An enlarged stretch grows to this many times what was read to take in the expected range."""


class SheetMeasures(NamedTuple):
    """Measures of a sheet, in units of the drawing. `close` is the height of an enlarged panel."""

    width: float
    section: float
    axis: float
    main: float
    close: float
    font: float
    narrow: bool = False


WIDE = SheetMeasures(900, 232, 52, 430, 150, 13)
"""For a desk's screen and for A4 or letter paper."""
NARROW = SheetMeasures(372, 132, 32, 430, 150, 11.5, narrow=True)
"""For a telephone."""


class Frame(NamedTuple):
    """The sheet with the two axes that everything is drawn on."""

    sheet: SheetMeasures
    unit: str
    time: Scale
    depth: Scale


class Closer(NamedTuple):
    """A stretch drawn again: its letter, title, shallowest and deepest."""

    letter: str
    title: str
    low_m: float
    high_m: float


def well_figure(picture: WellPicture, sheet: SheetMeasures = WIDE) -> str:
    """The figure as SVG text; of a well with nothing known, a frame that says so."""
    low_m, high_m = _depth_range(picture)
    head = sheet.font * 2.6
    depth = Scale(low_m, high_m, head, head + sheet.main)
    left = sheet.section + sheet.axis
    days = _day_range(picture)
    time = Scale(*days, left + 10, sheet.width - 12)
    frame = Frame(sheet, picture.unit, time, depth)
    closers = _closers(picture, high_m - low_m)
    below = head + sheet.main + sheet.font * 2.4
    drawn = [*_main(picture, frame, closers)]
    for closer in closers:
        drawn += _close_up(picture, frame, closer, below)
        below += sheet.close + sheet.font * 3.6
    legend, height = _legend(picture, sheet, below)
    paper = svg.rect(0, 0, sheet.width, height, paint="f-paper")
    return svg.drawing(sheet.width, height, _spoken(picture), paper, *drawn, *legend, font=sheet.font,
                       class_=f"figure-{'narrow' if sheet.narrow else 'wide'}")  # fmt: skip


def _spoken(picture: WellPicture) -> str:
    """What the picture is, for those who cannot see it; the table below it on a page has the numbers."""
    count = len([mark for mark in picture.marks if not mark.struck])
    return f"{picture.name}: section of the well and {count} readings through time on one depth axis"


def _depth_range(picture: WellPicture) -> tuple[float, float]:
    """From the top of the casing to the bottom of the hole; a value that must not be used does not stretch it."""
    known = [0.0, *(-point.height_m for point in picture.points)]
    known += [m for m in (picture.completed_m, picture.hole_m) if m is not None]
    known += [edge for tube in picture.tubes for edge in (tube.top_m, tube.bottom_m)]
    known += [mark.depth_m for mark in picture.marks if mark.weight != "stop"]
    known += [end for series in picture.series for end in ends(series.depth_m)]
    low, high = min(known), max(known)
    span = max(high - low, 1.0)
    return low - 0.04 * span, high + 0.05 * span


def _day_range(picture: WellPicture) -> tuple[float, float]:
    days = [mark.on_d for mark in picture.marks]
    days += [end for series in picture.series for end in ends(series.days)]
    days += [*picture.expected.days[-1:]] if picture.expected else []
    days = days or [point.on_d for point in picture.points] or [730000.0]
    pad = max(0.03 * (max(days) - min(days)), 20.0)
    return min(days) - pad, max(days) + pad


def _closers(picture: WellPicture, span_m: float) -> list[Closer]:
    """The stretches worth drawing again: water and bottom, where they moved little against the whole axis."""
    water = [m for m in picture.marks if m.kind in LEVELS and not m.struck]
    moved = _moved(water) + [end for series in picture.series for end in ends(series.depth_m)]
    moved = _with_band(moved, picture)
    closers: list[Closer] = []
    for title, edges in (("the water", moved), ("the bottom", _moved(m for m in picture.marks if m.kind == BOTTOM))):
        if edges and max(edges) - min(edges) < SMALL_SHARE * span_m:
            pad = max(0.08 * (max(edges) - min(edges)), 0.002)
            closers.append(Closer("AB"[len(closers)], title, min(edges) - pad, max(edges) + pad))
    return closers


def _with_band(moved: list[float], picture: WellPicture) -> list[float]:
    """What the water moved in, with the range it is expected in unless that would flatten what was read."""
    band = [*picture.expected.low_m, *picture.expected.high_m] if picture.expected and moved else []
    both = [*moved, *band]
    return both if both and max(both) - min(both) <= MOST_BAND * (max(moved) - min(moved)) else moved


def _moved(marks: Iterable[ReadingMark]) -> list[float]:
    """Ends of the bars of at least two marks that may be used."""
    listed = [mark for mark in marks if mark.weight != "stop"]
    if len(listed) < 2:
        return []
    return [mark.depth_m + sign * mark.expanded_m for mark in listed for sign in (-1, 1)]


def _main(picture: WellPicture, frame: Frame, closers: Sequence[Closer]) -> list[str]:
    sheet, depth = frame.sheet, frame.depth
    place = SectionFrame(2.0, sheet.section - 4, depth, sheet.narrow, sheet.font)
    panel = HistoryPanel(frame.time, depth, 3.2 if sheet.narrow else 4.0, whole=True)
    lean = f", {picture.lean}" if picture.lean and not sheet.narrow else ""
    title = f"depth below land surface, {frame.unit}{lean}"
    return [
        svg.text(title, 2, sheet.font, paint="f-soft"),
        *_grid(frame, depth),
        *_bands(frame, closers),
        *section(picture, place),
        *_surface(frame),
        *_points(picture, frame),
        *history_marks(picture, panel),
    ]


def _grid(frame: Frame, depth: Scale) -> list[str]:
    """Depth ticks across both halves, years under the history, a frame about it."""
    sheet, left, right = frame.sheet, frame.time.at_low - 10, frame.sheet.width - 2
    top, floor = depth.at_low, depth.at_high
    drawn = [_box(left, top, right, floor)]
    for metres, label in _depth_ticks(depth, frame.unit):
        y = depth.at(metres)
        drawn.append(svg.line(left - 4, y, right, y, paint="f-faint", stroke_width=0.8))
        drawn.append(svg.text(label, left - 7, y + sheet.font * 0.35, anchor="end"))
    most = 5 if sheet.narrow else 9
    return drawn + time_axis(frame.time, top, floor, most=most, font=sheet.font, right=sheet.width - 2)


def _box(left: float, top: float, right: float, floor: float) -> str:
    return svg.element("rect", paint="f-ink", x=left, y=top, width=right - left, height=floor - top, stroke_width=1)


def _depth_ticks(depth: Scale, unit: str) -> list[tuple[float, str]]:
    low, high = (from_si(end, unit, "length") for end in (depth.low, depth.high))
    most = max(2, round(depth.length / 38))
    return [(to_si(value, unit, "length"), label) for value, label in ticks(low, high, most)]


def _surface(frame: Frame) -> list[str]:
    y, left = frame.depth.at(0.0), frame.time.at_low - 10
    return [svg.line(left, y, frame.sheet.width - 2, y, paint="f-earth", stroke_width=1.2)]


def _points(picture: WellPicture, frame: Frame) -> list[str]:
    """The measuring point's height as a line in steps, and a dated tick where it changed."""
    points = sorted(picture.points)
    steps: list[tuple[float, float, bool]] = []
    drawn: list[str] = []
    for number, point in enumerate(points):
        start = max(point.on_d, frame.time.low)
        end = points[number + 1].on_d if number + 1 < len(points) else frame.time.high
        if end > frame.time.low:
            y = frame.depth.at(-point.height_m)
            steps += [(frame.time.at(start), y, not steps), (frame.time.at(min(end, frame.time.high)), y, False)]
        if number and frame.time.low < point.on_d < frame.time.high:
            drawn.append(_changed(point, frame))
    return [svg.path(steps, paint="f-point", stroke_width=1.2, fill="none"), *drawn]


def _changed(point: PointMark, frame: Frame) -> str:
    x, top = frame.time.at(point.on_d), frame.depth.at_low
    right = x > frame.sheet.width * 0.75
    words = f"{point.name} from here"
    return "".join([
        svg.line(x, top - 5, x, frame.depth.at_high, paint="f-point", stroke_width=1, stroke_dasharray="5 3"),
        svg.text(words, x, top - 8, paint="f-point", anchor="end" if right else "start", stroke="none"),
    ])  # fmt: skip


def _bands(frame: Frame, closers: Sequence[Closer]) -> list[str]:
    """Where on the main axis the enlarged panels were taken from."""
    drawn, left, right = [], frame.time.at_low - 10, frame.sheet.width - 2
    for closer in closers:
        top, floor = frame.depth.at(closer.low_m), frame.depth.at(closer.high_m)
        drawn.append(svg.rect(left, top, right - left, max(floor - top, 2.0), paint="f-wash", fill_opacity="0.45"))
        drawn.append(svg.text(closer.letter, right - 4, top - 3, paint="f-soft", anchor="end", font_weight="bold"))
    return drawn


def _close_up(picture: WellPicture, frame: Frame, closer: Closer, top: float) -> list[str]:
    """A stretch of the axis drawn again, larger."""
    sheet = frame.sheet
    head = top + sheet.font * 1.5
    depth = Scale(closer.low_m, closer.high_m, head, head + sheet.close)
    times = (frame.depth.high - frame.depth.low) / frame.depth.length / ((depth.high - depth.low) / depth.length)
    title = f"{closer.letter}: {closer.title}, drawn {times:.0f} times larger"
    panel = HistoryPanel(frame.time, depth, 3.2 if sheet.narrow else 4.0)
    return [
        svg.text(title, 2 if sheet.narrow else frame.time.at_low - 10, head - 6, paint="f-soft"),
        *_grid(frame._replace(depth=depth), depth),
        *history_marks(picture, panel),
    ]


def _legend(picture: WellPicture, sheet: SheetMeasures, top: float) -> tuple[list[str], float]:
    """What the shapes mean, only of those that are there; gives the height of the whole sheet too."""
    items = _meanings(picture)
    drawn, x, y = [], 10.0, top + sheet.font
    for picture_at, words in items:
        width = 34 + len(words) * sheet.font * 0.56
        if x + width > sheet.width:
            x, y = 10.0, y + sheet.font * 1.7
        drawn += [picture_at(x, y - sheet.font * 0.35), svg.text(words, x + 12, y)]
        x += width
    return drawn, y + sheet.font


def _meanings(picture: WellPicture) -> list[tuple[Drawn, str]]:
    kinds = {mark.kind for mark in picture.marks}
    weights = {mark.weight for mark in picture.marks}
    legend: list[tuple[Drawn, str]] = []

    for kind, words in ((STATIC, "water level"), (DISTURBED, "not static"), (PUMPING, "pumping"),
                        (DEEPER, "dry: deeper than"), (BOTTOM, "bottom felt")):  # fmt: skip
        if kind in kinds:
            legend.append((partial(shape, kind, r=4.0, paint=PAINTS[kind]), words))
    for weight, words in (("look", "look at it"), ("stop", "do not use as it stands")):
        if weight in weights:
            legend.append((partial(ring, weight, r=1.5), words))
    if any(mark.struck for mark in picture.marks):
        legend.append((lambda x, y: svg.line(x - 5, y + 5, x + 5, y - 5, paint="f-struck", stroke_width=1.4), "struck"))
    if picture.expected:
        wash = partial(svg.rect, width=12, height=9, paint="f-wash")
        legend.append((lambda x, y: wash(x - 6, y - 4.5), "expected: 19 readings in 20"))
    if picture.points:
        legend.append((lambda x, y: svg.line(x - 6, y, x + 6, y, paint="f-point", stroke_width=1.4), "measuring point"))
    return legend
