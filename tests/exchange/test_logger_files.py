"""Files of loggers: every line is accounted for, whatever shape the file is in."""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from tapedown.exchange.loggers.files import LoggerRead, ProfileDoesNotFit, read_logger_file
from tapedown.exchange.loggers.profiles import ProfileWrong, profile_text, read_profile
from tapedown.exchange.loggers.proposals import propose_profile
from tapedown.exchange.tables.errors import NotATable
from tapedown.values.series.logger_files import Profile

CLOCK = '[clock]\ndate = "when"\nformats = ["%d/%m/%Y %H:%M", "%d/%m/%Y %H:%M:%S"]\nzone = "{zone}"\n'
PRESSURE = '[[columns]]\nname = "p"\nholds = "absolute pressure"\nunit = "{unit}"\n'


def profile(zone: str = "+01:00", unit: str = "kPa", *, delimiter: str = "comma", more: str = "") -> Profile:
    text = f'delimiter = "{delimiter}"\nheader_row = 1\n{more}'
    return read_profile((text + CLOCK.format(zone=zone) + PRESSURE.format(unit=unit)).encode())


def adds_up(read: LoggerRead) -> bool:
    account = read.account
    return account.lines == account.above + account.rows + sum(aside.number for aside in account.aside)


def times(read: LoggerRead) -> list[datetime]:
    return read.frame.collect()["time"].to_list()


def reasons(read: LoggerRead) -> dict[str, tuple[int, ...]]:
    return {aside.reason: aside.first for aside in read.account.aside}


MESSY = (
    b"when,p\r\n"
    b"3/06/2026 0:00,120.5\r\n"
    b"\r\n"
    b"3/06/2026 0:15,\r\n"
    b"3/06/2026 25:30,120.4\r\n"
    b"3/06/2026 0:45,overload\r\n"
    b"03/06/2026 01:00:30,120.3\r\n"
    b"end of file\r\n"
)


def test_every_line_of_a_messy_file_is_taken_in_or_named_with_its_reason() -> None:
    read = read_logger_file(MESSY, profile())
    assert read.frame.collect()["pressure_kpa"].to_list() == [120.5, 120.3]
    assert read.frame.collect()["line"].to_list() == [2, 7]
    assert adds_up(read)
    assert reasons(read) == {
        "an empty line": (3,),
        "no value": (4,),
        "not a time: 3/06/2026 25:30": (5,),
        "not a number: overload": (6,),
        "not a time: end of file": (8,),
    }
    assert [finding.check for finding in read.account.findings] == ["logger-lines-aside"]


@pytest.mark.parametrize(
    ("damaged", "reason"),
    [
        (b'when,p\n"1/06/2026 0:00,120.5\n1/06/2026 0:15,120.6\n', "a quotation mark is opened and never closed"),
        (b"when,p\n1/06/2026 0:00,120,5\n1/06/2026 0:15,120.6\n", "the line has 3 cells, the header has 2"),
    ],
)
def test_a_line_that_would_be_misread_costs_only_itself(damaged: bytes, reason: str) -> None:
    read = read_logger_file(damaged, profile())
    assert read.frame.collect()["pressure_kpa"].to_list() == [120.6]
    assert reasons(read) == {reason: (2,)}
    assert adds_up(read)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("delimiter", "number"), [("comma", '"120,5"'), ("semicolon", "120,5"), ("tab", "120,5"), ("bar", "120,5")]
)
def test_encodings_line_ends_delimiters_and_decimal_commas_give_the_same_rows(
    encoding: str, end: str, delimiter: str, number: str
) -> None:
    sign = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}[delimiter]
    lines = [f"when{sign}p{sign}Temp °C{sign}", f"1/06/2026 12:00{sign}{number}{sign}{sign}"]
    data = end.join([*lines, ""]).encode(encoding)
    read = read_logger_file(data, profile(delimiter=delimiter, more="decimal_comma = true\n"))
    assert read.frame.collect().rows() == [(2, datetime(2026, 6, 1, 11), 120.5)]
    assert adds_up(read)


def test_a_spreadsheet_gives_the_rows_of_the_same_table_as_text() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["when", "p"], [datetime(2026, 6, 1, 12), 120.5], ["1/06/2026 12:15", 120.4], ["soon", 1]):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    proposed = profile().clock._replace(formats=("%Y-%m-%dT%H:%M:%S", "%d/%m/%Y %H:%M"))
    read = read_logger_file(out.getvalue(), profile()._replace(clock=proposed))
    assert read.frame.collect()["pressure_kpa"].to_list() == [120.5, 120.4]
    assert times(read)[0] == datetime(2026, 6, 1, 11)
    assert reasons(read) == {"not a time: soon": (4,)}
    assert adds_up(read)


def test_units_come_out_in_si_and_levels_that_grow_upwards_as_depths() -> None:
    read = read_logger_file(b"when,p\n1/06/2026 12:00,1000\n", profile(unit="cm of water"))
    assert read.frame.collect()["pressure_kpa"].to_list() == pytest.approx([98.0665])
    text = profile_text(profile()).replace('holds = "absolute pressure"', 'holds = "depth to water"\npositive = "up"')
    read = read_logger_file(b"when,p\n1/06/2026 12:00,-10.57\n", read_profile(text.replace('"kPa"', '"m"').encode()))
    assert read.frame.collect()["logged_depth_m"].to_list() == [10.57]


