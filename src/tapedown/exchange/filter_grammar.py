"""The filter language of SensorThings ($filter, after OData): text -> a question that can be put to any entity.

    question = asked("result gt 5 and startswith(Datastream/Thing/name, 'MF')")
    question(lambda path: ...)

Precedence, loosest first: or, and, not, comparison, add sub, mul div mod, minus. A comparison with nothing there is
false, unless it is asked for by `eq null`.

References
----------
OGC 18-088 (SensorThings 1.1) 9.3.3.5, tables 21 to 23; OASIS OData 4.0 Part 2, 11.2.6.1.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

Lookup = Callable[[tuple[str, ...]], Any]
"""Gives the value at a path of an entity, None where there is none."""
Question = Callable[[Lookup], Any]

MOST_DEPTH = 40
LONGEST = 4000


class BadFilter(Exception):
    """What cannot be read in a filter, and where."""


class Span(NamedTuple):
    """A time or an interval of time; both ends are the same for a time."""

    begin: datetime
    end: datetime


_TOKEN = re.compile(
    r"""\s*(?:
    (?P<shape>(?:geography|geometry)'(?:[^']|'')*')
  | (?P<length>duration'(?:[^']|'')*')
  | (?P<text>'(?:[^']|'')*')
  | (?P<time>\d{4}-\d{2}-\d{2}(?:T\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?(?:Z|[+-]\d{2}:\d{2})?)?
      (?:/\d{4}-\d{2}-\d{2}(?:T\d{2}:\d{2}(?::\d{2}(?:\.\d{1,9})?)?(?:Z|[+-]\d{2}:\d{2})?)?)?)
  | (?P<number>\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)
  | (?P<name>[A-Za-z_@][\w.@]*(?:/[A-Za-z_@][\w.@]*)*)
  | (?P<sign>[(),-])
    )""",
    re.VERBOSE | re.ASCII,
)
_LENGTH = re.compile(r"(-)?P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+(?:\.\d+)?)S)?)?", re.ASCII)
_NUMBERS = re.compile(r"[^(),\s]+\s+[^(),\s]+")


class _Token(NamedTuple):
    kind: str
    text: str
    at: int


def asked(text: str) -> Question:
    """The question that a filter asks.

    Raises
    ------
    BadFilter

    Example
    -------
    >>> asked("result gt 5 and not (name eq 'MF-07')")({("result",): 6.0, ("name",): "MF-01"}.get)
    True
    """
    if len(text) > LONGEST:
        raise BadFilter(f"the filter has {len(text)} characters; {LONGEST} are read")
    reader = _Reader(list(_tokens(text)))
    question = reader.either()
    if reader.left:
        raise BadFilter(
            f"{reader.left[0].text!r} at character {reader.left[0].at + 1} follows nothing it can belong to"
        )
    return question


def _tokens(text: str) -> Iterator[_Token]:
    at, end = 0, len(text.rstrip())
    while at < end:
        found = _TOKEN.match(text, at)
        if found is None or found.lastgroup is None:
            raise BadFilter(f"{text[at : at + 12]!r} at character {at + 1} cannot be read")
        yield _Token(found.lastgroup, found[found.lastgroup], found.start(found.lastgroup))
        at = found.end()


class _Reader:
    """Reads tokens by the grammar, loosest first."""

    def __init__(self, tokens: list[_Token]) -> None:
        self.left, self.depth = tokens, 0

    def word(self, *words: str) -> str:
        """Take one of these words when it comes next, else ""."""
        if self.left and self.left[0].kind in {"name", "sign"} and self.left[0].text in words:
            return self.left.pop(0).text
        return ""

    def either(self) -> Question:
        """a or b"""
        self.depth += 1
        if self.depth > MOST_DEPTH:
            raise BadFilter("the filter is nested too deeply")
        found = self.both()
        while self.word("or"):
            found = _or(found, self.both())
        self.depth -= 1
        return found

    def both(self) -> Question:
        """a and b"""
        found = self.denied()
        while self.word("and"):
            found = _and(found, self.denied())
        return found

    def denied(self) -> Question:
        """not a"""
        turns = 0
        while self.word("not"):
            turns += 1
        inner = self.compared()
        return inner if turns % 2 == 0 else lambda at: inner(at) is not True

    def compared(self) -> Question:
        """a gt b"""
        left = self.added()
        how = self.word(*_COMPARE)
        return _comparison(how, left, self.added()) if how else left

    def added(self) -> Question:
        """a add b"""
        found = self.multiplied()
        while how := self.word("add", "sub"):
            found = _sum(how, found, self.multiplied())
        return found

    def multiplied(self) -> Question:
        """a mul b"""
        found = self.plain()
        while how := self.word("mul", "div", "mod"):
            found = _sum(how, found, self.plain())
        return found

    def plain(self) -> Question:
        """A value, a path, a call, or brackets."""
        if not self.left:
            raise BadFilter("the filter ends where a value is expected")
        token = self.left.pop(0)
        if token.kind == "sign" and token.text == "-":
            inner = self.plain()
            return _sum("sub", lambda _at: 0, inner)
        if token.kind == "sign" and token.text == "(":
            found = self.either()
            self.close()
            return found
        if token.kind == "name" and self.word("("):
            return _call(token, self.listed())
        if token.kind == "name" and token.text not in _CONSTANTS:
            path = tuple(token.text.split("/"))
            return lambda at: at(path)
        return _constant(token)

    def listed(self) -> list[Question]:
        """The arguments of a call."""
        if self.word(")"):
            return []
        found = [self.either()]
        while self.word(","):
            found.append(self.either())
        self.close()
        return found

    def close(self) -> None:
        """The closing bracket."""
        if not self.word(")"):
            said = f"{self.left[0].text!r} at character {self.left[0].at + 1}" if self.left else "the end"
            raise BadFilter(f"a closing bracket is missing before {said}")


_CONSTANTS = {"true": True, "false": False, "null": None}


def _constant(token: _Token) -> Question:
    value: Any
    if token.kind == "name":
        value = _CONSTANTS[token.text]
    elif token.kind == "number":
        value = float(token.text)
    elif token.kind == "text":
        value = _unquoted(token.text)
    elif token.kind == "time":
        value = as_span(token.text)
        if value is None:
            raise BadFilter(f"{token.text!r} is not a time")
    elif token.kind == "length":
        value = _duration(_unquoted(token.text))
    elif token.kind == "shape":
        value = _ring(_unquoted(token.text))
    else:
        raise BadFilter(f"{token.text!r} at character {token.at + 1} stands where a value is expected")
    return lambda _at: value


def _unquoted(text: str) -> str:
    return text[text.index("'") + 1 : -1].replace("''", "'")


def _duration(text: str) -> timedelta:
    found = _LENGTH.fullmatch(text)
    if found is None or text in {"P", "PT"}:
        raise BadFilter(f"{text!r} is not a duration such as P1DT2H")
    sign, days, hours, minutes, seconds = found.groups()
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
    found = datetime.fromisoformat(text.replace("Z", "+00:00"))
    return (found if found.tzinfo else found.replace(tzinfo=UTC)).astimezone(UTC)


def _or(left: Question, right: Question) -> Question:
    return lambda at: left(at) is True or right(at) is True


def _and(left: Question, right: Question) -> Question:
    return lambda at: left(at) is True and right(at) is True


_COMPARE: dict[str, Callable[[Any, Any], bool]] = {
    "eq": lambda a, b: a == b,
    "ne": lambda a, b: a != b,
    "gt": lambda a, b: a > b,
    "ge": lambda a, b: a >= b,
    "lt": lambda a, b: a < b,
    "le": lambda a, b: a <= b,
}


def _comparison(how: str, left: Question, right: Question) -> Question:
    compare = _COMPARE[how]

    def question(at: Lookup) -> bool:
        a, b = left(at), right(at)
        if a is None or b is None:
            return (a is b) if how == "eq" else (a is not b) if how == "ne" else False
        if isinstance(a, Span) or isinstance(b, Span):
            return _in_time(how, as_span(a), as_span(b))
        if isinstance(a, bool) != isinstance(b, bool) or isinstance(a, str) != isinstance(b, str):
            return how == "ne"
        try:
            return compare(a, b)
        except TypeError:
            return how == "ne"

    return question


def _in_time(how: str, a: Span | None, b: Span | None) -> bool:
    """Before and after of intervals: one ends before the other begins."""
    if a is None or b is None:
        return False
    if how in {"eq", "ne"}:
        return (a == b) == (how == "eq")
    if how in {"lt", "le"}:
        return _COMPARE[how](a.end, b.begin)
    return _COMPARE[how](a.begin, b.end)


def _sum(how: str, left: Question, right: Question) -> Question:
    def worked(at: Lookup) -> Any:
        a, b = left(at), right(at)
        if isinstance(b, timedelta) and (moment := as_span(a)) is not None and how in {"add", "sub"}:
            size = b if how == "add" else -b
            try:
                return Span(moment.begin + size, moment.end + size)
            except OverflowError:
                return None
        if not _is_number(a) or not _is_number(b) or (how in {"div", "mod"} and b == 0):
            return None
        return {"add": a + b, "sub": a - b, "mul": a * b}[how] if how in {"add", "sub", "mul"} else (
            a / b if how == "div" else math.fmod(a, b))  # fmt: skip

    return worked


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _call(token: _Token, arguments: Sequence[Question]) -> Question:
    known = _FUNCTIONS.get(token.text)
    if known is None:
        raise BadFilter(f"there is no function {token.text!r}; known: {', '.join(sorted(_FUNCTIONS))}")
    counts, work = known
    if len(arguments) not in counts:
        raise BadFilter(f"{token.text} takes {' or '.join(map(str, counts))} values, not {len(arguments)}")

    def called(at: Lookup) -> Any:
        given = [argument(at) for argument in arguments]
        if any(value is None for value in given):
            return None
        try:
            return work(*given)
        except (TypeError, ValueError, AttributeError, OverflowError):
            return None

    return called


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


def _ring(text: str) -> Ring:
    """The outer ring of a polygon written as well-known text."""
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


_FUNCTIONS: dict[str, tuple[tuple[int, ...], Callable[..., Any]]] = {
    "substringof": ((2,), _texts(lambda part, text: part in text)),
    "contains": ((2,), _texts(lambda text, part: part in text)),
    "startswith": ((2,), _texts(lambda text, part: text.startswith(part))),
    "endswith": ((2,), _texts(lambda text, part: text.endswith(part))),
    "length": ((1,), _texts(len)),
    "indexof": ((2,), _texts(lambda text, part: text.find(part))),
    "substring": ((2, 3), _texts(lambda text, start, size=LONGEST: text[int(start) : int(start) + int(size)])),
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
