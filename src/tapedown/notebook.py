"""A network in a notebook: frames with units in their names, and a reduction or a well that shows its work.

import tapedown

fen = tapedown.open("marrow-fen", as_of="2024-03-01")
fen.reductions()                     # a Polars frame; fen.reductions(to="pandas") for the other kind
fen.reduction("MF-02", "last")       # every step, with source and uncertainty
fen.well("MF-02")                    # facts, figure, last readings
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, overload

from tapedown.exchange.delivery import tables as delivery_tables
from tapedown.exchange.delivery.columns import Flat
from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.formats.registry import UNITS, optional_packages
from tapedown.reports.notebook_html import reduction_html, well_html
from tapedown.reports.well_figure import well_figure
from tapedown.reports.words import bottom_words, headline, length_text, when_text
from tapedown.values.results import Finding, Reduction, Result
from tapedown.work.exports.gathering import gather
from tapedown.work.networks import OpenNetwork, as_of_text, open_network
from tapedown.work.printing.pictures import well_picture
from tapedown.work.wells.history import History, Row, find_row, history

if TYPE_CHECKING:
    import pandas as pd
    import polars as pl

EXTRA = "notebook"
SHOWN = 8
"""Readings shown with a well."""


class ReductionShown:
    """A reading set worked out. In a notebook it shows every step."""

    def __init__(self, code: str, row: Row, value: Reduction) -> None:
        self.well, self.value, self._row = code, value, row

    @property
    def main(self) -> Result | None:
        """Depth below land surface where it is known, else the first result; lengths in m."""
        return self.value.main

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the checks say, weightiest first."""
        return self.value.findings

    @property
    def reading_id(self) -> str:
        """Id of the entry, as in the frames."""
        return self._row.entry.id

    @property
    def title(self) -> str:
        """Well and time."""
        return f"{self.well}, {when_text(self._row.entry.measured_at)}"

    def __repr__(self) -> str:
        return f"{self.title}: {headline(self.value)}"

    def _repr_html_(self) -> str:
        return reduction_html(self.value, self.title)


class WellShown:
    """A well. In a notebook it shows facts, figure and last readings."""

    def __init__(self, told: History, unit: str) -> None:
        self.history, self._unit = told, unit

    @property
    def code(self) -> str:
        """Its code."""
        return self.history.file.code

    @property
    def title(self) -> str:
        """Code and name."""
        identity = self.history.file.identity
        return f"{self.code} {identity.name}".strip() if identity else self.code

    def figure(self) -> str:
        """The hole beside its history, as SVG."""
        return well_figure(well_picture(self.history, self._unit))

    def __repr__(self) -> str:
        return f"{self.title}: {len(self.history.rows)} readings and visits"

    def _repr_html_(self) -> str:
        standing = [row for row in self.history.rows if row.struck_by is None][-SHOWN:]
        return well_html(self.title, self._facts(), self.figure(), [_row_words(row) for row in reversed(standing)])

    def _facts(self) -> list[tuple[str, str]]:
        file, well_history = self.history.file, self.history
        identity, at, point = file.identity, file.in_force("position", ""), file.in_force("measuring point", "")
        rows = [("place", identity.place), ("aquifer", identity.aquifer)] if identity else []
        if at is not None and at.land_surface is not None:
            rows.append(("land surface", f"{at.land_surface} {at.vertical_datum}".strip()))
        if point is not None:
            height = length_text(abs(point.height_m), self._unit)
            rows.append(("measuring point", f"{point.name}, {height} {point.side} land surface: {point.description}"))
        if well_history.bottom is not None:
            rows.append(("bottom", "; ".join(bottom_words(well_history.bottom, self._unit))))
        return [(name, text) for name, text in rows if text]


def _row_words(row: Row) -> tuple[str, ...]:
    checks = [f.check for f in row.value.findings if f.weight != "note"] if row.value else []
    value_words = headline(row.value) if row.value else "no reading"
    return when_text(row.entry.measured_at), row.what, value_words, row.quality, ", ".join(dict.fromkeys(checks))


