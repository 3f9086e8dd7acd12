"""Gathering a delivery: the whole network worked out in one pass over the record, as it is or as it was known."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime, time, timedelta, timezone
from typing import TYPE_CHECKING, Any

from tapedown.engine.methods.registry import ENGINE_VERSION
from tapedown.exchange.delivery.contents import DatedPoint, Delivered, DeliveredWell, Delivery
from tapedown.exchange.formats.registry import UNITS
from tapedown.record import Head, Held, heads
from tapedown.values.progress import Progress, Watch, unwatched
from tapedown.values.readings import Readings, Visit
from tapedown.values.results import Reduction
from tapedown.values.times import instant, written_form, zone
from tapedown.values.wells import PointHeight
from tapedown.version import VERSION
from tapedown.work.authorship import now
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.refusals import NoSuchWell
from tapedown.work.review.signing import delivery
from tapedown.work.wells.files import WellFile, file_of, point_fact
from tapedown.work.wells.history import History, Row, history_of
from tapedown.work.wells.standing import held_by_well

if TYPE_CHECKING:
    from tapedown.work.series.delivered import Stories


def gather(
    network: OpenNetwork,
    *,
    units: Sequence[str] = (),
    wells: Sequence[str] = (),
    watch: Watch = unwatched,
    clock: Callable[[], datetime] = now,
) -> Delivery:
    """Everything a network hands on.

    Parameters
    ----------
    units : units to round in beside full precision; the network's own when none is named
    wells : codes, all when none is named

    Raises
    ------
    NoSuchWell
    ValueError
        A unit that is not one of exchange.formats.registry.UNITS.
    """
    if unknown := set(units) - set(UNITS):
        raise ValueError(f"units {sorted(unknown)} are not among {UNITS}")
    shelf, held = gear_shelf(network), held_by_well(network)
    for code in wells:
        if code not in held:
            raise NoSuchWell(code, difflib.get_close_matches(code, held, n=3))
    codes = [code for code in sorted(held) if not wells or code in wells]
    delivered, well_of = [], _Wells(network, held, shelf)
    for done, code in enumerate(codes):
        if done % 100 == 0:
            watch(Progress("wells worked out", done, len(codes)))
        delivered.append(well_of(code))
    well_of.close()
    signed = delivery(network)
    head = signed.tree_head if signed else ""
    return delivery_of(network, delivered, units=units, tree_head=head, clock=clock)._replace(chosen=bool(wells))


def delivery_of(
    network: OpenNetwork,
    wells: Sequence[DeliveredWell],
    *,
    units: Sequence[str] = (),
    tree_head: str = "",
    clock: Callable[[], datetime] = now,
) -> Delivery:
    """A delivery of these wells."""
    return Delivery(
        network.facts,
        tuple(wells),
        written_form(clock()),
        network.as_of or "",
        tuple(units) or (network.unit,),
        f"tapedown {VERSION}",
        ENGINE_VERSION,
        tree_head,
    )


class _Wells:
    """Wells worked out from entries that were read once. Calling it gives the well of a code."""

    def __init__(self, network: OpenNetwork, held: Mapping[str, Sequence[Held]], shelf: GearShelf) -> None:
        self._network, self._held, self._shelf = network, held, shelf
        self._stories: Stories | None = None

    def __call__(self, code: str) -> DeliveredWell:
        """The well; what was struck is left out."""
        held = self._held[code]
        if not _has_logger(held):
            file = file_of(code, held, self._network)
            return _well(history_of(file, self._network, self._shelf), held, self._network)
        from tapedown.work.series.delivered import delivered_series  # columns: half a second to load

        stories = self.stories()
        well_history = stories.history(code)
        return _well(well_history, held, self._network)._replace(
            series=delivered_series(self._network, well_history.file, stories)
        )

    def stories(self) -> Stories:
        """What is said of the series of the network."""
        if self._stories is None:
            from tapedown.work.series.delivered import Stories

            self._stories = Stories(self._network, self._held, self._shelf)
        return self._stories

    def behind(self, code: str) -> set[str]:
        """Wells whose entries decide what is told of a well, this one among them."""
        return {code, *(self.stories().behind(code) if _has_logger(self._held[code]) else ())}

    def close(self) -> None:
        """Let go of the entries."""
        if self._stories is not None:
            self._stories.close()


def _has_logger(held: Iterable[Held]) -> bool:
    return any(one.entry.kind == "logger file" for one in held)


def _well(well_history: History, held: Sequence[Held], network: OpenNetwork) -> DeliveredWell:
    file = well_history.file
    return DeliveredWell(
        file.code,
        min(one.entry.written_at for one in held),
        file.identity,
        file.in_force("position", ""),
        file.in_force("construction", ""),
        tuple(_points(file)),
        tuple(_readings(well_history, network.facts.zone)),
        well_history.bottom,
    )


def _points(file: WellFile) -> list[DatedPoint]:
    facts = file.of_kind("measuring point")
    later = {a.entry.id: b.entry.measured_at for a, b in itertools.pairwise(facts)}
    return [DatedPoint(f.entry.id, f.entry.measured_at, later.get(f.entry.id, ""), f.value) for f in facts]


def _readings(well_history: History, zone_name: str) -> list[Delivered]:
    values = {fact.entry.id: fact.value for fact in well_history.file.facts}
    rows = [
        _delivered(row, values[row.entry.id], well_history.file, zone_name)
        for row in well_history.rows
        if row.struck_by is None
    ]
    return sorted(rows, key=lambda row: instant(row.time, zone_name))  # of one time: in the order written


def _delivered(row: Row, read: Readings | Visit, file: WellFile, zone_name: str) -> Delivered:
    fact = point_fact(file, row.entry.measured_at, read)
    point: PointHeight | None = fact.value if fact else None
    text, known = full_time(row.entry.measured_at, zone_name)
    value = _results_alone(row.value) if row.value else None
    return Delivered(row.entry, text, known, row.what, row.seen, value, row.quality, row.review, row.remarks, point)


def _results_alone(value: Reduction) -> Reduction:
    """The reduction without its steps: nothing that is delivered needs them, and they are nine tenths of it."""
    return value._replace(stages=tuple(stage._replace(steps=()) for stage in value.stages))


def full_time(measured_at: str, zone_name: str) -> tuple[str, bool]:
    """A written time with seconds and its offset, and whether the time of day is known; noon where it is not.

    "" stays "". Offsets are whole minutes: before standard time a zone has seconds, which no format can carry.

    Example
    -------
    >>> full_time("2026-05-14T10:20+01:00", "Europe/London"), full_time("2026-05-14", "Europe/London")
    (('2026-05-14T10:20:00+01:00', True), ('2026-05-14T12:00:00+01:00', False))
    """
    if not measured_at:
        return "", False
    known = "T" in measured_at
    moment = datetime.fromisoformat(measured_at)
    if not known:
        moment = datetime.combine(moment.date(), time(12))
    if moment.tzinfo is None:
        offset = zone(zone_name).utcoffset(moment) or timedelta()
        moment = moment.replace(tzinfo=timezone(timedelta(minutes=round(offset / timedelta(minutes=1)))))
    return moment.isoformat(timespec="microseconds" if moment.microsecond else "seconds"), known


_Marks = tuple[tuple[str, str | None], ...]
"""Entries about a well, each with what struck it: what is told of the well is the same while these are."""


class Gatherer:
    """Remembers the wells of the last delivery: gathers again only those whose entries, or whose barometer's, changed.

    Looks back in time are remembered too, the last few: a client asks for one page after another.
    """

    LOOKS_BACK = 3

    def __init__(self) -> None:
        self._shared: Any = None
        self._wells: dict[str, tuple[dict[str, _Marks], DeliveredWell]] = {}
        self._whole: dict[str, tuple[tuple[Head, ...], Delivery]] = {}

    def delivery(self, network: OpenNetwork) -> Delivery:
        """The network as it stands, or as it was known at its as-of."""
        ends, as_of = tuple(heads(network.record)), network.as_of or ""
        known = self._whole.get(as_of)
        if known is not None and known[0] == ends:
            return known[1]
        gathered = gather(network, units=UNITS) if as_of else self._now(network)
        self._whole[as_of] = (ends, gathered)
        for old in [key for key in self._whole if key not in ("", as_of)][: -self.LOOKS_BACK]:
            del self._whole[old]
        return gathered

    def _now(self, network: OpenNetwork) -> Delivery:
        shelf, held = gear_shelf(network), held_by_well(network)
        shared = (shelf, network.settings, network.facts)
        before = self._wells if self._shared == shared else {}
        marks = {code: tuple((one.entry.id, one.struck_by) for one in facts) for code, facts in held.items()}
        fresh, well_of = {}, _Wells(network, held, shelf)
        for code in sorted(held):
            kept = before.get(code)
            if kept is None or any(marks.get(other) != mark for other, mark in kept[0].items()):
                well = well_of(code)
                kept = {other: marks[other] for other in well_of.behind(code)}, well
            fresh[code] = kept
        well_of.close()
        self._shared, self._wells = shared, fresh
        return delivery_of(network, [well for _, well in fresh.values()], units=UNITS)
