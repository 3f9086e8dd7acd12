"""How a logger's file is laid out: which column holds what, in which unit, by which clock.

A profile is proposed by looking at a file and confirmed by a person; from then on every file laid out alike is read
the same way. What a column holds decides the name its numbers carry inside: "absolute pressure" is `pressure_kpa`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.forms import Field, Form, Problem
from tapedown.values.units import known_unit
from tapedown.values.written import Written

HOLDS: dict[str, tuple[str, str]] = {
    "absolute pressure": ("pressure", "pressure_kpa"),
    "pressure above air": ("pressure", "gauge_kpa"),
    "air pressure": ("pressure", "air_kpa"),
    "water above the sensor": ("length", "logged_water_m"),
    "depth to water": ("length", "logged_depth_m"),
    "elevation of the water": ("length", "logged_elevation_m"),
    "water temperature": ("temperature", "temp_c"),
}
"""What a column may hold -> its quantity (values.units) and the name of its numbers in SI."""
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}


class SeriesClock(NamedTuple):
    """When a line was recorded.

    date, time  columns; time is "" when the date column holds both
    formats     how it is written, such as "%d/%m/%Y %H:%M:%S"; the first that fits is taken
    zone        IANA name, "UTC", an offset such as "+01:00" held all year, or "written": every cell carries its own
    """

    date: str
    time: str
    formats: tuple[str, ...]
    zone: str


class SeriesColumn(NamedTuple):
    """One column of numbers; positive says which way a depth counts as positive."""

    name: str
    holds: str
    unit: str
    positive: str

    @property
    def quantity(self) -> str:
        """Kind of quantity, as in values.units."""
        return HOLDS[self.holds][0]

    @property
    def si_name(self) -> str:
        """Name of its numbers in SI, such as `pressure_kpa`."""
        return HOLDS[self.holds][1]


class Profile(NamedTuple):
    """The layout of a logger's file.

    delimiter   a word of DELIMITERS; "" in a spreadsheet
    sheet       of a spreadsheet, "" for the first
    header_row  line of the column names, from 1; 0: there are none, columns are called "1", "2", ...
    blanks      further texts that stand for "no value"
    """

    delimiter: str
    sheet: str
    decimal_comma: bool
    header_row: Written
    blanks: tuple[str, ...]
    clock: SeriesClock
    columns: tuple[SeriesColumn, ...]
    remarks: str

    @property
    def header_line(self) -> int:
        """Line of the column names, from 1; 0 when there are none."""
        return int(float(self.header_row.text))

    @property
    def main(self) -> SeriesColumn:
        """The column the series is about: the first that is no temperature."""
        return next(column for column in self.columns if column.quantity != "temperature")


def _columns_fit(profile: Profile) -> Sequence[Problem]:
    problems = []
    for number, column in enumerate(profile.columns, 1):
        try:
            known_unit(column.unit, column.quantity)
        except ValueError as error:
            problems.append(Problem(f"columns[{number}].unit", str(error), "name the unit the file is in"))
    held = [column.holds for column in profile.columns]
    twice = sorted({what for what in held if held.count(what) > 1})
    if twice:
        problems.append(Problem("columns", f"two columns hold {twice[0]}", "keep the one that is meant"))
    if not any(column.quantity != "temperature" for column in profile.columns):
        problems.append(Problem("columns", "no column holds a pressure or a level", "name one"))
    if not profile.header_row.text.isdigit():
        problems.append(Problem("header_row", f"{profile.header_row} is no line number", "count lines from 1"))
    return problems


CLOCK = Form(
    "clock",
    SeriesClock,
    "when a line was recorded",
    (
        Field("date", "text", "column with the date, or with date and time", required=True),
        Field("time", "text", "column with the time of day, when it has one of its own"),
        Field("formats", "text", 'how times are written, such as "%d/%m/%Y %H:%M:%S"', required=True, many=True),
        Field("zone", "text", 'the clock: "Europe/London", "+01:00" all year, "UTC", or "written"', required=True),
    ),
)
COLUMN = Form(
    "column",
    SeriesColumn,
    "a column of numbers",
    (
        Field("name", "text", "its name in the file", required=True),
        Field("holds", "choice", "what it holds", required=True, choices=tuple(HOLDS)),
        Field("unit", "text", "its unit", required=True),
        Field("positive", "choice", "which way a depth grows; down when not said", choices=("down", "up")),
    ),
)
PROFILE = Form(
    "profile",
    Profile,
    "how a logger's file is laid out",
    (
        Field("delimiter", "choice", "what stands between cells", choices=tuple(DELIMITERS)),
        Field("sheet", "text", "of a spreadsheet; the first when not said"),
        Field("decimal_comma", "flag", "numbers are written 12,5"),
        Field("header_row", "ratio", "line of the column names, from 1; 0 when there are none", required=True),
        Field("blanks", "text", "texts that stand for no value", many=True),
        Field("clock", "form", "when a line was recorded", required=True, form=CLOCK),
        Field("columns", "form", "the columns that are taken", required=True, many=True, form=COLUMN),
        Field("remarks", "text", "anything else"),
    ),
    _columns_fit,
)
