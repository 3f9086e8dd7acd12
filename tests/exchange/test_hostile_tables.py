"""Hostile input: collections of awkward CSV files, strings and JSON, taken from the shared standards folder."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.exchange.tables.reading import read_table
from tapedown.values.errors import TapedownError
from tests.exchange.tables_and_mappings import LEVELS, bodies, lines

STANDARDS = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[3] / "shared")) / "standards"


CONTRADICTED = {"location_coordinates"}
"""Files whose own description holds other values than they do."""


def collection(name: str) -> Path:
    folder = STANDARDS / name
    if not folder.is_dir():
        pytest.skip(f"the collection {name} is not beside the repository")
    return folder


def test_awkward_csv_files_are_read_as_their_authors_say() -> None:
    folder = collection("bad-input-csv-spectrum")
    checked = 0
    for path in sorted((folder / "csvs").glob("*.csv")):
        table = read_table(path.read_bytes())
        assert not any(row.problem for row in table.rows), path.name
        if path.stem in CONTRADICTED:
            continue
        told = json.loads((folder / "json" / f"{path.stem}.json").read_text(encoding="utf-8"))
        expected = told if isinstance(told, list) else [told]
        found = [dict(zip(table.header, row.cells)) for row in table.rows]
        assert [{k: v.replace("\r\n", "\n") for k, v in row.items()} for row in found] == [
            {k: str(v).replace("\r\n", "\n") for k, v in row.items()} for row in expected
        ], path.name
        checked += 1
    assert checked >= 10


def naughty_strings() -> list[str]:
    found: list[str] = json.loads((collection("bad-input-blns") / "blns.json").read_text(encoding="utf-8"))
    return found


def table_of(cells: list[str], column: int) -> str:
    def quoted(cell: str) -> str:
        return '"' + cell.replace('"', '""') + '"'

    rows = []
    for cell in cells:
        row = ["MF-01", "1998-05-14 10:20", "9.1", ""]
        row[column] = cell
        rows.append("\t".join(map(quoted, row)))
    return "\n".join(["well\tdate\tdepth\tremarks", *rows])


@pytest.mark.parametrize("column", range(4))
def test_naughty_strings_in_any_column_leave_every_line_accounted_for(column: int) -> None:
    cells = naughty_strings()
    found = lines(table_of(cells, column), LEVELS + 'remarks = "remarks"\n')
    assert len(found) == len(cells)
    assert all(line.outcome == "enter" or (line.outcome == "already there" or line.mend) for line in found)


def test_naughty_strings_come_back_as_the_text_they_were() -> None:
    cells = list(dict.fromkeys(text for text in naughty_strings() if text.strip()))
    found = lines(table_of(cells, 3), LEVELS + 'remarks = "remarks"\n')
    kept = {bodies(line, "readings")[0]["read"]["remarks"] for line in found if line.outcome == "enter"}
    lost = {text.strip() for text in cells} - kept
    assert len(kept) > 400
    assert all(any(ord(c) < 32 and c not in "\n\t" for c in text) for text in lost)


@pytest.mark.parametrize("as_what", ["mapping", "table"])
def test_json_that_parsers_stumble_over_is_refused_or_accounted_for(as_what: str) -> None:
    paths = sorted((collection("bad-input-json-testsuite") / "test_parsing").glob("*.json"))
    outcomes = [mapping_outcome(path) if as_what == "mapping" else table_outcome(path) for path in paths]
    assert len(outcomes) > 300
    assert set(outcomes) <= {"refused", "accounted for"}


def mapping_outcome(path: Path) -> str:
    try:
        read_mapping(path.read_bytes(), path.name)
    except TapedownError as refused:
        return "refused" if refused.hint else "without a mend"
    return "taken"


def table_outcome(path: Path) -> str:
    try:
        table = read_table(path.read_bytes())
    except TapedownError as refused:
        return "refused" if refused.hint else "without a mend"
    told = all(row.mend if row.problem else len(row.cells) == len(table.header) for row in table.rows)
    return "accounted for" if told else "lost"


def test_json_texts_as_cells_come_back_as_text() -> None:
    folder = collection("bad-input-json-testsuite") / "test_parsing"
    texts = [path.read_bytes().decode("latin-1").replace("\0", "") for path in sorted(folder.glob("y_*.json"))]
    cells = list(dict.fromkeys(text.strip() for text in texts if text.strip().isprintable()))
    found = lines(table_of(cells, 3), LEVELS + 'remarks = "remarks"\n')
    assert [bodies(line, "readings")[0]["read"]["remarks"] for line in found] == cells
