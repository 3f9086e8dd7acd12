"""What a delivery holds: the network, its wells with their facts, every reading worked out. Formats write nothing else.

Lengths are in m at full precision; how they are rounded for people follows from each reduction's digits.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from tapedown.engine.checks.at_the_well import DEEPER_THAN, NOTHING
from tapedown.engine.methods.stages import TOTAL_DEPTH
from tapedown.engine.uncertainty.digits import own_step, rounded, spread, step_in
from tapedown.engine.well.fill import WellCondition
from tapedown.values.ledger.entries import Entry
from tapedown.values.reading_forms import gear_named
from tapedown.values.readings import Review
from tapedown.values.results import Digits, Finding, Reduction, Result
from tapedown.values.seen import Seen
from tapedown.values.units import from_si
from tapedown.values.wells import Construction, Network, PointHeight, Position, Well

if TYPE_CHECKING:
    import polars as pl

WATER, BOTTOM = "water level", "total depth"


class DatedPoint(NamedTuple):
    """A measuring point with the days it held: from the first until before the second, "" for still."""

    id: str
    since: str
    until: str
    point: PointHeight


class Delivered(NamedTuple):
    """A reading set, or a visit without one, worked out.

    time        with seconds and an offset; noon of the day where the time of day is not known
    time_known  whether the time of day is known
    method      as in engine.methods.registry, "visit" where nothing was read
    seen        what went on at the well
    value       its results without their steps; None where the visit gave no number
    quality     the reviewer's word where there is one, else what the checks leave
    point       the measuring point in force, None when none is recorded
    """

    entry: Entry
    time: str
    time_known: bool
    method: str
    seen: Seen
    value: Reduction | None
    quality: str
    review: Review | None
    remarks: str
    point: PointHeight | None

    @property
    def use(self) -> str:
        """What the value may stand for; "no value" without one."""
        return self.value.use if self.value else NOTHING

    @property
    def quantity(self) -> str:
        """WATER or BOTTOM: what was looked for, whether or not it was found."""
        if self.use == TOTAL_DEPTH or self.method == "weighted tape":
            return BOTTOM
        read = self.entry.data.get("read", {}) if self.method == "reported" else {}
        return BOTTOM if read.get("what") == BOTTOM else WATER

    @property
    def is_bound(self) -> bool:
        """Whether the number says how far the tape went, and not where the water stands."""
        return self.use in {DEEPER_THAN, NOTHING}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Findings about the reading, weightiest first."""
        return self.value.findings if self.value else ()

    @property
    def gear(self) -> tuple[str, ...]:
        """Serial numbers of the gear it was read with."""
        return tuple(gear_named(self.method, self.entry.data.get("read", {})).values())

    def result(self, stage: str) -> Result | None:
        """The result of a stage that may be used as a value: None for a bound."""
        return self.value.result(stage) if self.value and not self.is_bound else None

    def bound(self, stage: str) -> Result | None:
        """How deep the tape went without finding water, None where it did find it."""
        return self.value.result(stage) if self.value and self.is_bound else None


class DeliveredSeries(NamedTuple):
    """Values of one quantity at one well in the order of time.

    quantity    key of exchange.delivery.quantities
    kind        "reading", "logger" or "daily mean"
    times       with seconds and an offset
    values_m    m, None where there is none
    expanded_m  expanded uncertainty, m, None where it is not known
    quality     words of values.results
    bounds_m    how deep the tape went where there is no level; () when there are none
    notes       in words, beside each value: method, conditions, checks; () when there are none
    ids         ids of the entries behind the values, () when they have none
    datum       vertical datum of elevations, "" for depths
    name        of a logger's series, "" for what was read by hand
    """

    well: str
    quantity: str
    kind: str
    times: tuple[str, ...]
    values_m: tuple[float | None, ...]
    expanded_m: tuple[float | None, ...]
    quality: tuple[str, ...]
    bounds_m: tuple[float | None, ...] = ()
    notes: tuple[str, ...] = ()
    ids: tuple[str, ...] = ()
    datum: str = ""
    name: str = ""


