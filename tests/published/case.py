"""A case from a document or of our own making, with where it comes from and how far it is to be trusted.

provenance  "read"         the numbers stand in the named document
            "memory"       from memory, not confirmed in a document
            "constructed"  made by us from a stated formula; the source names the formula or the rule behind it
"""

from __future__ import annotations

from typing import Any, NamedTuple

import pytest

TM = "USGS TM 1-A1 (Cunningham & Schalk 2011)"
A4 = "USGS TWRI 9-A4 v2.0 (2006)"


class Case(NamedTuple):
    """What goes in, what comes out, within what, from where."""

    name: str
    given: Any
    expected: Any
    tolerance: float
    source: str
    provenance: str


def cases(*listed: Case) -> pytest.MarkDecorator:
    """The cases as parameters of a test, named; a provenance that is none of the three words is a slip."""
    assert {case.provenance for case in listed} <= {"read", "memory", "constructed"}
    assert all(case.source for case in listed)
    return pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in listed])
