"""Parts of a line of readings: the numbers read, the height of the point, and the bodies they become."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any, NamedTuple

from tapedown.exchange.tables.cells import Cells, Columns, LineAside, checked, negated
from tapedown.exchange.tables.mapping import Meaning, PointPart, ReadingPart
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import canonical
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.values.readings import Readings
from tapedown.values.seen import SEEN, Seen, joined
from tapedown.values.wells import PointHeight
from tapedown.values.written import Written


class Numbers:
    """The number or the two tape values of a line."""

    def __init__(self, columns: Columns, part: ReadingPart) -> None:
        first = part.value or part.at_point
        self.raw = columns.raw(first.column if first else "")
        self.blanks = columns.mapping.blanks | (first.blanks if first else frozenset())
        self.value, self.at_point = columns.number(part.value), columns.number(part.at_point)
        self.at_water = columns.number(part.at_water)
        self.pair, self.up = part.value is None, part.positive == "up" and part.reference != "elevation"
        self.instead = part.instead
        self.no_cut = {float(text) for text in part.no_cut if text}
        self.blank_cut = "" in part.no_cut

    def read(self, cells: Cells) -> tuple[Written, ...]:
        """() when no number was written, (value,), or (hold, cut). Depths grow downward."""
        if self.raw(cells) in self.instead:
            return ()
        if self.pair:
            return self._hold_and_cut(cells)
        value = self.value(cells)
        if value is None:
            return ()
        return (negated(value) if self.up else value,)

    def _hold_and_cut(self, cells: Cells) -> tuple[Written, ...]:
        hold, cut = self.at_point(cells), self.at_water(cells)
        if hold is None and (cut is None or float(cut.text) in self.no_cut):
            return ()
        if hold is None:
            raise LineAside(f"a value {cut} at the water and none at the point", "look at the source")
        if cut is None and not self.blank_cut:
            raise LineAside(f"a value {hold} at the point and none at the water", "look at the source")
        if cut is None or float(cut.text) in self.no_cut:
            return (hold,)
        return hold, cut


class PointTold:
    """The height of the measuring point told by a line."""

    def __init__(self, columns: Columns, part: PointPart) -> None:
        self.height, self.positive = columns.number(part.height), part.positive
        self.elevation, self.ground = columns.number(part.elevation), columns.number(part.ground)
        self.name, self.description = columns.text(part.name), columns.text(part.description)
        self.u_height, self.why = columns.uncertainty(part.u_height), columns.text(part.why)

    def read(self, cells: Cells) -> PointHeight | None:
        """The point, None when the line does not tell its height."""
        height = self.height(cells)
        if height is None:
            elevation, ground = self.elevation(cells), self.ground(cells)
            if elevation is None or ground is None:
                return None
            height = _difference(elevation, ground)
        elif self.positive == "below land surface":
            height = negated(height)
        return _point(height, self.name(cells), self.description(cells), self.u_height(cells), self.why(cells))


def _difference(elevation: Written, ground: Written) -> Written:
    if elevation.unit != ground.unit:
        raise LineAside(f"point at {elevation}, ground at {ground}: two units", "bring them to one unit")
    return elevation._replace(text=f"{Decimal(elevation.text) - Decimal(ground.text):f}")


@lru_cache(maxsize=4096)
def _point(height: Written, name: str, description: str, u_height: str, why: str) -> PointHeight:
    metres = height.si
    side = "level" if metres == 0 else "above" if metres > 0 else "below"
    plain = height._replace(text=height.text.lstrip("+-"))
    given = {
        "name": name, "description": description, "height": str(plain), "side": side, "u_height": u_height, "why": why,
    }  # fmt: skip
    value, problems = KINDS["measuring point"].read(given, height.unit)
    point: PointHeight = checked(value, problems)
    return point


def both_meanings(first: Meaning, second: Meaning) -> Meaning:
    """What two words of one line mean together."""
    return Meaning(
        joined(first.seen, second.seen),
        *("; ".join(filter(None, pair)) for pair in zip(first[1:], second[1:])),
    )


class ReportedDetails(NamedTuple):
    """Everything about a reported value but the value itself."""

    reference: str
    what: str
    how: str
    u: str
    remarks: str
    seen: Seen
    point: str


def reported_body(value: Written, said: ReportedDetails) -> str:
    """Body of a reported value, canonical."""
    body = _reported(said, value.unit)
    return canonical({**body, "read": {**body["read"], "readings": [str(value)]}})


@lru_cache(maxsize=4096)
def _reported(details: ReportedDetails, unit: str) -> dict[str, Any]:
    """The body of a reported value, read through its form with 0 for the value.

    Many lines share everything but the number, and the number is checked where it is read.
    """
    read = {
        "readings": [f"0 {unit}"],
        "reference": details.reference,
        "what": details.what,
        "how": details.how,
        "u": details.u or None,
        "remarks": details.remarks,
        "point": details.point,
    }
    return readings_body(_read({"method": "reported", "read": read, "seen": SEEN.body(details.seen)}, unit))


def hold_cut(hold: Written, cut: Written, said: ReportedDetails) -> Readings:
    """A pair of tape values, read through its form."""
    remarks = "; ".join(filter(None, (said.how, said.remarks)))
    read = {"readings": [{"hold": str(hold), "cut": str(cut)}], "remarks": remarks, "point": said.point}
    return _read({"method": "chalked tape", "read": read, "seen": SEEN.body(said.seen)}, hold.unit)


def _read(body: Mapping[str, Any], unit: str) -> Readings:
    value: Readings = checked(*readings_from_body(body, unit))
    return value


@lru_cache(maxsize=1024)
def visit_body(seen: Seen, remarks: str) -> str:
    """Body of a visit without a reading, canonical."""
    form = KINDS["visit"]
    return canonical(form.body(checked(*form.read({"seen": SEEN.body(seen), "remarks": remarks}, "m"))))
