"""A table taken in through the office: looked at, then entered, never put on disk."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tapedown.record import entries
from tapedown.work.networks import OpenNetwork
from tests.web.conftest import HOME, Browser, visible

MAPPING = b"""
makes = "readings"
length_unit = "ft"
[well]
code = "well"
[time]
date = "date"
zone = "America/New_York"
[reading]
value = "level"
positive = "down"
reference = "below land surface"
"""
TABLE = b"well,date,level\r\nMF-07,1998-05-14,31.42\r\nMF-99,1998-05-14,12.00\r\nMF-07,1998-11-11,29.80\r\n"


def send(office: Browser, table: bytes = TABLE, mapping: bytes = MAPPING, *, status: int = 303) -> str:
    files = {"table": ("levels.csv", table), "mapping_file": ("levels.toml", mapping)}
    found = office.post("/import", {}, files=files, status=status)
    return found.headers["location"] if status == 303 else found.text


def test_a_table_is_shown_line_by_line_before_it_is_entered(office: Browser, fen: OpenNetwork) -> None:
    before = len(entries(fen.record))
    where = send(office)
    words = visible(office.get(where).text)
    assert "Nothing is written yet" in words
    assert re.search(r"2 entered", words)
    assert re.search(r"3 set aside", words)
    assert len(entries(fen.record)) == before
    assert office.json(f"{where}.json")["totals"] == {"entered": 2, "already there": 0, "set aside": 1}


def test_the_table_that_was_looked_at_is_entered_by_a_name(office: Browser, fen: OpenNetwork) -> None:
    where = send(office)
    office.post(where, {"by": ""}, status=422)
    office.post(where, {"by": "M. Teasel"})
    assert "Entered" in visible(office.get(where).text)
    assert entries(fen.record, kinds=["import"])[-1].entry.by == "M. Teasel"
    assert [h.entry.data["read"]["readings"] for h in entries(fen.record, kinds=["readings"])][-2:] == [
        ["31.42 ft"], ["29.80 ft"]]  # fmt: skip


def test_a_mapping_that_does_not_fit_comes_back_with_the_table_kept(office: Browser) -> None:
    page = send(office, mapping=MAPPING.replace(b'"level"', b'"depth"'), status=422)
    assert "levels.csv is kept" in visible(page)
    kept = re.search(r'name="kept" value="([^"]+)"', page)
    assert kept is not None
    mended = office.post("/import", {"kept": kept[1], "mapping": MAPPING.decode()}, files={"other": ("", b"")})
    assert "2 entered" in visible(office.get(mended.headers["location"]).text)


def test_many_lines_come_in_pages(office: Browser) -> None:
    rows = b"".join(b"MF-07,1998-05-14T%02d:%02d,31.42\r\n" % (i // 60, i % 60) for i in range(450))
    where = send(office, b"well,date,level\r\n" + rows)
    first = office.json(f"{where}.json")
    assert (len(first["lines"]), first["next_page"]) == (200, 2)
    assert office.json(f"{where}.json?page=3")["next_page"] is None
    assert "page 1 of 3" in visible(office.get(where).text)


@pytest.mark.parametrize(
    ("table", "said"),
    [(b"", "no table was chosen"), (b"\x89PNG\r\n\x1a\n\x00\x00", ""), (b"PK\x03\x04broken", "")],
)
def test_what_is_no_table_is_refused_with_the_mend(office: Browser, table: bytes, said: str) -> None:
    page = visible(send(office, table, status=422))
    assert "Nothing was written." in page
    assert said in page


def test_an_upload_is_never_written_to_disk(office: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two megabytes, twice what a form parser keeps in memory by itself."""
    monkeypatch.setattr("tempfile.TemporaryFile", None)
    monkeypatch.setattr("tempfile.SpooledTemporaryFile.rollover", None)
    rows = b"".join(
        b"MF-07,1998-05-14T%02d:%02d:%02d,31.42\r\n" % (i // 3600, i // 60 % 60, i % 60) for i in range(60_000)
    )
    files = {"table": ("levels.csv", b"well,date,level\r\n" + rows), "mapping_file": ("m.toml", b"makes = 1")}
    office.post("/import", {}, files=files, status=422)


def test_the_oldest_upload_is_forgotten_first(office: Browser) -> None:
    first = send(office)
    for _ in range(4):
        send(office)
    assert "not kept any more" in visible(office.get(first, status=404).text)


def test_a_larger_upload_than_is_taken_is_refused(office: Browser) -> None:
    headers = {"origin": HOME, "content-type": "multipart/form-data; boundary=x", "content-length": "50000000"}
    found = office.ask("POST", "/import", content=b"x", headers=headers)
    assert found.status_code == 413
