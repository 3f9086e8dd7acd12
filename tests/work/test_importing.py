"""Imports into a record: every line accounted for, nothing doubled, nothing written when refused."""

from __future__ import annotations

import csv
import io
import json
import os
from collections import Counter
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from tapedown.exchange.plain import plain
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.exchange.tables.reading import NotATable
from tapedown.record import entries, verify
from tapedown.values.errors import TapedownError
from tapedown.values.kinds import KINDS
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.imports.tables import ImportReport, import_table, report_lines, report_to_json
from tapedown.work.networks import OpenNetwork

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
SHARED = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[3] / "shared"))
ORDER = ("wells", "screens", "levels", "hold-cut")


def take_in(network: OpenNetwork, which: str, author: Author, *, dry_run: bool = False) -> ImportReport:
    mapping = read_mapping((EXAMPLES / f"{which}.mapping.toml").read_bytes(), f"{which}.mapping.toml")
    data = (EXAMPLES / f"{which}.csv").read_bytes()
    return import_table(network, data, f"{which}.csv", mapping, author, dry_run=dry_run)


def count(network: OpenNetwork) -> int:
    return len(entries(network.record, struck=True))


def test_the_examples_of_the_guide_can_be_imported_in_order(network: OpenNetwork, author: Author) -> None:
    for which in ORDER:
        report = take_in(network, which, author)
        assert report.totals["set aside"] == 0
        assert report.totals["entered"] == len(report.lines)
    assert verify(network.record).sound
    kinds = Counter(held.entry.kind for held in entries(network.record, about="well/MF-01"))
    assert kinds == {"well": 1, "position": 1, "construction": 1, "readings": 4, "measuring point": 1}


def test_a_second_import_enters_nothing_and_says_that_every_line_is_there(network: OpenNetwork, author: Author) -> None:
    for which in ORDER:
        take_in(network, which, author)
    before = count(network)
    for which in ORDER:
        report = take_in(network, which, author)
        assert report.totals == {"entered": 0, "already there": len(report.lines), "set aside": 0}
        assert report.entry == ""
    assert count(network) == before


def test_a_dry_run_reports_the_same_and_writes_nothing(network: OpenNetwork, author: Author) -> None:
    before = count(network)
    trial = take_in(network, "wells", author, dry_run=True)
    assert count(network) == before
    real = take_in(network, "wells", author)
    assert (trial.lines, trial.written, trial.dry_run) == (real.lines, real.written, True)
    assert "nothing was written" in "\n".join(report_lines(trial))


def test_an_import_leaves_an_entry_that_says_where_its_facts_came_from(network: OpenNetwork, author: Author) -> None:
    report = take_in(network, "wells", author)
    (note,) = entries(network.record, kinds=["import"])
    value, problems = KINDS["import"].read(note.entry.data, "ft")
    assert problems == []
    assert value is not None
    assert (note.entry.id, note.entry.by, note.entry.about) == (report.entry, "R. Alder", "network")
    assert (value.file, value.sha256, str(value.entered), str(value.entries)) == ("wells.csv", report.sha256, "3", "9")


def test_a_reading_struck_by_hand_does_not_come_back_with_the_next_import(network: OpenNetwork, author: Author) -> None:
    for which in ORDER:
        take_in(network, which, author)
    wrong = entries(network.record, kinds=["readings"], about="well/MF-02")[0].entry
    enter_fact(network, "strike", "MF-02", {}, author, strikes=wrong.id, reason="wrong well")
    assert take_in(network, "levels", author).totals["entered"] == 0


def test_a_depth_corrected_by_hand_is_not_undone_by_the_next_import(network: OpenNetwork, author: Author) -> None:
    take_in(network, "wells", author)
    (held,) = entries(network.record, kinds=["construction"], about="well/MF-02")
    enter_fact(
        network, "construction", "MF-02", {"completed_depth": "64.0"}, author, strikes=held.entry.id, reason="sounded"
    )
    report = take_in(network, "wells", author)
    assert report.totals == {"entered": 0, "already there": 3, "set aside": 0}
    (kept,) = entries(network.record, kinds=["construction"], about="well/MF-02")
    assert kept.entry.data == {"completed_depth": "64.0 ft"}
    assert "record-says-otherwise" in [found.check for found in report.lines[1].findings]


