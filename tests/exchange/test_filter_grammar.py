"""The filter language: what each operator and function answers, and that nothing makes it break.

Operators and functions: OGC 18-088 tables 21 to 23; precedence: OASIS OData 4.0 Part 2, 11.2.6.1.9.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.exchange.services.filter_functions import BadFilter
from tapedown.exchange.services.filter_grammar import asked

THING: dict[str, Any] = {
    "result": 6.0, "name": "MF-07", "nothing": None, "flag": True, "time": "2026-05-14T10:20:00+01:00",
    "span": "2026-01-01T00:00:00Z/2026-12-31T00:00:00Z", "place": {"type": "Point", "coordinates": [1.0, 2.0]},
    "Thing/name": "O'Hara",
}  # fmt: skip


def says(text: str) -> Any:
    return asked(text)(lambda path: THING.get("/".join(path)))


@pytest.mark.parametrize(
    "text",
    [
        "result eq 6", "result ne 5", "result gt 5", "result ge 6", "result lt 7", "result le 6",
        "result gt 5 and name eq 'MF-07'", "result gt 9 or name eq 'MF-07'", "not (result gt 9)", "not result gt 9",
        "result add 1 eq 7", "result sub 1 eq 5", "result mul 2 eq 12", "result div 4 eq 1.5", "result mod 4 eq 2",
        "1 add 2 mul 3 eq 7", "(1 add 2) mul 3 eq 9", "-1 lt 0", "result gt -1e2",
        "true or false and false", "not false and true", "flag eq true",
        "nothing eq null", "result ne null", "not (nothing gt 1)", "not (nothing lt 1)",
        "Thing/name eq 'O''Hara'", "startswith(name,'MF')", "endswith(name,'07')", "substringof('F-0',name)",
        "contains(name,'F-0')", "length(name) eq 5", "indexof(name,'-') eq 2", "substring(name,3) eq '07'",
        "substring(name,0,2) eq 'MF'", "tolower(name) eq 'mf-07'", "toupper('mf') eq 'MF'", "trim('  a ') eq 'a'",
        "concat(name,'!') eq 'MF-07!'", "round(5.5) eq 6", "floor(5.9) eq 5", "ceiling(5.1) eq 6",
        "time eq 2026-05-14T09:20:00Z", "time gt 2026-05-14T09:19:59Z", "time lt 2026-05-15",
        "year(time) eq 2026", "month(time) eq 5", "day(time) eq 14", "hour(time) eq 9", "minute(time) eq 20",
        "second(time) eq 0", "date(time) eq 2026-05-14", "time add duration'PT1H' eq 2026-05-14T10:20:00Z",
        "time sub duration'P1D' lt time", "during(time,2026-05-01T00:00:00Z/2026-06-01T00:00:00Z)",
        "during(time,span)", "before(time,2027-01-01)", "after(time,2025-01-01)", "overlaps(span,time)",
        "span gt 2025-12-31", "span lt 2027-01-01", "not (span gt 2026-06-01)",
        "st_within(place, geography'POLYGON((0 0,3 0,3 3,0 3,0 0))')",
        "st_disjoint(place, geography'POLYGON((5 5,6 5,6 6,5 6,5 5))')",
        "geo.intersects(place, geography'POLYGON ((0 0, 3 0, 3 3, 0 3, 0 0))')",
    ],
)  # fmt: skip
def test_a_filter_that_holds(text: str) -> None:
    assert says(text) is True
    assert says(f"not ({text})") is False


@pytest.mark.parametrize(
    "text",
    ["", "result", "result gt", "gt 5", "result gt 5 5", "(result gt 5", "result gt 5)", "foo(result)", "length()",
     "length(name,name)", "name eq 'open", "result eq 1..2", "result ~ 5", "2026-13-45 eq time", "duration'P' eq 1",
     "st_within(place, geography'LINESTRING(0 0,1 1)')", "st_within(place, geography'POLYGON((0 0,1 1))')",
     "(" * 100 + "true" + ")" * 100, "not " * 3000 + "true", "a eq 1 and " * 1000 + "true"],
)  # fmt: skip
def test_a_filter_that_cannot_be_read_is_told_or_false(text: str) -> None:
    if text == "result":
        assert says(text) is not True
        return
    with pytest.raises(BadFilter):
        asked(text)


@given(st.text(max_size=60) | st.from_regex(r"(result|name|[0-9.]+|'a'|and|or|not|gt|eq|\(|\)|add|,| ){1,20}"))
def test_no_text_breaks_the_reader(text: str) -> None:
    try:
        question = asked(text)
    except BadFilter:
        return
    question(lambda path: THING.get("/".join(path)))