class Fen:
    """A network opened for looking, as it is or as it was known; nothing can be written through it."""

    def __init__(self, network: OpenNetwork) -> None:
        self.network = network

    @cached_property
    def delivery(self) -> Delivery:
        """Everything worked out, once; what the files and services hand on as well."""
        return gather(self.network, units=UNITS)

    @overload
    def wells(self, to: Literal["polars"] = "polars") -> pl.DataFrame: ...
    @overload
    def wells(self, to: Literal["pandas"]) -> pd.DataFrame: ...
    def wells(self, to: str = "polars") -> Any:
        """A row a well, with its facts and last state."""
        return self._flat(delivery_tables.wells, to)

    @overload
    def reductions(self, to: Literal["polars"] = "polars") -> pl.DataFrame: ...
    @overload
    def reductions(self, to: Literal["pandas"]) -> pd.DataFrame: ...
    def reductions(self, to: str = "polars") -> Any:
        """A row a reading set worked out: values, uncertainty, digits, quality, use."""
        return self._flat(delivery_tables.readings, to)

    @overload
    def findings(self, to: Literal["polars"] = "polars") -> pl.DataFrame: ...
    @overload
    def findings(self, to: Literal["pandas"]) -> pd.DataFrame: ...
    def findings(self, to: str = "polars") -> Any:
        """A row a finding."""
        return self._flat(delivery_tables.findings, to)

    @overload
    def readings(self, to: Literal["polars"] = "polars") -> pl.DataFrame: ...
    @overload
    def readings(self, to: Literal["pandas"]) -> pd.DataFrame: ...
    def readings(self, to: str = "polars") -> Any:
        """A row a repeat, as written at the well."""
        with optional_packages(EXTRA):
            from tapedown.exchange.delivery.frames import readings_frame
        return _as(readings_frame(self.delivery), to)

    @overload
    def series(self, to: Literal["polars"] = "polars") -> pl.DataFrame: ...
    @overload
    def series(self, to: Literal["pandas"]) -> pd.DataFrame: ...
    def series(self, to: str = "polars") -> Any:
        """A row a value of a series: readings by hand, loggers, daily means."""
        with optional_packages(EXTRA):
            from tapedown.exchange.delivery.frames import series_frame
        return _as(series_frame(self.delivery), to)

    def reduction(self, code: str, which: str = "last") -> ReductionShown:
        """A reading worked out: "last", a date, a time, the end of an entry's id, a method, or a date and a method.

        Raises
        ------
        NoSuchWell, NoSuchReading, SeveralReadings
        """
        row = find_row(history(self.network, code), which)
        if row.value is None:
            raise ValueError(f"reading {row.entry.id} was found without a value")
        return ReductionShown(code, row, row.value)

    def well(self, code: str) -> WellShown:
        """A well with its history. Raises NoSuchWell."""
        return WellShown(history(self.network, code), self.network.unit)

    def close(self) -> None:
        """Let the record go."""
        self.network.record.close()

    def __enter__(self) -> Fen:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        known = f", as known at {self.network.as_of}" if self.network.as_of else ""
        return f"{self.network.facts.name}{known}"

    def _flat(self, table: Callable[[Delivery], Flat], to: str) -> Any:
        with optional_packages(EXTRA):
            from tapedown.exchange.delivery.frames import frame
        return _as(frame(table(self.delivery), self.network.facts.zone), to)


def _as(frame: pl.DataFrame, to: str) -> Any:
    if to == "polars":
        return frame
    if to != "pandas":
        raise ValueError(f"to is {to!r}, not polars or pandas")
    with optional_packages(EXTRA):
        return frame.to_pandas()


def open_fen(place: str | Path, *, as_of: str = "") -> Fen:
    """Open a network by its folder, its record or the address of its database. Raises NoNetwork, NotADate."""
    as_it_is = open_network(place)
    if not as_of:
        return Fen(as_it_is)
    moment = as_of_text(as_of, as_it_is.facts.zone)
    as_it_is.record.close()
    return Fen(open_network(place, as_of=moment))
