"""What the filter language of SensorThings can ask of values: times and intervals, texts, places, numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

LONGEST_TEXT = 4000
_LENGTH = re.compile(r"(-)?P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+(?:\.\d+)?)S)?)?", re.ASCII)
_NUMBERS = re.compile(r"[^(),\s]+\s+[^(),\s]+")


class BadFilter(Exception):
    """What cannot be read in a filter, and where."""


class Span(NamedTuple):
    """A time or an interval of time; both ends are the same for a time."""

    begin: datetime
    end: datetime


def duration(text: str) -> timedelta:
    """A duration such as P1DT2H. Raises BadFilter."""
    match = _LENGTH.fullmatch(text)
    if match is None or text in {"P", "PT"}:
        raise BadFilter(f"{text!r} is not a duration such as P1DT2H")
    sign, days, hours, minutes, seconds = match.groups()
    size = timedelta(int(days or 0), hours=int(hours or 0), minutes=int(minutes or 0), seconds=float(seconds or 0))
    return -size if sign else size


def as_span(value: Any) -> Span | None:
    """A time or interval written as ISO 8601, None when it is none.

    Example
    -------
    >>> as_span("2026-05-14T10:20:00+01:00").begin.hour
    9
    """
    if not isinstance(value, str):
        return value if isinstance(value, Span) else None
    first, _, second = value.partition("/")
    try:
        begin = _moment(first)
        return Span(begin, _moment(second) if second else begin)
    except (ValueError, OverflowError):
        return None


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)


def _time(part: Callable[[datetime], Any]) -> Callable[[Any], Any]:
    def of(value: Any) -> Any:
        span = as_span(value)
        return part(span.begin) if span else None

    return of


def _spans(test: Callable[[Span, Span], bool]) -> Callable[[Any, Any], Any]:
    def of(a: Any, b: Any) -> Any:
        first, second = as_span(a), as_span(b)
        return test(first, second) if first and second else None

    return of


def _texts(work: Callable[..., Any]) -> Callable[..., Any]:
    def of(*values: Any) -> Any:
        return work(*values) if isinstance(values[0], str) else None

    return of


Ring = tuple[tuple[float, float], ...]


def ring(text: str) -> Ring:
    """The outer ring of a polygon written as well-known text. Raises BadFilter."""
    kind, _, rest = text.partition("(")
    if kind.strip().upper() != "POLYGON":
        raise BadFilter(f"{kind.strip() or text!r} is not a shape we ask about; write POLYGON((...))")
    outer = rest.partition(")")[0].lstrip("( ")
    try:
        points = [tuple(float(n) for n in pair.split()) for pair in _NUMBERS.findall(outer)]
    except ValueError:
        points = []
    if len(points) < 4 or not all(len(p) == 2 and math.isfinite(p[0]) and math.isfinite(p[1]) for p in points):
        raise BadFilter("a polygon needs four points or more, longitude before latitude")
    return tuple((p[0], p[1]) for p in points)


def _inside(place: Any, ring: Any) -> Any:
    """Whether a GeoJSON point lies in a ring; its edges count as inside at random, as everywhere."""
    if not isinstance(place, dict) or place.get("type") != "Point" or not isinstance(ring, tuple):
        return None
    x, y = place["coordinates"][:2]
    inside = False
    for (x1, y1), (x2, y2) in zip(ring, ring[1:] + ring[:1]):
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            inside = not inside
    return inside


def _outside(place: Any, ring: Any) -> Any:
    inside = _inside(place, ring)
    return None if inside is None else not inside


FUNCTIONS: dict[str, tuple[tuple[int, ...], Callable[..., Any]]] = {
    "substringof": ((2,), _texts(lambda part, text: part in text)),
    "contains": ((2,), _texts(lambda text, part: part in text)),
    "startswith": ((2,), _texts(lambda text, part: text.startswith(part))),
    "endswith": ((2,), _texts(lambda text, part: text.endswith(part))),
    "length": ((1,), _texts(len)),
    "indexof": ((2,), _texts(lambda text, part: text.find(part))),
    "substring": ((2, 3), _texts(lambda text, start, size=LONGEST_TEXT: text[int(start) : int(start) + int(size)])),
    "tolower": ((1,), _texts(str.lower)),
    "toupper": ((1,), _texts(str.upper)),
    "trim": ((1,), _texts(str.strip)),
    "concat": ((2,), _texts(lambda a, b: a + b)),
    "year": ((1,), _time(lambda t: t.year)),
    "month": ((1,), _time(lambda t: t.month)),
    "day": ((1,), _time(lambda t: t.day)),
    "hour": ((1,), _time(lambda t: t.hour)),
    "minute": ((1,), _time(lambda t: t.minute)),
    "second": ((1,), _time(lambda t: t.second)),
    "fractionalseconds": ((1,), _time(lambda t: t.microsecond / 1e6)),
    "date": ((1,), _time(lambda t: as_span(t.date().isoformat()))),
    "totaloffsetminutes": ((1,), _time(lambda _t: 0)),
    "before": ((2,), _spans(lambda a, b: a.end < b.begin)),
    "after": ((2,), _spans(lambda a, b: a.begin > b.end)),
    "meets": ((2,), _spans(lambda a, b: a.end == b.begin or b.end == a.begin)),
    "during": ((2,), _spans(lambda a, b: b.begin <= a.begin and a.end <= b.end)),
    "overlaps": ((2,), _spans(lambda a, b: a.begin <= b.end and b.begin <= a.end)),
    "starts": ((2,), _spans(lambda a, b: a.begin == b.begin)),
    "finishes": ((2,), _spans(lambda a, b: a.end == b.end)),
    "round": ((1,), lambda n: math.floor(n + 0.5)),
    "floor": ((1,), math.floor),
    "ceiling": ((1,), math.ceil),
    "st_within": ((2,), _inside),
    "st_intersects": ((2,), _inside),
    "st_disjoint": ((2,), _outside),
    "geo.intersects": ((2,), _inside),
}
"""Name -> how many values it takes, and what it makes of them."""