def test_a_point_corrected_by_hand_is_not_undone_by_the_next_import(network: OpenNetwork, author: Author) -> None:
    for which in ORDER:
        take_in(network, which, author)
    (held,) = entries(network.record, kinds=["measuring point"], about="well/MF-01")
    right = {**held.entry.data, "height": "1.35 ft"}
    at = held.entry.measured_at
    enter_fact(
        network, "measuring point", "MF-01", right, author, measured_at=at, strikes=held.entry.id, reason="levelled"
    )
    assert take_in(network, "hold-cut", author).totals["entered"] == 0


def test_new_lines_of_a_longer_file_are_entered_alone(network: OpenNetwork, author: Author) -> None:
    take_in(network, "wells", author)
    take_in(network, "levels", author)
    mapping = read_mapping((EXAMPLES / "levels.mapping.toml").read_bytes())
    longer = (EXAMPLES / "levels.csv").read_bytes() + b"MF-01;12/05/1999;10:00;-31,10;;0,05\n"
    report = import_table(network, longer, "levels.csv", mapping, author)
    assert report.totals == {"entered": 1, "already there": 6, "set aside": 0}


def test_a_refused_table_writes_nothing(network: OpenNetwork, author: Author) -> None:
    before = count(network)
    mapping = read_mapping((EXAMPLES / "levels.mapping.toml").read_bytes())
    for data in (b"", b"PK\x03\x04", b"well;when\nMF-01;1998-05-14\n"):
        with pytest.raises(TapedownError) as refused:
            import_table(network, data, "levels.csv", mapping, author)
        assert refused.value.hint
    assert count(network) == before


def test_lines_set_aside_carry_their_number_reason_and_mend_into_both_reports(
    network: OpenNetwork, author: Author
) -> None:
    take_in(network, "wells", author)
    mapping = read_mapping((EXAMPLES / "levels.mapping.toml").read_bytes())
    data = b"well;date;time;level;found;accuracy\nMF-01;14/05/1998;10:20;x;;\nMF-01;14/05/1998;10:20;-1,5;;\n"
    report = import_table(network, data, "bad\udcff.csv", mapping, author)
    assert report.totals == {"entered": 1, "already there": 0, "set aside": 1}
    text = "\n".join(report_lines(report))
    assert "line 2" in text
    assert "'x' is not a number" in text
    told = json.loads(json.dumps(plain(report_to_json(report))))
    assert [line["number"] for line in told["lines"]] == [2, 3]
    assert told["lines"][0]["mend"]


def test_a_long_report_is_shortened_and_says_by_how_much(network: OpenNetwork, author: Author) -> None:
    take_in(network, "wells", author)
    mapping = read_mapping((EXAMPLES / "levels.mapping.toml").read_bytes())
    data = "well;date;time;level;found;accuracy\n" + "".join(f"MF-{n};;;;;\n" for n in range(100, 130))
    report = import_table(network, data.encode(), "levels.csv", mapping, author)
    text = report_lines(report, most=5)
    assert text[-1].strip().startswith("... and 25 more")
    assert sum("no well" in line for line in text) == 5


def test_a_spreadsheet_goes_in_with_its_dates_and_the_decimals_stated(network: OpenNetwork, author: Author) -> None:
    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    for row in (["Marrow Fen", None], ["well", "when", "depth"], ["MF-07", datetime(1998, 5, 14, 10, 20), 31.4]):
        page.append(row)
    data = io.BytesIO()
    book.save(data)
    mapping = read_mapping(
        b'makes = "readings"\nlength_unit = "ft"\nfile.header_row = 2\nwell.code = "well"\n'
        b'time = {date = "when", zone = "America/New_York"}\n'
        b'[reading]\nvalue = {column = "depth", decimals = 2}\npositive = "down"\nreference = "below land surface"\n'
    )
    report = import_table(network, data.getvalue(), "levels.xlsx", mapping, author)
    assert [(line.number, line.outcome) for line in report.lines] == [(3, "entered")]
    (held,) = entries(network.record, kinds=["readings"])
    assert held.entry.measured_at == "1998-05-14T10:20:00-04:00"
    assert held.entry.data["read"]["readings"] == ["31.40 ft"]


