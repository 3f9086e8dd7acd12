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
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from tapedown.exchange.services.filter_functions import FUNCTIONS, BadFilter, Span, as_span, duration, ring

Lookup = Callable[[tuple[str, ...]], Any]
"""Gives the value at a path of an entity, None where there is none."""
Question = Callable[[Lookup], Any]

MOST_DEPTH = 40
LONGEST = 4000


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
    reader = _FilterParser(list(_tokens(text)))
    question = reader.either()
    if reader.left:
        raise BadFilter(
            f"{reader.left[0].text!r} at character {reader.left[0].at + 1} follows nothing it can belong to"
        )
    return question


def _tokens(text: str) -> Iterator[_Token]:
    at, end = 0, len(text.rstrip())
    while at < end:
        match = _TOKEN.match(text, at)
        if match is None or match.lastgroup is None:
            raise BadFilter(f"{text[at : at + 12]!r} at character {at + 1} cannot be read")
        yield _Token(match.lastgroup, match[match.lastgroup], match.start(match.lastgroup))
        at = match.end()


class Bound(NamedTuple):
    """A comparison of the time or the result of an observation with a moment, or a number.

    column  "time" or "result"
    how     gt, ge, lt or le
    """

    column: str
    how: str
    limit: datetime | float


class Bounds(NamedTuple):
    """Comparisons that whatever passes a filter meets. `whole`: the filter asks nothing else."""

    each: tuple[Bound, ...] = ()
    whole: bool = False


BOUNDED = {"phenomenonTime": "time", "resultTime": "time", "result": "result"}
"""Both times of an observation are one here."""


def bounds_of(text: str) -> Bounds:
    """The bounds that a filter sets to time and result, as far as they are joined by `and` alone.

    Columns can be cut by them before a row is looked at.

    Example
    -------
    >>> bounds_of("result gt 5 and startswith(Datastream/Thing/name, 'MF')")
    Bounds(each=(Bound(column='result', how='gt', limit=5.0),), whole=False)
    """
    parts: list[list[_Token]] = [[]]
    depth = 0
    for token in _tokens(text):
        depth += (token.text == "(") - (token.text == ")")
        if depth == 0 and token.kind == "name" and token.text == "or":
            return Bounds()
        if depth == 0 and token.kind == "name" and token.text == "and":
            parts.append([])
        else:
            parts[-1].append(token)
    read = [_bounds(part) for part in parts]
    return Bounds(tuple(bound for bounds in read for bound in bounds), all(read))


def _bounds(part: Sequence[_Token]) -> tuple[Bound, ...]:
    """What `phenomenonTime ge TIME` or `result lt NUMBER` says; () for anything else."""
    if len(part) != 3 or part[0].text not in BOUNDED:
        return ()
    column, how, limit = BOUNDED[part[0].text], part[1].text, part[2]
    if column == "result":
        if limit.kind != "number" or how not in {"gt", "ge", "lt", "le"}:
            return ()
        return (Bound(column, how, float(limit.text)),)
    span = as_span(limit.text) if limit.kind == "time" else None
    if span is None or how not in {"gt", "ge", "lt", "le"}:
        return ()
    return (Bound(column, how, span.end if how in {"gt", "ge"} else span.begin),)


class _FilterParser:
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
        either_way = self.both()
        while self.word("or"):
            either_way = _or(either_way, self.both())
        self.depth -= 1
        return either_way

    def both(self) -> Question:
        """a and b"""
        all_of = self.denied()
        while self.word("and"):
            all_of = _and(all_of, self.denied())
        return all_of

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
        total = self.multiplied()
        while how := self.word("add", "sub"):
            total = _sum(how, total, self.multiplied())
        return total

    def multiplied(self) -> Question:
        """a mul b"""
        product = self.plain()
        while how := self.word("mul", "div", "mod"):
            product = _sum(how, product, self.plain())
        return product

    def plain(self) -> Question:
        """A value, a path, a call, or brackets."""
        if not self.left:
            raise BadFilter("the filter ends where a value is expected")
        token = self.left.pop(0)
        if token.kind == "sign" and token.text == "-":
            inner = self.plain()
            return _sum("sub", lambda _at: 0, inner)
        if token.kind == "sign" and token.text == "(":
            bracketed = self.either()
            self.close()
            return bracketed
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
        questions = [self.either()]
        while self.word(","):
            questions.append(self.either())
        self.close()
        return questions

    def close(self) -> None:
        """The closing bracket."""
        if not self.word(")"):
            place = f"{self.left[0].text!r} at character {self.left[0].at + 1}" if self.left else "the end"
            raise BadFilter(f"a closing bracket is missing before {place}")


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
        value = duration(_unquoted(token.text))
    elif token.kind == "shape":
        value = ring(_unquoted(token.text))
    else:
        raise BadFilter(f"{token.text!r} at character {token.at + 1} stands where a value is expected")
    return lambda _at: value


def _unquoted(text: str) -> str:
    return text[text.index("'") + 1 : -1].replace("''", "'")


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
    known = FUNCTIONS.get(token.text)
    if known is None:
        raise BadFilter(f"there is no function {token.text!r}; known: {', '.join(sorted(FUNCTIONS))}")
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
