"""The right half of a well's figure: what was read through the years, on the depth axis of the section."""

from __future__ import annotations

from typing import Any, NamedTuple

from tapedown.reports import svg
from tapedown.reports.axes import Scale
from tapedown.reports.well_picture import (
    BOTTOM,
    DEEPER,
    DISTURBED,
    PUMPING,
    STATIC,
    Band,
    LoggerTrace,
    ReadingMark,
    WellPicture,
)

MOST_SINGLE = 400
"""Above this many marks of a kind they are drawn together, without bars and links of their own."""
GAP_TIMES = 12.0
"""A series is broken where a step is this many times its usual one."""

PAINTS = {STATIC: "f-water", DISTURBED: "f-water", PUMPING: "f-pump", DEEPER: "f-water", BOTTOM: "f-earth"}


class HistoryPanel(NamedTuple):
    """A panel of the history: its axes, the size of its marks, whether it is the whole axis or an enlarged stretch.

    On the whole axis a mark that lies beyond it stands at its edge with an arrow.
    """

    time: Scale
    depth: Scale
    size: float = 4.0
    whole: bool = False

    @property
    def top(self) -> float:
        """Upper edge."""
        return min(self.depth.at_low, self.depth.at_high)

    @property
    def floor(self) -> float:
        """Lower edge."""
        return max(self.depth.at_low, self.depth.at_high)

    def shows(self, depth_m: float) -> bool:
        """Whether a depth lies within the panel."""
        return self.depth.low <= depth_m <= self.depth.high


def history_marks(picture: WellPicture, panel: HistoryPanel) -> list[str]:
    """Series, readings and what was found about them, within the depths of the panel."""
    shown = [mark for mark in picture.marks if panel.whole or panel.shows(mark.depth_m)]
    drawn = [expected_band(picture.expected, panel)] if picture.expected else []
    drawn += [svg_text for series in picture.series for svg_text in _series(series, panel)]
    for kind in (STATIC, DISTURBED, PUMPING, DEEPER, BOTTOM):
        marks = [mark for mark in shown if mark.kind == kind]
        if len(marks) > MOST_SINGLE:
            drawn += _crowd([mark for mark in marks if not mark.struck], kind, panel)
        else:
            drawn += [_single(mark, panel) for mark in marks]
    return drawn


def expected_band(band: Band, panel: HistoryPanel) -> str:
    """Where readings to come are expected: a wash with an edge, cut off at the panel."""
    low, high = ([min(max(m, panel.depth.low), panel.depth.high) for m in edge] for edge in (band.low_m, band.high_m))
    there = [*zip(band.days, low), *reversed([*zip(band.days, high)])]
    at = [f"{svg.number(panel.time.at(day))} {svg.number(panel.depth.at(m))}" for day, m in there]
    return svg.element("path", paint="f-wash", d=f"M{'L'.join(at)}z", stroke="none")


def _single(mark: ReadingMark, panel: HistoryPanel) -> str:
    """One reading: bar, shape, ring when something was found, a stroke through it when it was struck."""
    beyond = not panel.shows(mark.depth_m)
    up = mark.depth_m < panel.depth.low
    edge = panel.depth.at(panel.depth.low if up else panel.depth.high) + (16 if up else -16)
    x, y = panel.time.at(mark.on_d), edge if beyond else panel.depth.at(mark.depth_m)
    paint = "f-struck" if mark.struck else PAINTS[mark.kind]
    parts = [_arrow(x, y, up) if beyond else _bar(mark, x, panel, paint), shape(mark.kind, x, y, panel.size, paint)]
    if mark.weight in {"look", "stop"}:
        parts.append(ring(mark.weight, x, y, panel.size))
    if mark.struck:
        far = panel.size + 3
        parts.append(svg.line(x - far, y + far, x + far, y - far, paint=paint, stroke_width=1.4))
    return svg.linked(mark.link, mark.words, *parts)


def _arrow(x: float, y: float, up: bool) -> str:
    """Points to where a mark lies beyond the edge."""
    far = -14.0 if up else 14.0
    d = f"M{svg.number(x)} {svg.number(y + far / 2)}v{svg.number(far / 2)}m-3 {svg.number(-far / 4)}"
    d += f"l3 {svg.number(far / 4)}l3 {svg.number(-far / 4)}"
    return svg.element("path", paint="f-ink", d=d, stroke_width=1.2)


def _bar(mark: ReadingMark, x: float, panel: HistoryPanel, paint: str) -> str:
    high, low = (panel.depth.at(mark.depth_m + sign * mark.expanded_m) for sign in (-1, 1))
    if mark.kind == DEEPER or low - high < 2 * panel.size:
        return ""
    high, low = max(high, panel.top), min(low, panel.floor)
    ends = "".join(f"M{svg.number(x - 3)} {svg.number(y)}h6" for y in (high, low))
    d = f"M{svg.number(x)} {svg.number(high)}V{svg.number(low)}{ends}"
    return svg.element("path", paint=paint, d=d, stroke_width=1.2, fill="none")