def test_an_offset_in_every_row_is_honoured_row_by_row() -> None:
    clock = profile().clock._replace(formats=("%d/%m/%Y %H:%M:%S %z",), zone="written")
    data = b"when,p\n3/06/2026 12:00:00 +01:00,1\n3/06/2026 12:00:00 +02:00,2\n"
    read = read_logger_file(data, profile()._replace(clock=clock))
    assert times(read) == [datetime(2026, 6, 3, 11), datetime(2026, 6, 3, 10)]
    assert read.account.backwards == 1


def test_the_hour_shown_twice_in_autumn_is_told_apart_by_the_order_of_the_lines() -> None:
    shown = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    data = "when,p\n" + "".join(f"25/10/2026 {time},1\n" for time in shown)
    read = read_logger_file(data.encode(), profile("Europe/London"))
    start = datetime(2026, 10, 24, 23, 30)
    assert times(read) == [start + step * timedelta(minutes=30) for step in range(5)] + [datetime(2026, 10, 25, 2)]


def test_a_clock_that_showed_the_hour_skipped_in_spring_was_not_in_that_zone_and_is_said_so() -> None:
    data = b"when,p\n29/03/2026 00:30,1\n29/03/2026 01:30,2\n29/03/2026 02:30,3\n"
    read = read_logger_file(data, profile("Europe/London"))
    assert [finding.check for finding in read.account.findings] == ["logger-clock-zone"]
    assert "line 3" in read.account.findings[0].message
    assert adds_up(read)


def test_a_long_file_is_streamed_to_parquet_with_the_same_rows(tmp_path: Path) -> None:
    start = datetime(2026, 1, 1)
    lines = [f"{start + timedelta(minutes=n):%d/%m/%Y %H:%M},{120 + n % 7 / 10:.1f}" for n in range(20000)]
    source, into = tmp_path / "long.csv", tmp_path / "rows.parquet"
    source.write_text("\n".join(["when,p", *lines]), encoding="utf-8")
    streamed = read_logger_file(source, profile(), into=into)
    held = read_logger_file(source.read_bytes(), profile())
    assert streamed.frame.collect().equals(held.frame.collect())
    assert streamed.account == held.account
    assert pl.read_parquet(into).height == 20000


def test_a_column_that_is_not_there_is_named_with_those_that_are() -> None:
    with pytest.raises(ProfileDoesNotFit, match="'p' is not there") as refused:
        read_logger_file(b"when,level\n1/06/2026 12:00,1\n", profile())
    assert "'level'" in refused.value.hint


def test_a_file_without_names_is_read_by_the_numbers_of_its_columns() -> None:
    bare = profile()._replace(header_row=profile().header_row._replace(text="0"))
    clock, column = bare.clock._replace(date="1"), bare.columns[0]._replace(name="2")
    for more in (b"", b'2/06/2026 12:00,"120.6\n'):  # streamed, and line by line
        read = read_logger_file(b"1/06/2026 12:00,120.5\nx,1\n" + more, bare._replace(clock=clock, columns=(column,)))
        assert read.frame.collect()["line"].to_list() == [1]
        assert adds_up(read)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ('zone = "+01:00"', "is not a zone"),
        ('unit = "kPa"', "unit 'parsec'"),
        ("header_row = 1", "header_row"),
    ],
)
def test_a_profile_that_does_not_hold_is_refused_with_the_place(wrong: str, said: str) -> None:
    text = profile_text(profile()).replace('header_row = "1"', "header_row = 1")
    other = {'zone = "+01:00"': 'zone = "PST8"', 'unit = "kPa"': 'unit = "parsec"', "header_row = 1": ""}[wrong]
    with pytest.raises(ProfileWrong, match=said):
        read_profile(text.replace(wrong, other).encode())


def test_a_profile_is_proposed_by_looking_and_what_cannot_be_seen_is_asked() -> None:
    data = "Well MF-02\nlogger LG-031\nDate;Time;Press (mbar);Temp (°C)\n;;mbar;°C\n"
    data += "".join(f"{day:02d}/01/2026;6:00;1{day}2,5;9,1\n" for day in range(10, 30))
    proposal = propose_profile(data.encode("latin-1"))
    found = proposal.profile
    assert (found.delimiter, found.decimal_comma, found.header_line) == ("semicolon", True, 3)
    assert found.clock[:3] == ("Date", "Time", ("%d/%m/%Y %H:%M",))
    assert [(column.holds, column.unit) for column in found.columns] == [
        ("absolute pressure", "mbar"),
        ("water temperature", "degC"),
    ]
    assert any("which clock" in question for question in proposal.questions)
    assert any("absolute" in question for question in proposal.questions)
    read = read_logger_file(data.encode("latin-1"), read_profile(profile_text(found, proposal.questions).encode()))
    assert read.account.rows == 20
    assert adds_up(read)


def test_a_date_that_could_be_either_way_round_is_asked_about() -> None:
    days = b"".join(b"%02d/06/2026 00:00,120.5\n" % day for day in range(1, 10))
    proposal = propose_profile(b"when,press kPa\n" + days)
    assert proposal.profile.clock.formats == ("%d/%m/%Y %H:%M",)
    assert any("day first or month first" in question for question in proposal.questions)


@pytest.mark.parametrize("data", [b"", b"nothing here\n", b"a,b\n1,2\n"])
def test_what_is_no_series_is_refused(data: bytes) -> None:
    with pytest.raises(NotATable):
        propose_profile(data)
