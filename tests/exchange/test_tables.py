"""Reading CSV and spreadsheets: every line of the file is there, with its line number or with what is wrong with it."""

from __future__ import annotations

import datetime
import io
import zipfile

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.exchange.tables.reading import NotATable, Table, TableTooLarge, read_table
from tapedown.values.errors import TapedownError


def table_or_refusal(data: bytes) -> Table | TapedownError:
    try:
        return read_table(data)
    except (NotATable, TableTooLarge) as refused:
        return refused


def cells(table: Table) -> list[list[str]]:
    return [list(row.cells) for row in table.rows]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_found_from_the_header(delimiter: str) -> None:
    text = f'well{delimiter}"depth, {delimiter} ft"\nMF-01{delimiter}84.30\n'
    table = read_table(text.encode())
    assert table.header == ("well", f"depth, {delimiter} ft")
    assert cells(table) == [["MF-01", "84.30"]]


def test_a_decimal_comma_does_not_pass_for_a_delimiter() -> None:
    assert cells(read_table(b"well;depth\nMF-01;84,30\nMF-02;1,2\n")) == [["MF-01", "84,30"], ["MF-02", "1,2"]]


def test_a_byte_order_mark_is_no_part_of_the_first_column_name() -> None:
    assert read_table(b"\xef\xbb\xbfwell,depth\n").header == ("well", "depth")
    assert read_table("well,depth\nMF-01,1\n".encode("utf-16")).header == ("well", "depth")


def test_a_file_that_is_not_utf_8_is_read_and_says_so() -> None:
    table = read_table("well,place\nMF-01,Käseweg\n".encode("latin-1"))
    assert cells(table) == [["MF-01", "Käseweg"]]
    assert [found.check for found in table.findings] == ["not-utf-8"]


def test_a_row_is_numbered_by_the_line_it_starts_on() -> None:
    table = read_table(b'well,remarks\r\nMF-01,"two\r\nlines"\r\nMF-02,one\r\n')
    assert [(row.number, row.cells[1]) for row in table.rows] == [(2, "two\r\nlines"), (4, "one")]


def test_ragged_rows_are_kept_with_their_problem() -> None:
    table = read_table(b"well,depth\nMF-01\nMF-02,1.2,3\nMF-03,4,,\n\nMF-04,5\n")
    assert [(row.number, bool(row.problem)) for row in table.rows] == [
        (2, True),
        (3, True),
        (4, False),
        (5, True),
        (6, False),
    ]
    assert "1 cells, the header has 2" in table.rows[0].problem


def test_a_quote_that_is_never_closed_spoils_its_own_line_only() -> None:
    table = read_table(b'well,depth\nMF-01,"84.30\nMF-02,85.00\nMF-03,86.00\n')
    assert [(row.number, bool(row.problem)) for row in table.rows] == [(2, True), (3, False), (4, False)]
    assert "never closed" in table.rows[0].problem


def test_text_after_a_closing_quote_spoils_its_own_line_only() -> None:
    table = read_table(b'well,depth\n"MF"-01,84.30\nMF-02,85.00\n')
    assert [bool(row.problem) for row in table.rows] == [True, False]


def test_an_enormous_cell_spoils_its_own_line_only() -> None:
    table = read_table(b"well,remarks\nMF-01," + b"x" * 1_000_000 + b"\nMF-02,fine\n")
    assert [bool(row.problem) for row in table.rows] == [True, False]
    assert "131,072 characters" in table.rows[0].problem


def test_a_line_with_nul_bytes_is_told() -> None:
    table = read_table(b"well,depth\nMF-01,84\x00.30\nMF-02,85\n")
    assert [bool(row.problem) for row in table.rows] == [True, False]


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\xef\xbb\xbf", b"  \n \n", b",,\n1,2,3\n"])
def test_an_empty_file_or_header_is_refused_with_a_mend(data: bytes) -> None:
    with pytest.raises(NotATable) as refused:
        read_table(data)
    assert refused.value.hint


def test_a_header_alone_is_a_table_without_lines() -> None:
    assert read_table(b"well,depth\n") == Table(("well", "depth"), [])


def test_the_header_may_stand_further_down() -> None:
    table = read_table(b"Marrow Fen levels\n\nwell,depth\nMF-01,84.30\n", header_row=3)
    assert (table.header, table.rows[0].number) == (("well", "depth"), 4)


