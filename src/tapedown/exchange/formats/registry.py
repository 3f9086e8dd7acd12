"""The formats a delivery may be written in: one row each. A new format is a module and a row here.

Their packages are heavy and load only when a format is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import TYPE_CHECKING, Any, NamedTuple

from tapedown.values.errors import TapedownError

if TYPE_CHECKING:  # the command line names the formats without loading what writes them
    from tapedown.exchange.delivery.tables import Tables

Files = Iterable[tuple[str, bytes]]
EXTRA = "formats"
"""Name of the extra that brings the packages."""


class UnknownFormat(TapedownError):
    """A format that is not one of ours."""

    def __init__(self, name: str) -> None:
        super().__init__(f"no format {name!r}", hint=f"the formats are: {', '.join((*FORMATS, ENTRIES))}")


class PackageMissing(TapedownError):
    """A package that a format or a frame needs is not installed."""

    def __init__(self, package: str, extra: str = EXTRA) -> None:
        super().__init__(
            f"this needs the package {package}, which is not installed",
            hint=f"install the extra that brings it: pip install 'tapedown[{extra}]'",
        )


class Format(NamedTuple):
    """A format: its name, what it is for, where the function that writes it stands, and whether that takes `Tables`."""

    name: str
    what: str
    module: str
    function: str
    tabular: bool = True


FORMATS: dict[str, Format] = {
    row.name: row
    for row in (
        Format(
            "csv", "CSV tables with a Data Package descriptor and CSVW metadata", "formats.csv_package", "csv_files"
        ),
        Format("xlsx", "a spreadsheet with typed cells", "formats.xlsx_book", "xlsx_files"),
        Format("geojson", "wells with their last state for a map", "delivery.features", "geojson_files"),
        Format("geopackage", "wells and tables for a GIS", "formats.geopackage", "geopackage_files"),
        Format("geoparquet", "the same in columns, for large networks", "formats.arrow_tables", "parquet_files"),
        Format("waterml", "WaterML 2.0 Part 1, a file a well", "formats.waterml", "waterml_files", False),
        Format(
            "groundwaterml",
            "GroundWaterML 2, construction, a file a well",
            "formats.groundwaterml",
            "groundwaterml_files",
            False,
        ),
        Format("netcdf", "netCDF with the CF conventions, a file a series", "formats.netcdf", "netcdf_files", False),
    )
}
UNITS = ("ft", "m")
"""Units that a delivery may be rounded in."""
ENTRIES = "entries"
"""The record's own entries, without loss: everything, access notes included."""


def format_named(name: str) -> Format:
    """The format of that name. Raises UnknownFormat."""
    if name not in FORMATS:
        raise UnknownFormat(name)
    return FORMATS[name]


def written_as(made: Tables, name: str) -> Iterator[tuple[str, bytes]]:
    """The files of a delivery in one format: name and bytes.

    Raises
    ------
    UnknownFormat, PackageMissing
    """
    yield from writer(name)(made if format_named(name).tabular else made.delivery)


def writer(name: str) -> Callable[[Any], Files]:
    """The function that writes a format, its packages loaded. Raises UnknownFormat, PackageMissing."""
    row = format_named(name)
    with optional_packages():
        write: Callable[[Any], Files] = getattr(import_module(f"tapedown.exchange.{row.module}"), row.function)
    return write


@contextmanager
def optional_packages(extra: str = EXTRA) -> Iterator[None]:
    """Around an import that stands on packages of an extra.

    Raises
    ------
    PackageMissing
    """
    try:
        yield
    except ModuleNotFoundError as error:
        if error.name is None or error.name.startswith("tapedown"):
            raise
        raise PackageMissing(error.name.partition(".")[0], extra) from None
