"""A package made elsewhere, taken in through the office: looked at line by line, then entered, never put on disk."""

from __future__ import annotations

import io
import json
import random
import re
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.record import entries
from tapedown.web.app import create_app
from tapedown.work.authorship import Author
from tapedown.work.exports.export import deliver, deliver_zip
from tapedown.work.exports.gathering import gather
from tapedown.work.imports.package_import import take_back
from tapedown.work.networks import OpenNetwork, open_network, start_network
from tests.web.conftest import Browser, one_well, visible
from tests.work.conftest import SteppingClock
from tests.work.test_taking_in import DEEP, ENTITIES, OUTSIDE, THEIR_MAPPING, waterml

OTHER = {"name": "Other Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}


@pytest.fixture
def elsewhere(tmp_path: Path, author: Author, clock: SteppingClock) -> Iterator[Browser]:
    """A browser before the office of another, empty network."""
    with start_network(tmp_path / "elsewhere", OTHER, author).record as record:
        where = record.where
    app = create_app(where, device="other desk", clock=clock)
    yield Browser(app)
    app.state.office.record.close()


def packed(network: OpenNetwork, tmp_path: Path, *formats: str) -> bytes:
    """A delivery as a zip."""
    place = tmp_path / f"delivery {len(list(tmp_path.iterdir()))}.zip"
    deliver_zip(network, gather(network), formats, place)
    return place.read_bytes()


def send(office: Browser, name: str, data: bytes, *, status: int = 303, **said: str) -> str:
    found = office.post("/take-in", said, files={"package": (name, data)}, status=status)
    return shown_at(office, found.headers["location"]) if status == 303 else found.text


def shown_at(office: Browser, where: str) -> str:
    """Where an outcome is shown, once the work beside the request is done."""
    while where.startswith("/working/"):
        time.sleep(0.05)
        told = office.json(f"{where}.json")
        if told["finished"]:
            return str(told["shown_at"])
    return where


def count(office: Browser) -> int:
    return len(entries(office.app.state.office.record, struck=True))


@pytest.mark.parametrize("form", ["csv", "geopackage", "waterml"])
def test_a_delivery_is_shown_line_by_line_then_entered_by_a_name(
    fen: OpenNetwork, elsewhere: Browser, tmp_path: Path, form: str
) -> None:
    files = {"csv": "", "geopackage": "geopackage/wells.gpkg", "waterml": "waterml/MF-07.xml"}
    if files[form]:
        deliver(fen, gather(fen), [form], tmp_path / "out")
        name, data = files[form].rpartition("/")[2], (tmp_path / "out" / files[form]).read_bytes()
    else:
        name, data = "delivery.zip", packed(fen, tmp_path, form)
    before = count(elsewhere)
    where = send(elsewhere, name, data)
    assert "Nothing is written yet" in visible(elsewhere.get(where).text)
    seen = elsewhere.json(f"{where}.json")
    assert count(elsewhere) == before
    assert seen["dry_run"]
    assert sum(seen["totals"].values()) == len(seen["lines"])
    elsewhere.post(where, {"by": ""}, status=422)
    assert count(elsewhere) == before
    where = shown_at(elsewhere, elsewhere.post(where, {"by": "M. Teasel"}).headers["location"])
    done = elsewhere.json(f"{where}.json")
    assert done["totals"] == seen["totals"]
    assert not done["dry_run"]
    assert "Entered." in visible(elsewhere.get(where).text)
    assert elsewhere.json("/index.json")["wells"][0]["name"] == "Alder Carr"
    assert {h.entry.by for h in entries(elsewhere.app.state.office.record, kinds=["import"])} == {"M. Teasel"}
    again = elsewhere.json(f"{send(elsewhere, name, data)}.json")
    assert again["totals"]["entered"] == 0


def test_a_delivery_with_entries_comes_back_into_its_own_network_without_loss(
    office: Browser, fen: OpenNetwork, tmp_path: Path, author: Author, clock: SteppingClock
) -> None:
    data = packed(fen, tmp_path, "entries")
    same = office.json(f"{send(office, 'delivery.zip', data)}.json")
    assert same["own"]
    assert same["totals"]["already there"] == len(same["lines"]) == count(office)
    (tmp_path / "delivery.zip").write_bytes(data)
    take_back(str(tmp_path / "copy"), tmp_path / "delivery.zip")
    with open_network(str(tmp_path / "copy")).record as record:
        where = record.where
    app = create_app(where, device="copy desk", clock=clock)
    copy = Browser(app)
    one_well(fen, "MF-08", author)
    newer = packed(fen, tmp_path, "entries")
    where_seen, before = send(copy, "delivery.zip", newer), count(copy)
    assert copy.json(f"{where_seen}.json")["totals"]["entered"] == count(office) - before > 0
    assert count(copy) == before
    where_seen = shown_at(copy, copy.post(where_seen, {}).headers["location"])
    assert count(copy) == count(office)
    assert "entered" in visible(copy.get(f"{where_seen}?only=entered").text)
    app.state.office.record.close()


def test_entries_of_another_network_are_refused(elsewhere: Browser, fen: OpenNetwork, tmp_path: Path) -> None:
    before = count(elsewhere)
    page = visible(send(elsewhere, "delivery.zip", packed(fen, tmp_path, "entries"), status=422))
    assert "the file holds entries of Marrow Fen, this record is of Other Fen" in page
    assert count(elsewhere) == before


def test_what_a_document_does_not_say_is_asked_for_and_may_be_said_on_the_page(elsewhere: Browser) -> None:
    data = waterml(("2026-05-14T10:20:00-04:00", "<wml2:value>12.30</wml2:value>"))
    where = send(elsewhere, "theirs.xml", data)
    first = elsewhere.json(f"{where}.json")
    assert (first["tables"], first["not_taken"][0]["lines"]) == ([], 1)
    page = elsewhere.get(where).text
    assert "No table of it can be taken in as it stands" in visible(page)
    kept = re.search(r'name="kept" value="([^"]+)"', page)
    assert kept is not None
    said = {"kept": kept[1], "quantity": "water_level_elevation", "datum": "NAVD88"}
    again = elsewhere.post("/take-in", said, files={"package": ("", b"")})
    assert elsewhere.json(f"{shown_at(elsewhere, again.headers['location'])}.json")["totals"]["entered"] == 2


def zipped(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


DIPS = json.dumps({"name": "theirs", "resources": [{"name": "dips", "path": "dips.csv"}]}).encode()
THEIRS = {"datapackage.json": DIPS, "dips.csv": b"bore,when,dip\nMF-51,2026-05-14T10:20Z,12.30\nMF-51,x,1\n"}
MAPPING = THEIR_MAPPING.decode()


def test_a_table_of_another_data_package_is_taken_with_its_mapping(elsewhere: Browser) -> None:
    where = send(elsewhere, "theirs.zip", zipped(THEIRS))
    (aside,) = elsewhere.json(f"{where}.json")["not_taken"]
    assert (aside["name"], aside["lines"]) == ("dips", 2)
    assert "bore, when, dip" in aside["mend"]
    where = send(elsewhere, "theirs.zip", zipped(THEIRS), table="dips", mapping=MAPPING)
    found = elsewhere.json(f"{where}.json")
    assert (found["totals"]["entered"], found["totals"]["set aside"]) == (1, 1)
    only = elsewhere.json(f"{where}.json?only=set aside&table=1")["lines"]
    assert [(line["number"], bool(line["reason"] and line["mend"])) for line in only] == [(3, True)]
    page = send(elsewhere, "theirs.zip", zipped(THEIRS), status=422, table="dips", mapping="makes = 1")
    assert "theirs.zip is kept" in visible(page)
    assert "makes = 1" in page


HOSTILE = {
    "nothing in it.zip": b"",
    "no zip.zip": b"PK\x03\x04broken",
    "a picture.zip": b"\x89PNG\r\n\x1a\n\x00\x00",
    "a zip of nothing we know.zip": zipped({"readme.txt": b"hello"}),
    "a bomb.zip": zipped({"datapackage.json": DIPS, "dips.csv": b"0" * 50_000_000}),
    "a path out.zip": zipped({**THEIRS, "../../out.csv": b"x"}),
    "a path from the root.zip": zipped({**THEIRS, "/etc/out.csv": b"x"}),
    "no descriptor.zip": zipped({"datapackage.json": b"{"}),
    "a file it names is missing.zip": zipped({"datapackage.json": DIPS}),
    "a changed delivery.zip": zipped({"manifest.json": b"{}", "datapackage.json": DIPS}),
    "entities.xml": ENTITIES,
    "a file from outside.xml": OUTSIDE,
    "deep.xml": DEEP,
    "cut short.xml": waterml(("2026-05-14T10:20:00Z", "<wml2:value>1</wml2:value>"))[:-40],
    "html.xml": b"<html><body>no</body></html>",
    "a zip called.xml": zipped(THEIRS),
    "no geopackage.gpkg": b"<x/>",
    "a broken geopackage.gpkg": b"SQLite format 3\0" + b"\x01" * 4096,
    "a table.csv": b"well,date\n",
    "a program.exe": b"MZ\x90",
    "no ending": b"hello",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_broken_or_made_to_harm_is_refused_with_the_mend_and_nothing_is_written(
    elsewhere: Browser, name: str, tmp_path: Path
) -> None:
    before, there = count(elsewhere), {path for path in tmp_path.rglob("*") if "out" in path.name}
    page = send(elsewhere, name, HOSTILE[name], status=422)
    words = visible(page)
    assert "Nothing was written." in words
    assert re.search(r'<p class="problem">[^<]+; [^<]+</p>', page), "a place to mend and how"
    assert count(elsewhere) == before
    assert {path for path in tmp_path.rglob("*") if "out" in path.name} == there


def test_a_package_is_never_written_to_disk(elsewhere: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.TemporaryFile", None)
    monkeypatch.setattr("tempfile.NamedTemporaryFile", None)
    monkeypatch.setattr("tempfile.SpooledTemporaryFile.rollover", None)
    send(elsewhere, "theirs.zip", zipped(THEIRS | {"more.bin": random.Random(1).randbytes(3_000_000)}))


def test_a_person_finds_the_way_to_it(office: Browser) -> None:
    for page in ("/import", "/deliver"):
        assert 'href="/take-in"' in office.get(page).text
    assert office.json("/take-in.json")["sent_to"] == "/take-in"
