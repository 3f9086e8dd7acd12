"""Measuring points of a well through time, and the levels that were carried to them."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.values.ledger.entries import Entry
from tapedown.values.wells import LevelCheck, MarkLevel, PointHeight, Position
from tapedown.work.wells.files import WellFile


class PointRow(NamedTuple):
    """A measuring point and the time it was in force; until is "" for the one in force now."""

    entry: Entry
    point: PointHeight
    until: str


class LevelRow(NamedTuple):
    """Levels carried to a point, m: elevation found from the mark, expected from land surface and the point's height.

    found_m, expected_m are None where the mark's elevation, land surface or the point's height are not known, or where
    they stand in two vertical datums.
    """

    entry: Entry
    check: LevelCheck
    found_m: float | None
    expected_m: float | None

    @property
    def difference_m(self) -> float | None:
        """Found minus expected: negative when the point sits lower than its height says."""
        return None if self.found_m is None or self.expected_m is None else self.found_m - self.expected_m


def point_rows(file: WellFile) -> list[PointRow]:
    """The measuring points, newest first."""
    facts = file.of_kind("measuring point")
    untils = [*(fact.entry.measured_at for fact in facts[1:]), ""]
    return [PointRow(fact.entry, fact.value, until) for fact, until in zip(facts, untils)][::-1]


def level_rows(file: WellFile) -> list[LevelRow]:
    """The level checks, newest first, each beside what the point's height says."""
    marks: dict[str, MarkLevel] = {fact.value.name: fact.value for fact in file.of_kind("reference mark")}
    return [
        _levelled(file, fact.entry, fact.value, marks.get(fact.value.mark)) for fact in file.of_kind("level check")
    ][::-1]


def _levelled(file: WellFile, entry: Entry, check: LevelCheck, mark: MarkLevel | None) -> LevelRow:
    position: Position | None = file.in_force("position", entry.measured_at)
    named = file._replace(facts=tuple(
        f for f in file.facts if isinstance(f.value, PointHeight) and f.value.name == check.point))  # fmt: skip
    point: PointHeight | None = named.in_force("measuring point", entry.measured_at)
    elevation_m = mark.elevation.si + check.above_mark.si if mark and mark.elevation else None
    expected = position.land_surface.si + point.height_m if position and position.land_surface and point else None
    if mark and position and mark.vertical_datum != position.vertical_datum:
        expected = None
    return LevelRow(entry, check, elevation_m, expected)
