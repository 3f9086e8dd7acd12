"""Labels under a history stand apart and on the paper, whatever the span."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from tapedown.reports.axes import Scale, day_of
from tapedown.reports.time_axis import time_axis

SPANS = [
    (date(2020, 1, 1), date(2020, 1, 9)),
    (date(2019, 12, 12), date(2020, 1, 21)),
    (date(2020, 1, 1), date(2020, 6, 1)),
    (date(2020, 1, 1), date(2021, 12, 1)),
    (date(2019, 1, 1), date(2026, 1, 1)),
    (date(1898, 1, 1), date(2026, 1, 1)),
]


@pytest.mark.parametrize(("first", "last"), SPANS)
@pytest.mark.parametrize(("length", "font", "most"), [(580.0, 15.0, 9), (195.0, 11.5, 5), (240.0, 13.0, 5)])
def test_labels_stand_apart_and_on_the_paper(first: date, last: date, length: float, font: float, most: int) -> None:
    """A letter is taken as half its size wide, as the digits of common typefaces are."""
    time = Scale(day_of(first), day_of(last), 50.0, 50.0 + length)
    axis = "<g>" + "".join(time_axis(time, 0.0, 100.0, most=most, font=font, right=60.0 + length)) + "</g>"
    spans = []
    for label in ElementTree.fromstring(axis).iter("text"):  # noqa: S314 - made by us
        wide, at = len(label.text or "") * font / 2, float(label.get("x", ""))
        spans.append((at - wide, at) if label.get("text-anchor") == "end" else (at - wide / 2, at + wide / 2))
    assert spans
    assert all(end <= 60.0 + length for _, end in spans)
    assert all(start >= 0 for start, _ in spans)
    assert all(a[1] < b[0] for a, b in pairwise(spans))
