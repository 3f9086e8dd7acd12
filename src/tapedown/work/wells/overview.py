"""The network at a glance, worked out again only for the wells about which something was written."""

from __future__ import annotations

from typing import Any, NamedTuple

from tapedown.record import Head, heads
from tapedown.values.wells import Position
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.wells.files import file_of
from tapedown.work.wells.standing import WellNow, held_by_well, well_now


class Glance(NamedTuple):
    """All wells by code, and latitude and longitude in degrees of those that have both."""

    wells: list[WellNow]
    positions: dict[str, tuple[float, float]]


class _WellKnown(NamedTuple):
    """What was worked out of one well, and from which entries: ids, each with what strikes it."""

    entries: tuple[tuple[str, str | None], ...]
    now: WellNow
    position: tuple[float, float] | None


class Overview:
    """Remembers how the wells stood at the last look.

    The same ends of chains say the same of the whole network; else the same entries, gear and settings say the same of
    a well. Looks back in time are not remembered. Safe between threads: the worst is working something out twice.
    """

    def __init__(self) -> None:
        self._glance: tuple[tuple[Head, ...], Glance] = ((), Glance([], {}))
        self._each: tuple[Any, dict[str, _WellKnown]] = (None, {})

    def glance(self, network: OpenNetwork) -> Glance:
        """All wells, from one pass over the record at most."""
        if network.as_of is not None:
            return _glance(_work(network, {}))
        ends = tuple(heads(network.record))
        if self._glance[0] != ends:
            shared = (gear_shelf(network), network.settings, network.facts)
            before = self._each[1] if self._each[0] == shared else {}
            known = _work(network, before)
            self._each, self._glance = (shared, known), (ends, _glance(known))
        return self._glance[1]


def _glance(known: dict[str, _WellKnown]) -> Glance:
    positions = {code: each.position for code, each in known.items() if each.position is not None}
    return Glance([each.now for each in known.values()], positions)


def _work(network: OpenNetwork, before: dict[str, _WellKnown]) -> dict[str, _WellKnown]:
    shelf, by_well = gear_shelf(network), held_by_well(network)
    known_now = {}
    for code in sorted(by_well):
        held = by_well[code]
        marks = tuple((h.entry.id, h.struck_by) for h in held)
        known = before.get(code)
        if known is None or known.entries != marks:
            position = file_of(code, [h for h in held if h.entry.kind == "position"], network).in_force("position", "")
            known = _WellKnown(marks, well_now(code, held, network, shelf), _place(position))
        known_now[code] = known
    return known_now


def _place(position: Position | None) -> tuple[float, float] | None:
    if position is None or position.latitude is None or position.longitude is None:
        return None
    return position.latitude.si, position.longitude.si
