"""The time axis under a history: lines at the ticks, and as many labels as can stand beside each other."""

from __future__ import annotations

from itertools import pairwise

from tapedown.reports import svg
from tapedown.reports.axes import Scale, time_ticks

_WIDTH_OF_LETTER = 0.54
"""Of the size of the letters; measured on labels such as "21 Jan 2020" in the typefaces used."""


def time_axis(time: Scale, top: float, floor: float, *, most: int, font: float, right: float) -> list[str]:
    """Lines from `top` to `floor` with their labels below; none reaches beyond `right`."""
    drawn = []
    for day, label in _apart(time, most, font):
        x, half = time.at(day), len(label) * _WIDTH_OF_LETTER * font / 2
        drawn.append(svg.line(x, top, x, floor, paint="f-faint", stroke_width=0.6))
        at, anchor = (right, "end") if x + half > right else (x, "middle")
        drawn.append(svg.text(label, at, floor + 1.25 * font, anchor=anchor))
    return drawn


def _apart(time: Scale, most: int, font: float) -> list[tuple[float, str]]:
    """The ticks, fewer where their labels would run into each other."""
    while most > 1:
        ticks = time_ticks(time.low, time.high, most)
        room = min((time.at(b) - time.at(a) for (a, _), (b, _) in pairwise(ticks)), default=time.length)
        if room > (max((len(label) for _, label in ticks), default=0) + 1) * _WIDTH_OF_LETTER * font:
            return ticks
        most -= 1
    return time_ticks(time.low, time.high, 1)
