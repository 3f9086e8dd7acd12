"""A delivery made in the office: chosen, made while the page waits, fetched, and the same as on the command line."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.web import working
from tapedown.work.imports.packages import ZipPackage, verify_delivery
from tests.web.conftest import Browser, visible


@pytest.fixture
def desk(office: Browser, monkeypatch: pytest.MonkeyPatch) -> Iterator[Browser]:
    monkeypatch.setattr(working, "PATIENCE_S", 120.0)
    yield office
    office.app.state.office.downloads.close()


def fetched(desk: Browser, fields: list[tuple[str, str]]) -> tuple[str, bytes]:
    """The page of a delivery when it is ready, and its bytes."""
    where = desk.post("/deliver", fields).headers["location"]
    return visible(desk.get(where).text), desk.get(f"{where}.zip").content


def test_a_delivery_is_made_and_fetched(desk: Browser, tmp_path: Path) -> None:
    page, data = fetched(desk, [("as", "csv"), ("as", "waterml"), ("unit", "ft"), ("unit", "m")])
    assert "ready" in page
    found = verify_delivery(ZipPackage(io.BytesIO(data), "it.zip"))
    assert found.sound
    assert found.sha256 in page
    assert {piece.path for piece in found.manifest.files} >= {"csv/readings.csv", "waterml/MF-07.xml"}
    head = zipfile.ZipFile(io.BytesIO(data)).read("csv/readings.csv").partition(b"\r\n")[0]
    assert b"depth_below_land_surface_rounded_m" in head


def test_the_past_can_be_delivered(desk: Browser) -> None:
    page, data = fetched(desk, [("as", "csv"), ("as_of", "2025-12-31")])
    assert "ready" in page
    lines = zipfile.ZipFile(io.BytesIO(data)).read("csv/readings.csv").splitlines()
    assert len(lines) == 1  # the readings were written in 2026


@pytest.mark.parametrize(
    ("fields", "said"), [([], "no format is named"), ([("as", "csv"), ("as_of", "soon")], "is not a date")]
)
def test_a_wrong_form_comes_back_filled_with_the_mend(desk: Browser, fields: list[tuple[str, str]], said: str) -> None:
    page = desk.post("/deliver", fields, status=422).text
    assert said in visible(page)
    assert ('value="csv" checked' in page) == bool(fields)


def test_a_format_nobody_knows_is_told_before_anything_is_made(desk: Browser) -> None:
    assert "the formats are" in visible(desk.post("/deliver", [("as", "shp")], status=422).text)


def test_a_delivery_that_takes_long_goes_by_way_of_its_progress(desk: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(working, "PATIENCE_S", 0.0)
    where = desk.post("/deliver", [("as", "csv")]).headers["location"]
    running = desk.app.state.office.working
    token = where.rpartition("/")[2]
    running.piece(token).future.result(60)
    made = desk.get(f"/working/{token}", status=303).headers["location"]
    assert desk.json(f"{made}.json")["name"].endswith(".zip")


def test_a_name_nobody_was_given_fetches_nothing(desk: Browser) -> None:
    for ending in ("", ".json", ".zip"):
        desk.get(f"/deliver/AAAAAAAAAAAAAAAAAAAAAA{ending}", status=404)
    assert {row["name"] for row in desk.json("/deliver.json")} >= {"csv", "netcdf", "entries"}


def test_a_form_of_another_site_makes_nothing(desk: Browser) -> None:
    found = desk.ask("POST", "/deliver", data={"as": "entries"}, headers={"origin": "http://elsewhere.example"})
    assert found.status_code == 403