def test_naughty_strings_go_through_a_record_and_come_back_as_text(network: OpenNetwork, author: Author) -> None:
    strings = SHARED / "standards" / "bad-input-blns" / "blns.json"
    if not strings.is_file():
        pytest.skip("the collection of naughty strings is not beside the repository")
    cells = list(dict.fromkeys(json.loads(strings.read_text(encoding="utf-8"))))
    out = io.StringIO(newline="")
    csv.writer(out, quoting=csv.QUOTE_ALL).writerows(
        [("well", "date", "depth", "remarks"), *(("MF-07", "1998-05-14", "9.1", cell) for cell in cells)]
    )
    mapping = read_mapping(
        b'makes = "readings"\nlength_unit = "ft"\nwell.code = "well"\ntime = {date = "date", zone = "UTC"}\n'
        b'[reading]\nvalue = "depth"\npositive = "down"\nreference = "below land surface"\nremarks = "remarks"\n'
    )
    report = import_table(network, out.getvalue().encode(), "naughty.csv", mapping, author)
    assert sum(report.totals.values()) == len(cells)
    kept = {held.entry.data["read"].get("remarks", "") for held in entries(network.record, kinds=["readings"])}
    assert len(kept) == report.totals["entered"] > 400
    assert kept <= {cell.strip() for cell in cells}
    assert verify(network.record).sound


def test_a_sheet_that_is_not_there_is_refused(network: OpenNetwork, author: Author) -> None:
    mapping = read_mapping((EXAMPLES / "levels.mapping.toml").read_bytes())._replace(sheet="Levels")
    with pytest.raises(NotATable):
        import_table(network, b"well;date\n", "levels.csv", mapping, author)


POINTS_MAPPING = b"""
makes = "points"
length_unit = "ft"
[well]
code = "well"
[time]
date = "since"
zone = "America/New_York"
[point]
name = "name"
height = "height"
positive = "above land surface"
why = "why"
"""
CASINGS_MAPPING = b"""
makes = "casings"
length_unit = "ft"
[well]
code = "well"
[casing]
top = "top"
bottom = "bottom"
material = "material"
"""


def test_a_table_of_measuring_points_is_entered_with_days_and_reasons_and_contradictions_are_told(
    network: OpenNetwork, author: Author
) -> None:
    enter_fact(network, "well", "MF-01", {}, author)
    mapping = read_mapping(POINTS_MAPPING)
    rows = b"MF-01,MP-1,2015-05-01,2.10,\nMF-01,MP-1,2023-08-21,-0.30,casing cut down\nMF-01,MP-2,,0,\nMF-09,MP-1,,1,\n"
    table = b"well,name,since,height,why\n" + rows + b"MF-01,MP-2,,1,\nMF-01,MP-3,soon,1,\nMF-01,MP-3,2020-01-01,,\n"
    report = import_table(network, table, "points.csv", mapping, author)
    assert [line.outcome for line in report.lines] == ["entered"] * 3 + ["set aside"] * 4
    assert all(line.reason and line.mend for line in report.lines[3:])
    facts = [held.entry for held in entries(network.record, kinds=["measuring point"], about="well/MF-01")]
    assert [(e.measured_at, e.data["height"], e.data["side"], e.data.get("why")) for e in facts] == [
        ("2015-05-01", "2.10 ft", "above", None), ("2023-08-21", "0.30 ft", "below", "casing cut down"),
        ("", "0 ft", "level", None),
    ]  # fmt: skip
    again = import_table(
        network, table.replace(b",2.10,", b",0.64008 m,").replace(b"-0.30", b"-0.40"), "p.csv", mapping, author
    )
    assert [line.outcome for line in again.lines[:3]] == ["already there", "set aside", "already there"]
    assert "the record says 0.30 ft, the table 0.40 ft" in again.lines[1].reason


def test_a_table_of_casings_joins_what_is_known_of_the_construction(network: OpenNetwork, author: Author) -> None:
    enter_fact(network, "well", "MF-01", {}, author)
    enter_fact(
        network, "construction", "MF-01", {"completed_depth": "80", "screens": [{"top": "70", "bottom": "80"}]}, author
    )
    table = b"well,top,bottom,material\nMF-01,0,20,steel\nMF-01,20,70,PVC\n"
    report = import_table(network, table, "casings.csv", read_mapping(CASINGS_MAPPING), author)
    assert report.totals["entered"] == 2
    (built,) = [held.entry.data for held in entries(network.record, kinds=["construction"], about="well/MF-01")]
    assert [row["material"] for row in built["casings"]] == ["steel", "PVC"]
    assert (built["completed_depth"], len(built["screens"])) == ("80 ft", 1)