def shape(kind: str, x: float, y: float, r: float, paint: str) -> str:
    """The shape of a kind of reading, middle at (x, y): the kinds differ in form, not in colour alone."""
    n = svg.number
    if kind == STATIC:
        return svg.element("circle", paint=paint, cx=x, cy=y, r=r - 0.8)
    if kind == BOTTOM:
        return svg.rect(x - r + 1, y - r + 1, 2 * r - 2, 2 * r - 2, paint=paint)
    if kind == DISTURBED:
        d = f"M{n(x)} {n(y - r)}l{n(r)} {n(r)}l{n(-r)} {n(r)}l{n(-r)} {n(-r)}z"
    elif kind == PUMPING:
        d = f"M{n(x - r)} {n(y - r * 0.8)}h{n(2 * r)}l{n(-r)} {n(r * 1.7)}z"
    else:
        head = f"m{n(-r * 0.8)} {n(-r)}l{n(r * 0.8)} {n(r)}l{n(r * 0.8)} {n(-r)}"
        d = f"M{n(x - r)} {n(y)}h{n(2 * r)}M{n(x)} {n(y)}v{n(3 * r)}{head}"
    return svg.element("path", paint=paint, d=d, stroke_width=1.5, fill="none")


def ring(weight: str, x: float, y: float, r: float) -> str:
    """A ring about a reading with a finding; a cross in it where the value must not be used as it stands."""
    paint = f"f-{weight}"
    drawn = [svg.element("circle", paint=paint, cx=x, cy=y, r=r + 3.4, stroke_width=1.6)]
    if weight == "stop":
        d = "".join(f"M{svg.number(x - s)} {svg.number(y - r - 2)}l{svg.number(2 * s)} {svg.number(2 * r + 4)}"
                    for s in (r + 2, -r - 2))  # fmt: skip
        drawn.append(svg.element("path", paint=paint, d=d, stroke_width=1.2))
    return "".join(drawn)


def _crowd(marks: list[ReadingMark], kind: str, panel: HistoryPanel) -> list[str]:
    """Many readings as dots of one path, cut down to what paper can show; those with a stop still stand alone."""
    days, depths = [m.on_d for m in marks], [m.depth_m for m in marks]
    kept = cut_down(days, depths, 4 * round(panel.time.length))
    at = [(panel.time.at(days[i]), panel.depth.at(depths[i])) for i in kept]
    d = "".join(f"M{svg.number(x)} {svg.number(y)}h0" for x, y in at)
    dots = svg.element("path", paint=PAINTS[kind], d=d, stroke_width=4, stroke_linecap="round", fill="none")
    stopped = [mark for mark in marks if mark.weight == "stop"][:MOST_SINGLE]
    return [dots, *(_single(mark, panel) for mark in stopped)]


def _series(series: LoggerTrace, panel: HistoryPanel) -> list[str]:
    """A logger's record as a line, lifted over gaps and where it leaves the panel."""
    kept = cut_down(series.days, series.depth_m, 2 * round(panel.time.length))
    broken = _gaps(series.days)
    points: list[tuple[float, float, bool]] = []
    last = -1
    for i in kept:
        inside = panel.shows(float(series.depth_m[i]))
        if inside:
            lifted = last < 0 or broken[i] != broken[last]
            points.append((panel.time.at(float(series.days[i])), panel.depth.at(float(series.depth_m[i])), lifted))
        last = i if inside else -1
    line = svg.path(points, paint="f-water", stroke_width=1, fill="none", stroke_opacity="0.75")
    return [svg.element("g", svg.titled(series.name), line)] if line else []


def cut_down(days: Any, depths: Any, most: int) -> list[int]:
    """Places of at most `most` points that keep every peak and trough paper could show; all when there are few.

    Lowest and highest of each bin, by tsdownsample.

    Example
    -------
    >>> kept = cut_down(range(10_000), [0.0] * 5_000 + [9.0] + [0.0] * 4_999, 200)
    >>> len(kept) <= 200, 5_000 in kept
    (True, True)
    """
    if len(days) <= most:
        return list(range(len(days)))
    import numpy as np  # costs a tenth of a second that a page without a long series need not pay
    from tsdownsample import MinMaxDownsampler

    x, y = np.ascontiguousarray(days, dtype=float), np.ascontiguousarray(depths, dtype=float)
    return [int(i) for i in MinMaxDownsampler().downsample(x, y, n_out=max(4, most - most % 2))]  # type: ignore[no-untyped-call]


def _gaps(days: Any) -> Any:
    """How many gaps lie before each point: the line is lifted where the count changes."""
    if len(days) < 3:
        return [0] * len(days)
    import numpy as np

    steps = np.diff(np.asarray(days, dtype=float))
    return np.concatenate([[0], np.cumsum(steps > GAP_TIMES * np.median(steps))])