class RowSource:
    """Where the rows of a series are kept. Two sources of one digest hold the same rows.

    Columns: time (UTC, without a zone), value_m, u_m, expanded_m, quality, flag; of daily means also rows, share,
    shallowest_m, deepest_m.
    """

    def __init__(self, digest: str, opened: Callable[[], pl.LazyFrame]) -> None:
        self.digest, self.opened = digest, opened

    def __eq__(self, other: object) -> bool:
        return isinstance(other, RowSource) and other.digest == self.digest

    def __hash__(self) -> int:
        return hash(self.digest)


class Recorded(NamedTuple):
    """A logger's series as it is handed on, told without its rows.

    quantity  key of exchange.delivery.quantities
    kind      "logger" or "daily mean"
    name      of the logger's series
    zone      the zone its times are written in
    size      how many rows it has
    first     time of the first row, with seconds and an offset; last of the last
    source    where the rows are kept
    """

    well: str
    quantity: str
    kind: str
    name: str
    zone: str
    size: int
    first: str
    last: str
    source: RowSource


class DeliveredWell(NamedTuple):
    """A well with its facts in force, its measuring points oldest first and its readings in the order of time.

    known_since  when its first entry was written
    series       what loggers recorded; what was read by hand follows from `readings`
    """

    code: str
    known_since: str
    identity: Well | None
    position: Position | None
    construction: Construction | None
    points: tuple[DatedPoint, ...]
    readings: tuple[Delivered, ...]
    bottom: WellCondition | None
    series: tuple[Recorded, ...] = ()

    def last(self, quantity: str) -> Delivered | None:
        """The newest reading of a quantity that gave a number or a bound."""
        readings = [r for r in self.readings if r.quantity == quantity and r.value is not None and r.use != NOTHING]
        return readings[-1] if readings else None

    @property
    def place(self) -> tuple[float, float] | None:
        """Longitude and latitude, degrees, None when they are not recorded."""
        at = self.position
        if at is None or at.latitude is None or at.longitude is None:
            return None
        return at.longitude.si, at.latitude.si


class Delivery(NamedTuple):
    """Everything that is handed on, as known at `as_of`.

    made_at    when it was gathered, as entries are stamped
    as_of      as entries are stamped, "" for everything known when it was made
    units      units the values are rounded in beside full precision, some of exchange.formats.registry.UNITS
    chosen     only some of the network's wells were asked for
    tree_head  head of the tree of signed entries, "" where there is none
    program    name and version that made it, and of the engine
    """

    network: Network
    wells: tuple[DeliveredWell, ...]
    made_at: str
    as_of: str
    units: tuple[str, ...]
    program: str
    engine: str
    tree_head: str = ""
    chosen: bool = False

    @property
    def title(self) -> str:
        """The delivery in a few words."""
        until = f", as known at {self.as_of}" if self.as_of else ""
        return f"Groundwater readings of {self.network.name}{until}"


def reporting_step(result: Result, digits: Digits, unit: str) -> float:
    """The step a result is rounded to in `unit`."""
    return step_in(own_step(result, digits), digits.unit, unit)


def reported(result: Result, digits: Digits, unit: str) -> str:
    """A result rounded to its reporting step, in `unit`: "82.10"."""
    return rounded(from_si(result.value_m, unit, "length"), reporting_step(result, digits, unit))


def reported_expanded(result: Result, digits: Digits, unit: str) -> str:
    """Its expanded uncertainty, in `unit`: "0.05"."""
    return spread(result.expanded_m, unit, reporting_step(result, digits, unit))


def said_result(result: Result, digits: Digits, unit: str) -> str:
    """A result as people say it, with its expanded uncertainty: "17.66 ± 0.022 ft"."""
    return f"{reported(result, digits, unit)} ± {reported_expanded(result, digits, unit)} {unit}"


def said(row: Delivered, unit: str) -> str:
    """A reading's main value as people say it, with its uncertainty: "17.66 ± 0.022 ft", "deeper than 60.20 ft"."""
    main = row.value.main if row.value else None
    if row.value is None or main is None or row.use == NOTHING:
        return "no value"
    if row.use == DEEPER_THAN:
        return f"deeper than {reported(main, row.value.digits, unit)} {unit}"
    return said_result(main, row.value.digits, unit)
