"""What becomes of each line of a table, and what the record holds already about its wells."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Literal, NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import canonical
from tapedown.values.results import Finding
from tapedown.values.wells import Construction
from tapedown.values.written import Written

Outcome = Literal["enter", "already there", "set aside"]


class Proposed(NamedTuple):
    """A draft to be: a fact without id, time of writing and writer.

    body  canonical JSON
    told  the body as the table alone tells it, when `body` also holds what the record knew; "" when it does not
    """

    kind: str
    about: str
    measured_at: str
    body: str
    strikes: str | None = None
    reason: str = ""
    told: str = ""


class TableLine(NamedTuple):
    """One line of a table and what is to become of it.

    drafts        facts it brings; () when another line brings them or it is set aside
    reason, mend  why it is not entered, and what to do
    carried_by    number of the line that brings the facts of several lines together, 0 for none
    same_as       number of the earlier line that says the same, 0 for none
    """

    number: int
    outcome: Outcome
    drafts: tuple[Proposed, ...] = ()
    findings: tuple[Finding, ...] = ()
    reason: str = ""
    mend: str = ""
    carried_by: int = 0
    same_as: int = 0


_SAME_M = 1e-8
"""What a length may change by being computed from one unit into another, m."""
SAME = "an earlier line of this file says the same"


class FactInForce(NamedTuple):
    """An entry in force about a well, as far as an import needs it."""

    id: str
    kind: str
    about: str
    measured_at: str
    body: Mapping[str, Any]


class Known:
    """What the record holds about wells: identities, positions, constructions, measuring points; nothing struck."""

    def __init__(self, facts: Iterable[FactInForce], length_unit: str) -> None:
        self.length_unit = length_unit
        self._facts: dict[tuple[str, str], list[FactInForce]] = {}
        self._built: dict[str, Construction | None] = {}
        for fact in sorted(facts, key=lambda fact: fact.measured_at):  # stable: of one time, the later written counts
            self._facts.setdefault((fact.kind, fact.about), []).append(fact)

    def latest(self, kind: str, about: str) -> FactInForce | None:
        """The newest fact of a kind about a well."""
        facts = self._facts.get((kind, about))
        return facts[-1] if facts else None

    def named_at(self, kind: str, about: str, measured_at: str, name: str) -> FactInForce | None:
        """The newest fact with this name, of exactly this time."""
        wanted = (measured_at, name)
        facts = [f for f in self._facts.get((kind, about), ()) if (f.measured_at, f.body.get("name")) == wanted]
        return facts[-1] if facts else None

    def in_force(self, kind: str, about: str, measured_at: str) -> FactInForce | None:
        """The newest fact not later than a time; of a date alone, not later than its end."""
        in_force_then = None
        for fact in self._facts.get((kind, about), ()):
            if fact.measured_at[: len(measured_at) if "T" not in measured_at else None] > measured_at:
                break
            in_force_then = fact
        return in_force_then

    def value(self, fact: FactInForce) -> Any:
        """The fact as a value; None when its body cannot be read."""
        return KINDS[fact.kind].read(fact.body, self.length_unit)[0]

    def construction(self, about: str) -> Construction | None:
        """How the well was built, None when that is not recorded."""
        if about not in self._built:
            fact = self.latest("construction", about)
            self._built[about] = self.value(fact) if fact else None
        return self._built[about]


def filled(
    fact: FactInForce | None, kind: str, about: str, body: Mapping[str, Any], why: str
) -> tuple[list[Proposed], list[Finding]]:
    """What to write so that the record also says what `body` says, and where the two contradict each other.

    What the record holds stays. Fields it lacks are added by an entry that replaces the one in force.
    """
    if fact is None:
        return ([Proposed(kind, about, "", canonical(body))] if body else []), []
    other = [_otherwise(fact, name, body[name]) for name in body if not _agree(fact.body.get(name), body[name])]
    merged = {**body, **fact.body}
    if merged == fact.body:
        return [], other
    return [Proposed(kind, about, fact.measured_at, canonical(merged), fact.id, why, canonical(body))], other


def _agree(held: Any, given: Any) -> bool:
    """Whether the record lacks what is told or says the same.

    "85 m" and "85.0 m" are the same depth, and so are "1 ft" and "0.3048 m". A list agrees row by row.
    """
    if held is None or held == given:
        return True
    if isinstance(held, list) and isinstance(given, list):
        return len(held) == len(given) and all(map(_agree, held, given))
    if isinstance(held, Mapping) and isinstance(given, Mapping):
        return held.keys() == given.keys() and all(_agree(held[name], given[name]) for name in held)
    if not isinstance(held, str) or not isinstance(given, str):
        return False
    return _same_size(held, given)


def _same_size(held: str, given: str) -> bool:
    (number, _, unit), (other, _, other_unit) = held.partition(" "), given.partition(" ")
    try:
        if unit == other_unit:
            return unit != "" and float(number) == float(other)
        sizes = (Written(number, unit), Written(other, other_unit))
        return math.isclose(sizes[0].si, sizes[1].si, abs_tol=_SAME_M)
    except (ValueError, KeyError):
        return False


def _otherwise(fact: FactInForce, name: str, given: Any) -> Finding:
    return finding(
        "record-says-otherwise",
        f"{fact.kind}, {name}: the record says {_short(fact.body[name])}, the table {_short(given)}; the record stays",
        "if the table is right, correct the entry with a reason",
        fact.about,
    )


def _short(value: Any) -> str:
    text = value if isinstance(value, str) else canonical({"": value})[4:-1]
    return text if len(text) <= 80 else f"{text[:77]}..."