def test_a_header_beyond_the_end_is_refused() -> None:
    with pytest.raises(NotATable, match="row 9"):
        read_table(b"well,depth\n", header_row=9)


@given(st.lists(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=8), min_size=2, max_size=2)))
def test_any_cells_come_back_as_they_were_written(rows: list[list[str]]) -> None:
    def quoted(cell: str) -> str:
        return '"' + cell.replace('"', '""') + '"'

    text = "\n".join(["well,depth", *(",".join(map(quoted, row)) for row in rows)])
    table = read_table(text.encode())
    assert len(table.rows) == len(rows)
    for row, written in zip(table.rows, rows):
        assert row.problem or list(row.cells) == written


@given(st.binary(max_size=400))
def test_any_bytes_are_a_table_or_a_refusal_with_a_mend(data: bytes) -> None:
    table = table_or_refusal(data)
    assert (
        table.hint
        if isinstance(table, TapedownError)
        else all(row.problem or len(row.cells) == len(table.header) for row in table.rows)
    )


def workbook(*rows: list[object], sheet: str = "Levels") -> bytes:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = sheet
    for row in rows:
        page.append(row)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def test_a_spreadsheet_gives_text_cells_with_its_row_numbers() -> None:
    day = datetime.datetime(1998, 5, 14, 10, 20)
    data = workbook(
        ["well", "when", "day", "time", "depth", "count", "ok"],
        ["MF-01", day, day.date(), day.time(), 84.3, 12, True],
        ["MF-02", "14/05/1998", None, None, "84.30", None, None],
    )
    table = read_table(data)
    assert table.header == ("well", "when", "day", "time", "depth", "count", "ok")
    assert [(row.number, list(row.cells)) for row in table.rows] == [
        (2, ["MF-01", "1998-05-14T10:20:00", "1998-05-14", "10:20:00", "84.3", "12", "true"]),
        (3, ["MF-02", "14/05/1998", "", "", "84.30", "", ""]),
    ]


def test_a_sheet_is_chosen_by_name_and_a_wrong_name_tells_the_right_ones() -> None:
    data = workbook(["well"], ["MF-01"])
    assert cells(read_table(data, sheet="Levels")) == [["MF-01"]]
    with pytest.raises(NotATable) as refused:
        read_table(data, sheet="Depths")
    assert "Levels" in refused.value.hint


def test_a_sheet_asked_of_a_csv_file_is_refused() -> None:
    with pytest.raises(NotATable, match="no spreadsheet"):
        read_table(b"well\nMF-01\n", sheet="Levels")


def test_a_zip_archive_that_is_no_spreadsheet_is_refused() -> None:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as archive:
        archive.writestr("levels.csv", "well\n")
    with pytest.raises(NotATable, match="zip archive") as refused:
        read_table(data.getvalue())
    assert "unpack" in refused.value.hint


def test_a_broken_spreadsheet_is_refused() -> None:
    whole = workbook(["well", "depth"], ["MF-01", 84.3])
    for data in (whole[:200], whole[: len(whole) // 2], b"PK\x03\x04", b"\xd0\xcf\x11\xe0" + b"\0" * 600):
        with pytest.raises(NotATable) as refused:
            read_table(data)
        assert refused.value.hint


@pytest.mark.parametrize("place", range(40))
def test_a_damaged_spreadsheet_never_crashes(place: int) -> None:
    whole = bytearray(workbook(["well", "depth"], ["MF-01", 84.3]))
    at = len(whole) * place // 40
    whole[at : at + 8] = b"\xff" * 8
    found = table_or_refusal(bytes(whole))
    assert isinstance(found, Table) or found.hint


def test_a_spreadsheet_that_unpacks_to_too_much_is_refused() -> None:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<x/>")
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part:
            for _ in range(60):
                part.write(b" " * 10_000_000)
    with pytest.raises(TableTooLarge) as refused:
        read_table(data.getvalue())
    assert refused.value.hint


def test_a_stray_cell_far_outside_the_table_is_refused_not_loaded() -> None:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page["A1"], page["XFD1048576"] = "well", "x"
    data = io.BytesIO()
    book.save(data)
    with pytest.raises(TableTooLarge):
        read_table(data.getvalue())
