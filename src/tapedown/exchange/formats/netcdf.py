"""A delivery as netCDF with the CF conventions: a discrete sampling geometry "timeSeries", a file a series.

One station a file: it is what every reader and the public checker take without argument. The dimension is not `time`:
two readings may have one time, and a coordinate has to grow.

References
----------
CF conventions 1.11, chapter 9 and appendix H (single time series); standard name table v93.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import netCDF4
import numpy as np

from tapedown.exchange.delivery.contents import DeliveredSeries, DeliveredWell, Delivery
from tapedown.exchange.delivery.features import map_place
from tapedown.exchange.delivery.quantities import BY_KEY, Quantity, all_series
from tapedown.exchange.delivery.words_of_standards import QARTOD, vertical_epsg
from tapedown.exchange.formats.xml_parts import FileNames
from tapedown.values.results import QUALITIES

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
SOURCES = {
    "reading": "readings by hand, worked out",
    "logger": "a logger's record pulled onto readings by hand",
    "daily mean": "daily means of a logger's record pulled onto readings by hand",
}
"""Kind of a series -> where its values come from."""
_FILL = 9.969209968386869e36
"""The library's fill value for doubles."""


def netcdf_files(delivery: Delivery) -> Iterator[tuple[str, bytes]]:
    """A file for every series."""
    names = FileNames()
    for well in delivery.wells:
        for series in all_series(well):
            if series.times:
                kind = "" if series.kind == "reading" else f"-{series.kind.replace(' ', '-')}"
                ending = f"-{series.quantity.replace('_', '-')}{kind}.nc"
                yield names.name(well.code, ending), _bytes(delivery, well, series)


def _bytes(delivery: Delivery, well: DeliveredWell, series: DeliveredSeries) -> bytes:
    data = netCDF4.Dataset("series.nc", mode="w", memory=4096, format="NETCDF4_CLASSIC")
    of = BY_KEY[series.quantity]
    placed = map_place(well) is not None
    _about(data, delivery, well, series)
    if placed:
        data.featureType = "timeSeries"  # CF 9.5: only where the station has its coordinates
    data.createDimension("obs", len(series.times))
    data.createDimension("name_length", max(1, len(well.code.encode("utf-8"))))
    _station(data, delivery, well)
    _times(data, series)
    _value(data, series, of, has_place=placed)
    return bytes(data.close())


def _about(data: Any, delivery: Delivery, well: DeliveredWell, series: DeliveredSeries) -> None:
    of = BY_KEY[series.quantity]
    data.Conventions = "CF-1.11"
    data.title = f"{well.code}: {of.title}" + (f", {series.kind} of {series.name}" if series.name else "")
    data.institution = delivery.network.name
    data.source = SOURCES[series.kind]
    data.history = f"{delivery.made_at} {delivery.program}, engine {delivery.engine}"
    data.references = "CF conventions 1.11, chapter 9"
    data.comment = f"{of.definition}; positive {of.positive}; local time zone {delivery.network.zone}"
    if delivery.as_of:
        data.as_known_at = delivery.as_of


def _station(data: Any, delivery: Delivery, well: DeliveredWell) -> None:
    name = data.createVariable("station", "S1", ("name_length",))
    if map_place(well) is not None:
        name.cf_role = "timeseries_id"
    name.long_name = "code of the well"
    code = well.code.encode("utf-8")
    name[:] = np.frombuffer(code or b" ", "S1")
    place = map_place(well)
    if place is not None:
        axes = (("longitude", place[0], "degrees_east"), ("latitude", place[1], "degrees_north"))
        for axis, number, unit in axes:
            variable = data.createVariable(axis, "f8", ())
            variable.standard_name, variable.units, variable.long_name = axis, unit, f"{axis} of the well"
            variable[...] = number
    at = well.position
    if at is not None and at.land_surface is not None:
        height = data.createVariable("land_surface_elevation", "f8", ())
        datum = at.vertical_datum or delivery.network.vertical_datum
        height.long_name = f"elevation of the land-surface datum in {datum}"
        height.units = "m"
        height.comment = f"EPSG {vertical_epsg(datum)}" if vertical_epsg(datum) else f"vertical datum {datum}"
        height[...] = at.land_surface.si


def _times(data: Any, series: DeliveredSeries) -> None:
    time = data.createVariable("time", "f8", ("obs",))
    time.standard_name, time.long_name = "time", "time of reading"
    time.units, time.calendar, time.axis = "seconds since 1970-01-01T00:00:00Z", "standard", "T"
    time.units_metadata = "leap_seconds: utc"
    moments = [datetime.fromisoformat(text) for text in series.times]
    time[:] = [(moment - _EPOCH).total_seconds() for moment in moments]


def _value(data: Any, series: DeliveredSeries, of: Quantity, *, has_place: bool) -> None:
    value = data.createVariable(of.key, "f8", ("obs",), fill_value=_FILL)
    if of.cf_name:
        value.standard_name = of.cf_name
    value.long_name, value.units = of.title, "m"
    value.coordinates = "time latitude longitude station" if has_place else "time"
    expanded = data.createVariable(f"{of.key}_expanded_uncertainty", "f8", ("obs",), fill_value=_FILL)
    expanded.long_name = f"expanded uncertainty of {of.title}"
    expanded.units = "m"
    bound = data.createVariable(f"{of.key}_tape_reached", "f8", ("obs",), fill_value=_FILL)
    bound.long_name = f"how far the tape went where no level was found, as {of.title}"
    bound.units = "m"
    flag = data.createVariable(f"{of.key}_quality", "i1", ("obs",))
    flag.long_name = f"quality of {of.title}, words of the OGC vocabulary"
    flag.standard_name = "aggregate_quality_flag"
    flag.flag_values = np.arange(len(QUALITIES), dtype="i1")
    flag.flag_meanings = " ".join(QUALITIES)
    qartod = data.createVariable(f"{of.key}_qartod", "i1", ("obs",))
    qartod.long_name, qartod.standard_name = f"QARTOD flag of {of.title}", "quality_flag"
    qartod.flag_values = np.array([1, 2, 3, 4, 9], dtype="i1")
    qartod.flag_meanings = "pass not_evaluated suspect fail missing"
    value.ancillary_variables = " ".join(variable.name for variable in (expanded, bound, flag, qartod))
    if series.datum:
        value.comment = f"vertical datum {series.datum}" + _epsg(series.datum)
    value[:] = _filled(series.values_m)
    expanded[:] = _filled(series.expanded_m)
    bound[:] = _filled(series.bounds_m or (None,) * len(series.times))
    flag[:] = [QUALITIES.index(word) for word in series.quality]
    qartod[:] = [QARTOD[word] for word in series.quality]


def _epsg(datum: str) -> str:
    code = vertical_epsg(datum)
    return f" (EPSG {code})" if code else ""


def _filled(values: tuple[float | None, ...]) -> Any:
    return np.ma.masked_invalid(np.array([np.nan if v is None else v for v in values], dtype="f8"))
