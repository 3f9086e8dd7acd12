"""A calibration drawn: at each mark, what is to be added to what the gear showed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from tapedown.reports import svg
from tapedown.reports.axes import Scale, ticks
from tapedown.values.units import from_si

_WIDTH, _HEIGHT, _LEFT, _TOP, _FONT = 640.0, 260.0, 76.0, 28.0, 13.0


class Difference(NamedTuple):
    """One mark: what the gear showed, true minus shown, its standard uncertainty, m."""

    shown_m: float
    add_m: float
    u_m: float = 0.0


def difference_plot(
    sets: Sequence[tuple[str, Sequence[Difference]]], unit: str, allowed: Callable[[float], float] | None = None
) -> str:
    """Differences of one or several calibrations, the newest last and drawn full; "" without any mark.

    `allowed`, when given, is how far the gear may differ at a length, m: drawn as dotted lines on either side of zero.
    """
    marks = [mark for _, listed in sets for mark in listed]
    if not marks:
        return ""
    across = Scale(0.0, max(m.shown_m for m in marks) * 1.06 or 1.0, _LEFT, _WIDTH - 14)
    limits = [sign * allowed(m.shown_m) for m in marks for sign in (-1, 1)] if allowed else []
    edges = [0.0, *limits, *(m.add_m + sign * m.u_m for m in marks for sign in (-1, 1))]
    span = max(max(edges) - min(edges), 0.002)
    up = Scale(min(edges) - 0.12 * span, max(edges) + 0.12 * span, _HEIGHT - 44, _TOP)
    newest = sets[-1][0]
    drawn = [
        *_axes(across, up, unit),
        *(_allowed(allowed, across, up) if allowed else ()),
        *(part for name, listed in sets for part in _set(listed, name == newest, across, up)),
    ]
    words = f"add to what it showed, {unit}; filled: {newest}" + ("; open: earlier" if len(sets) > 1 else "")
    words += "; dotted: allowed" if allowed else ""
    title = svg.text(words, 4, 16, paint="f-soft")
    return svg.drawing(_WIDTH, _HEIGHT, f"differences at {len(marks)} marks", title, *drawn, font=_FONT, class_="plot")


def _axes(across: Scale, up: Scale, unit: str) -> list[str]:
    floor = up.at_low
    drawn = [svg.line(_LEFT, up.at(0.0), across.at_high, up.at(0.0), stroke_width=1)]
    low, high = (from_si(end, unit, "length") for end in (up.low, up.high))
    for value, label in ticks(low, high, 5):
        y = up.at(value / from_si(1.0, unit, "length"))
        drawn.append(svg.line(_LEFT, y, across.at_high, y, paint="f-faint", stroke_width=0.8))
        drawn.append(svg.text(label, _LEFT - 6, y + 4, anchor="end"))
    for value, label in ticks(0.0, from_si(across.high, unit, "length"), 7):
        x = across.at(value / from_si(1.0, unit, "length"))
        drawn.append(svg.text(label, x, floor + 18, anchor="middle"))
    return [*drawn, svg.text(f"shown, {unit}", across.at_high, floor + 36, paint="f-soft", anchor="end")]


def _allowed(allowed: Callable[[float], float], across: Scale, up: Scale) -> list[str]:
    """The allowed differences on either side of zero."""
    lengths = [across.low + i / 40 * (across.high - across.low) for i in range(41)]
    lines = [[(across.at(x), up.at(sign * allowed(x)), i == 0) for i, x in enumerate(lengths)] for sign in (-1, 1)]
    return [svg.path(line, paint="f-look", stroke_width=1.4, fill="none", stroke_dasharray="2 4") for line in lines]


def _set(listed: Sequence[Difference], newest: bool, across: Scale, up: Scale) -> list[str]:
    line = [(across.at(m.shown_m), up.at(m.add_m), i == 0) for i, m in enumerate(listed)]
    paint = "f-water" if newest else "f-struck"
    drawn = [svg.path(line, paint=paint, stroke_width=1, fill="none", stroke_dasharray="4 3")]
    for mark in listed:
        x, y = across.at(mark.shown_m), up.at(mark.add_m)
        drawn.append(svg.line(x, up.at(mark.add_m - mark.u_m), x, up.at(mark.add_m + mark.u_m), paint=paint))
        drawn.append(svg.element("circle", paint=paint, cx=x, cy=y, r=3.5))
    return drawn
