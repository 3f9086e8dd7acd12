"""The quantities of a delivery: what each is called, counts from and rests on, and the series of readings of a well."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from tapedown.exchange.delivery.contents import BOTTOM, WATER, Delivered, DeliveredSeries, DeliveredWell
from tapedown.exchange.delivery.recorded import as_series
from tapedown.values.results import BELOW_LAND, BELOW_POINT, ELEVATION
from tapedown.values.seen import seen_words

_OWN = "urn:x-tapedown:quantity:"


class Quantity(NamedTuple):
    """One quantity.

    key       as in file and field names
    title     in words
    what      WATER or BOTTOM
    stage     name of the result it is taken from
    positive  "down" or "up"
    definition  where its zero lies and what it means, a sentence
    cf_name   CF standard name, "" where there is none (table v93)
    """

    key: str
    title: str
    what: str
    stage: str
    positive: str
    definition: str
    cf_name: str = ""

    @property
    def uri(self) -> str:
        """A name of our own: no register has an accepted one."""
        return _OWN + self.key.replace("_", "-")


QUANTITIES: tuple[Quantity, ...] = (
    Quantity(
        "depth_to_water_below_land_surface", "depth to water below land surface", WATER, BELOW_LAND, "down",
        "depth of the water level in the well below the well's fixed land-surface datum", "water_table_depth",
    ),
    Quantity(
        "depth_to_water_below_measuring_point", "depth to water below measuring point", WATER, BELOW_POINT, "down",
        "depth of the water level in the well below the measuring point in force when it was read",
    ),
    Quantity(
        "water_level_elevation", "elevation of the water level", WATER, ELEVATION, "up",
        "elevation of the water level in the well above the vertical datum named",
    ),
    Quantity(
        "total_depth_below_land_surface", "total depth of the well below land surface", BOTTOM, BELOW_LAND, "down",
        "depth of the felt bottom of the well below the well's fixed land-surface datum",
    ),
)  # fmt: skip
BY_KEY = {quantity.key: quantity for quantity in QUANTITIES}


def all_series(well: DeliveredWell) -> Iterator[DeliveredSeries]:
    """Every series of a well: what was read by hand, quantity by quantity, then what loggers recorded, read whole."""
    yield from by_hand(well)
    yield from map(as_series, well.series)


def by_hand(well: DeliveredWell) -> Iterator[DeliveredSeries]:
    """The series that were read by hand."""
    for quantity in QUANTITIES:
        series = reading_series(well, quantity)
        if series is not None:
            yield series


def reading_series(well: DeliveredWell, quantity: Quantity) -> DeliveredSeries | None:
    """The readings of a quantity at a well, None where there are none.

    Where the water was not reached, or nothing could be read, the value is missing and the note says why. Depths below
    the measuring point stand for themselves only where the land surface is not known.
    """
    rows = [row for row in well.readings if row.quantity == quantity.what and _belongs(row, quantity)]
    if not any(row.value is not None and row.value.result(quantity.stage) for row in rows):
        return None
    results = [row.result(quantity.stage) for row in rows]
    bounds = [row.bound(quantity.stage) for row in rows]
    datums = [row.value.datum for row in rows if row.value]
    return DeliveredSeries(
        well.code,
        quantity.key,
        "reading",
        tuple(row.time for row in rows),
        tuple(result.value_m if result else None for result in results),
        tuple(result.expanded_m if result else None for result in results),
        tuple(row.quality if result else "missing" for row, result in zip(rows, results)),
        tuple(result.value_m if result else None for result in bounds),
        tuple(note_of(row) for row in rows),
        tuple(row.entry.id for row in rows),
        next((datum for datum in datums if datum), "") if quantity.stage == ELEVATION else "",
    )


def _belongs(row: Delivered, quantity: Quantity) -> bool:
    if not row.time:
        return False
    if row.value is None:
        return quantity.stage != BELOW_POINT
    if quantity.stage == BELOW_POINT:
        return row.value.result(BELOW_LAND) is None
    return row.value.result(quantity.stage) is not None


def note_of(row: Delivered) -> str:
    """A reading in words: method, what it stands for, what went on, checks that want a look, an unknown time of day."""
    checks = ", ".join(dict.fromkeys(finding.check for finding in row.findings if finding.weight != "note"))
    return "; ".join(
        filter(
            None,
            (
                row.method,
                row.use,
                ", ".join(seen_words(row.seen)),
                f"look at: {checks}" if checks else "",
                "" if row.time_known else "time of day not known, noon stands for it",
            ),
        )
    )
