"""Numbers of a table as they were written, and uncertainties as standard ones."""

from __future__ import annotations

import math

import pytest

from tapedown.exchange.tables.cells import LONGEST_NUMBER, Columns, LineAside, MappingDoesNotFit, negated
from tapedown.exchange.tables.mapping import Cell
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.exchange.tables.reading import read_table
from tapedown.values.written import Written
from tests.exchange.tables_and_mappings import LEVELS


def columns(*, comma: bool = False, header: str = "depth;other") -> Columns:
    mapping = read_mapping(LEVELS.encode())._replace(decimal_comma=comma)
    return Columns(read_table(f"{header}\n1;2\n".encode()), mapping)


def number(text: str, *, comma: bool = False, quantity: str = "length", **said: object) -> str:
    found = columns(comma=comma).number(Cell("depth", **said), quantity)([text, ""])  # type: ignore[arg-type]
    return str(found) if found is not None else ""


@pytest.mark.parametrize(("text", "decimals", "read"), [
    ("84.3", 2, "84.30 ft"), ("84", 2, "84.00 ft"), ("84.30", 1, "84.3 ft"), ("84.35", 1, "84.35 ft"),
    ("12.299999999999999", 2, "12.30 ft"), ("84.3", None, "84.3 ft"), ("84.3", 1, "84.3 ft"), ("84", 0, "84 ft"),
    ("-1.5", 2, "-1.50 ft"), ("", 2, ""), ("  84.3 ", 2, "84.30 ft"),
])  # fmt: skip
def test_a_column_has_the_decimals_it_was_written_with(text: str, decimals: int | None, read: str) -> None:
    assert number(text, decimals=decimals) == read


def test_a_comma_is_decimal_only_where_the_mapping_says_so() -> None:
    assert number("84,3", comma=True) == "84.3 ft"
    with pytest.raises(LineAside, match="holds a comma"):
        number("84,3")
    with pytest.raises(LineAside, match="holds a point, but decimal_comma is true"):
        number("84.3", comma=True)


def test_a_number_has_its_own_unit_else_the_mappings_else_the_quantitys() -> None:
    assert number("84.3", unit="m") == "84.3 m"
    assert number("84.3") == "84.3 ft"
    assert number("84.3", quantity="pressure").endswith("kPa")


def test_a_number_longer_than_somebody_reads_is_set_aside() -> None:
    longest = "1" * LONGEST_NUMBER
    assert number(longest) == f"{longest} ft"
    with pytest.raises(LineAside, match="is too long for a number"):
        number(longest + "1")
    with pytest.raises(LineAside) as aside:
        number("eighty")
    assert aside.value.mend == "correct the cell, or name it under blanks, instead or words"


@pytest.mark.parametrize(("means", "text", "stated"), [
    ("standard uncertainty", "0.02", "0.02 ft"), ("half-width", "0.06", f"{0.06 / math.sqrt(3):.6f} ft"),
    ("half-width", "0", "0 ft"), ("half-width", "", ""), ("standard uncertainty", "", ""),
])  # fmt: skip
def test_a_half_width_is_a_standard_uncertainty_once_divided_by_root_three(means: str, text: str, stated: str) -> None:
    """GUM 4.3.7: a rectangular distribution of half-width a has the standard deviation a / sqrt 3."""
    assert columns().uncertainty(Cell("depth", means=means))([text, ""]) == stated
    assert columns().uncertainty(None)([text, ""]) == ""


def test_an_uncertainty_below_nought_is_set_aside() -> None:
    with pytest.raises(LineAside, match=r"an uncertainty of -0\.02 ft"):
        columns().uncertainty(Cell("depth", means="half-width"))(["-0.02", ""])


def test_words_of_a_column_are_ours_blanks_are_nothing_and_others_are_asked_about() -> None:
    text = columns().text(Cell("depth", words={"D": "dry"}, blanks=frozenset({"n/a"})))
    assert [text([word, ""]) for word in (" D ", "n/a", "")] == ["dry", "", ""]
    with pytest.raises(LineAside, match="the mapping does not say what 'E' means") as aside:
        text(["E", ""])
    assert aside.value.mend == "add it to depth.words"
    assert columns().text(Cell("depth"))(["E", ""]) == "E"
    assert columns().text(Cell(always="MF-01"))(["E", ""]) == "MF-01"
    assert columns().text(None)(["E", ""]) == ""


def test_a_column_that_is_not_there_or_twice_is_told_with_those_that_are() -> None:
    with pytest.raises(MappingDoesNotFit, match="there is no column 'level'") as missing:
        columns().at("level")
    assert missing.value.hint == "its columns are: 'depth', 'other'; is it file.header_row?"
    with pytest.raises(MappingDoesNotFit, match="column 'depth' stands 2 times"):
        columns(header="depth;depth").at("depth")
    assert columns().at(" other ") == 1
    assert columns().raw("other")(["a", " b "]) == "b"
    assert columns().raw("")(["a", "b"]) == ""


@pytest.mark.parametrize(
    ("text", "turned"), [("3.20", "-3.20"), ("+3.2", "-3.2"), ("-3.2", "3.2"), ("0.00", "0.00"), ("-0.0", "0.0")]
)
def test_a_number_turned_keeps_its_digits(text: str, turned: str) -> None:
    assert negated(Written(text, "ft")).text == turned
