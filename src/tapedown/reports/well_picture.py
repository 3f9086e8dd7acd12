"""What the figure of a well shows: the hole, and what was read in it, nothing about where it came from.

Depths are below land surface, m, positive down; times are days (`datetime.date.toordinal`, with the part of the day).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from tapedown.values.results import Num

STATIC, DISTURBED, PUMPING, DEEPER, BOTTOM = "level", "disturbed level", "pumping level", "deeper than", "bottom"
"""What a mark stands for."""
LEVELS = (STATIC, DISTURBED, PUMPING)


class Tube(NamedTuple):
    """A length of casing or screen. kind is "casing" or "screen"."""

    kind: str
    top_m: float
    bottom_m: float
    diameter_m: float | None = None
    words: str = ""


class ReadingMark(NamedTuple):
    """One reading.

    expanded_m  half the height of its bar
    weight      of its weightiest finding: "", "note", "look" or "stop"
    words, link what a pointer resting on it is told, and where it leads
    """

    on_d: float
    depth_m: float
    expanded_m: float
    kind: str
    step: float = 0.01
    weight: str = ""
    struck: bool = False
    words: str = ""
    link: str = ""


class PointMark(NamedTuple):
    """A measuring point: the day from which it holds, its height above land surface."""

    on_d: float
    height_m: float
    name: str


class LoggerTrace(NamedTuple):
    """What a logger recorded: days and depths, each (n,), in order of time, no NaN."""

    name: str
    days: Sequence[float] | Any
    depth_m: Sequence[float] | Any


class Band(NamedTuple):
    """Where readings to come are expected: days, shallow and deep edge, each (n,), in order of time."""

    days: tuple[float, ...]
    low_m: tuple[float, ...]
    high_m: tuple[float, ...]


class WellPicture(NamedTuple):
    """A well as it is drawn.

    name         for the label of the picture
    unit         "ft" or "m", of the axes
    completed_m  depth of the finished well; hole_m the depth drilled; None where not known
    lean         in words, "" for a plumb hole
    """

    name: str
    unit: str
    tubes: tuple[Tube, ...] = ()
    completed_m: float | None = None
    hole_m: float | None = None
    lean: str = ""
    points: tuple[PointMark, ...] = ()
    marks: tuple[ReadingMark, ...] = ()
    series: tuple[LoggerTrace, ...] = ()
    expected: Band | None = None

    def last(self, *kinds: str) -> ReadingMark | None:
        """The newest mark of these kinds that was not struck."""
        marks = [mark for mark in self.marks if mark.kind in kinds and not mark.struck]
        return max(marks, key=lambda mark: mark.on_d) if marks else None

    @property
    def point(self) -> PointMark | None:
        """The measuring point in force now."""
        return max(self.points, key=lambda point: point.on_d) if self.points else None


def ends(values: Sequence[Num]) -> list[float]:
    """Lowest and highest of a column, [] of an empty one."""
    if len(values) == 0:
        return []
    array = hasattr(values, "min")
    low, high = (values.min(), values.max()) if array else (min(values), max(values))  # type: ignore[attr-defined]
    return [float(low), float(high)]
