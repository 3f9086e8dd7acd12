"""A profile proposed by looking at a logger's file, with the questions a person must answer before it is used.

What can be seen is proposed: what stands between cells, where the table begins, how times and numbers are written.
What cannot be seen is asked: which clock, and what a number means when neither its heading nor its size says so.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.exchange.tables.reading import decoded
from tapedown.exchange.tables.spreadsheets import looks_like_spreadsheet, sheet_rows
from tapedown.values.series.logger_files import DELIMITERS, Profile, SeriesClock, SeriesColumn
from tapedown.values.written import Written

LINES_LOOKED_AT = 400
_DATE = re.compile(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})", re.ASCII)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(:\d{2})?(\.\d+)?( ?[AaPp][Mm])?( ?(?:Z|[+-]\d{2}:?\d{2}))?", re.ASCII)
_TIME = re.compile(rf"(?:{_DATE.pattern})(?:[T ] *(?:{_CLOCK.pattern}))?", re.ASCII)
_NUMBER = re.compile(r"[+-]?\d*([.,]\d*)?(?:[eE][+-]?\d+)?", re.ASCII)
_WORDS: tuple[tuple[str, str], ...] = (
    ("temp", "water temperature"),
    ("baro", "air pressure"),
    ("atmos", "air pressure"),
    ("air", "air pressure"),
    ("gauge", "pressure above air"),
    ("vented", "pressure above air"),
    ("press", "absolute pressure"),
    ("depth", "depth to water"),
    ("elevation", "elevation of the water"),
    ("head", "elevation of the water"),
    ("level", "depth to water"),
    ("submerg", "water above the sensor"),
)
"""What stands in a heading -> what the column is proposed to hold; common words of the trade, no source."""
_UNITS = {
    "psi": "psi",
    "kpa": "kPa",
    "hpa": "hPa",
    "mbar": "mbar",
    "bar": "bar",
    "cmh2o": "cm of water",
    "mh2o": "m of water",
    "inhg": "inHg",
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "ft": "ft",
    "feet": "ft",
    "metres": "m",
    "meters": "m",
    "c": "degC",
    "°c": "degC",
    "degc": "degC",
    "f": "degF",
    "°f": "degF",
    "degf": "degF",
}
_PRESSURE_UNITS = frozenset({"psi", "kPa", "hPa", "mbar", "bar", "cm of water", "m of water", "inHg"})
_SIZES: tuple[tuple[float, float, str], ...] = (
    (0.9, 12, "bar"),
    (12, 60, "psi"),
    (80, 400, "kPa"),
    (900, 4000, "cm of water"),
)
"""Absolute pressures of sizes met in wells (air alone to some 30 m of water) -> the unit they are likely in."""


class Proposal(NamedTuple):
    """A profile to be confirmed, what a person must decide, and how the first rows read by it.

    columns  every column of the file with the first cell found in it, so that others can be named
    """

    profile: Profile
    questions: tuple[str, ...]
    columns: tuple[tuple[str, str], ...]


class _Grid(NamedTuple):
    """Lines cut into cells: word of the delimiter, cells by line, line of the first row of data (from 0)."""

    delimiter: str
    rows: list[list[str]]
    first: int


def propose_profile(data: bytes, *, sheet: str = "") -> Proposal:
    """Propose how a logger's file is laid out.

    Raises
    ------
    NotATable
        No line begins a table of times and numbers.

    Example
    -------
    >>> found = propose_profile(b"site 7\\nwhen;press (bar)\\n13/06/2010 14:00;3,246\\n13/06/2010 20:00;3,243\\n")
    >>> found.profile.delimiter, found.profile.decimal_comma, found.profile.header_line, found.profile.clock.formats
    ('semicolon', True, 2, ('%d/%m/%Y %H:%M',))
    >>> found.profile.columns[0]
    SeriesColumn(name='press (bar)', holds='absolute pressure', unit='bar', positive='')
    """
    grid = _grid(data, sheet)
    body = [row for row in grid.rows[grid.first :] if any(cell.strip() for cell in row)]
    header = _header(grid)
    names = _names(grid, header, len(body[0]))
    date, time = _time_columns(body[0])
    formats, zone, questions = _clock(body, date, time)
    taken = {date} if time is None else {date, time}
    numbers = {at: _numbers(body, at) for at in range(len(names)) if at not in taken and names[at]}
    decimal_comma = any("," in cell for cells in numbers.values() for cell in cells)
    columns = []
    for at, cells in numbers.items():
        if cells and names.count(names[at]) == 1:
            column, asked = _column(names[at], [float(cell.replace(",", ".")) for cell in cells])
            columns += [column] if column else []
            questions += asked
    if not any(column.quantity != "temperature" for column in columns):
        guessed, asked = _guessed({names[at]: cells for at, cells in numbers.items() if cells}, columns)
        columns, questions = [*guessed, *columns], asked + questions
    clock = SeriesClock(names[date], names[time] if time is not None else "", formats, zone)
    profile = Profile(
        grid.delimiter, sheet, decimal_comma, Written(str(header + 1), "", "ratio"), (), clock, _once(columns), ""
    )
    samples = tuple((name, next((row[at] for row in body if row[at].strip()), "")) for at, name in enumerate(names))
    return Proposal(profile, tuple(questions), samples)


def first_lines(data: bytes, most: int = 30) -> list[str]:
    """The first lines of a file as a person may read them: long ones cut, what cannot be shown as a dot.

    Example
    -------
    >>> first_lines(b"when;kPa\\n1 Jan;98.2\\x00\\n")
    ['when;kPa', '1 Jan;98.2·']
    """
    if looks_like_spreadsheet(data):
        try:
            lines = [" | ".join(cells) for _, (_, cells) in zip(range(most), sheet_rows(data, ""))]
        except (NotATable, TableTooLarge):
            return []
    else:
        lines = decoded(data[: 1 << 16])[0].splitlines()[:most]
    return ["".join(c if c.isprintable() or c == "\t" else "·" for c in line[:200]) for line in lines]


def _grid(data: bytes, sheet: str) -> _Grid:
    if looks_like_spreadsheet(data):
        rows = [cells for _, cells in zip(range(LINES_LOOKED_AT), (cells for _, cells in sheet_rows(data, sheet)))]
        return _Grid("", rows, _first_row(rows))
    text, _ = decoded(data[: 1 << 20])
    lines = text.splitlines()[:LINES_LOOKED_AT]
    try:
        cut = [_Grid(word, list(csv.reader(lines, delimiter=sign)), 0) for word, sign in DELIMITERS.items()]
    except csv.Error as error:
        raise NotATable(
            f"no table can be read: {error}", hint="is it the right file? a logger's export is text"
        ) from error
    best = max(cut, key=lambda grid: sum(map(_is_data, grid.rows)))
    return best._replace(first=_first_row(best.rows))


def _first_row(rows: Sequence[Sequence[str]]) -> int:
    first = next((at for at, row in enumerate(rows) if _is_data(row)), None)
    if first is None:
        raise NotATable("no line begins a table of times and numbers", hint="is it the right file, or sheet?")
    return first


def _is_data(row: Sequence[str]) -> bool:
    """A date, and a number that is no part of it; every further cell is blank, a number or a word."""
    cells = [cell.strip() for cell in row]
    return any(_TIME.fullmatch(cell) for cell in cells) and any(map(_is_number, cells))


def _is_number(cell: str) -> bool:
    return any(c.isdigit() for c in cell) and _NUMBER.fullmatch(cell) is not None


def _header(grid: _Grid) -> int:
    """Line of the names, from 0: the last above the data with a name wherever the data have a cell; -1 without one."""
    width = len(grid.rows[grid.first])
    for at in range(grid.first - 1, -1, -1):
        named = [cell for cell in grid.rows[at] if cell.strip()]
        if len(named) >= 2 and len(grid.rows[at]) <= width and not all(map(_is_unit, named)):
            return at
    return -1


def _is_unit(cell: str) -> bool:
    return cell.strip("[]() ").lower() in _UNITS


def _names(grid: _Grid, header: int, width: int) -> list[str]:
    named = [str(at) for at in range(1, width + 1)] if header < 0 else [cell.strip() for cell in grid.rows[header]]
    return named + [""] * (width - len(named))


def _time_columns(row: Sequence[str]) -> tuple[int, int | None]:
    """The column of the date, and that of the time of day when it has one of its own."""
    cells = [cell.strip() for cell in row]
    date = next(at for at, cell in enumerate(cells) if _TIME.fullmatch(cell))
    if _CLOCK.search(cells[date]):
        return date, None
    return date, next((at for at, cell in enumerate(cells) if at != date and _CLOCK.match(cell)), None)


def _numbers(body: Sequence[Sequence[str]], at: int) -> list[str]:
    """The cells of a column when all that are not blank are numbers, else none."""
    cells = [row[at].strip() for row in body if at < len(row) and row[at].strip()]
    odd = sum(not _is_number(cell) for cell in cells)
    return [cell for cell in cells if _is_number(cell)] if odd <= len(cells) // 20 else []


def _clock(body: Sequence[Sequence[str]], date: int, time: int | None) -> tuple[tuple[str, ...], str, list[str]]:
    """Formats and zone of the times, and what must be asked about them."""
    shown = [row[date].strip() + (f" {row[time].strip()}" if time is not None else "") for row in body]
    dates = [match for match in map(_DATE.match, shown) if match]
    order, questions = _order(dates)
    between = "T" if any("T" in text for text in shown) else " "
    forms = Counter(_time_form(text) for text in shown if _DATE.match(text))
    formats = tuple(order + (between + form if form else "") for form, _ in forms.most_common())
    written = any("%z" in form for form in forms)
    if not written:
        questions.append('which clock? clock.zone = "+00:00" is a guess: name the zone, or the offset it kept all year')
    return formats, "written" if written else "+00:00", questions


def _order(dates: Sequence[re.Match[str]]) -> tuple[str, list[str]]:
    """Which number is the day: the one that exceeds 12, else the one that makes the times run on most evenly."""
    sign = dates[0][2]
    if len(dates[0][1]) == 4:
        return f"%Y{sign}%m{sign}%d", []
    year = "%Y" if len(dates[0][4]) == 4 else "%y"
    first, second = [[int(match[part]) for match in dates] for part in (1, 3)]
    day_first, month_first = f"%d{sign}%m{sign}{year}", f"%m{sign}%d{sign}{year}"
    if max(first) > 12 or max(second) > 12:
        return (day_first if max(first) > 12 else month_first), []
    runs = [sum(b != a for a, b in pairwise(part)) for part in (first, second)]
    asked = f"is {dates[0][0]} day first or month first? no number in the first {len(dates)} rows tells"
    return (day_first if runs[0] >= runs[1] else month_first), [asked]


def _time_form(text: str) -> str:
    match = _CLOCK.search(text, _DATE.match(text).end() if _DATE.match(text) else 0)  # type: ignore[union-attr]
    if match is None:
        return ""
    seconds, fraction, half, zone = match[3], match[4], match[5], match[6]
    form = ("%I" if half else "%H") + ":%M" + (":%S" if seconds else "") + ("%.f" if fraction else "")
    form += (" %p" if half and half[0] == " " else "%p") if half else ""
    return form + ((" %z" if zone[0] == " " else "%z") if zone else "")


def _column(name: str, values: Sequence[float]) -> tuple[SeriesColumn | None, list[str]]:
    """What a column of numbers is proposed to hold, and what must be asked; None when nothing speaks for it."""
    unit = next((_UNITS[word] for word in re.findall(r"[^\W\d_]+[\d\w]*|°\w", name.lower()) if word in _UNITS), "")
    words = name.lower()
    holds = next((what for word, what in _WORDS if word in words), "")
    if not holds and unit:
        holds = "absolute pressure" if unit in _PRESSURE_UNITS else "water temperature" if "deg" in unit else ""
    if not holds:
        return None, []
    asked = []
    if holds == "water temperature":
        unit = unit or "degC"
    elif not unit:
        size = sorted(map(abs, values))[len(values) // 2]
        fits = (guess for low, high, guess in _SIZES if low <= size < high and "pressure" in holds)
        unit = next(fits, "kPa" if "pressure" in holds else "m")
        asked.append(f"column {name!r}: in which unit? {unit} is a guess from numbers such as {values[0]:g}")
    if holds == "absolute pressure":
        asked.append(f"column {name!r}: with the air pressure in it (absolute), or above it?")
    positive = "up" if holds == "depth to water" and sorted(values)[len(values) // 2] < 0 else ""
    return SeriesColumn(name, holds, unit, positive), asked


def _guessed(
    numbers: Mapping[str, Sequence[str]], taken: Sequence[SeriesColumn]
) -> tuple[list[SeriesColumn], list[str]]:
    """The first column with decimals that no heading explains, as what its size makes likely."""
    asked = ["which column holds the pressure or the level? none of the headings says"]
    spoken = {column.name for column in taken}
    for name, cells in numbers.items():
        if name not in spoken and any("." in cell or "," in cell for cell in cells):
            values = [float(cell.replace(",", ".")) for cell in cells]
            size = sorted(values)[len(values) // 2]
            unit = next((guess for low, high, guess in _SIZES if low <= size < high), "")
            holds = "absolute pressure" if unit else "depth to water"
            words = f"{name!r}, {values[0]:g} and so on, is proposed as {holds} in {unit or 'm'}"
            return [SeriesColumn(name, holds, unit or "m", "" if unit or size > 0 else "up")], [f"{asked[0]}: {words}"]
    return [], asked


def _once(columns: Sequence[SeriesColumn]) -> tuple[SeriesColumn, ...]:
    """The columns, the first of each kind."""
    return tuple({column.holds: column for column in reversed(columns)}.values())[::-1]
