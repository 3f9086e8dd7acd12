"""A page asks the record as often in a network of a thousand wells as in one of ten."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event

from tapedown.record import append
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.web import working
from tapedown.web.app import create_app
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import OpenNetwork, start_network
from tests.web.conftest import NETWORK, POINT, Browser

PAGES = ("/", "/index.json", "/wells/W-0001", "/wells/W-0001.json", "/wells/W-0001/points", "/wells/W-0001/visit",
         "/wells/W-0001/facts/construction", "/wells/new", "/gear", "/gear/ST-014", "/gear.json",
         "/gear/ST-014/compared.json", "/record", "/rounds", "/rounds.json", "/review", "/review.json", "/repeats",
         "/repeats.json", "/signed", "/signed.json", "/settings", "/import", "/about", "/pair",
         "/wells/W-0001/visit.json", "/wells/W-0001/facts/construction.json", "/wells/W-0001/sheet.pdf",
         "/deliver", "/services", "/services/now/features/collections/wells/items?limit=5",
         "/services/now/sensorthings/v1.1/Things?$top=5")  # fmt: skip


def fill(network: OpenNetwork, wells: int, author: Author) -> None:
    """So many wells, each with a point, a position and a reading, and one tape."""
    read, _ = readings_from_body({"method": "electric tape", "read": {"readings": ["15.02", "15.03"]}}, "ft")
    assert read is not None
    facts = {"measuring point": POINT, "position": {"latitude": "43.1", "longitude": "-76.3", "land_surface": "39.84"}}
    bodies = {kind: KINDS[kind].body(_value(kind, given)) for kind, given in facts.items()}
    drafts = []
    for number in range(1, wells + 1):
        about = about_well(f"W-{number:04d}")
        drafts.append(author.draft("well", about, {"code": about[5:], "name": f"well {number}"}))
        drafts += [author.draft(kind, about, body, measured_at="2015-05-01") for kind, body in bodies.items()]
        drafts.append(author.draft("readings", about, readings_body(read), measured_at="2025-05-14T10:20-04:00"))
    append(network.record, author.device, drafts)
    enter_fact(network, "gear", "ST-014", {"type": "steel tape"}, author)


def _value(kind: str, given: dict[str, str]) -> object:
    value, problems = KINDS[kind].read(given, "ft")
    assert not problems
    return value


@contextmanager
def counted(browser: Browser) -> Iterator[list[str]]:
    """The statements sent to the database."""
    engine = browser.app.state.office.record.engine
    said: list[str] = []

    def note(_c: object, _cursor: object, statement: str, *_: object) -> None:
        said.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    yield said
    event.remove(engine, "before_cursor_execute", note)


def asked(tmp_path: Path, wells: int, author: Author) -> dict[str, int]:
    """Page -> how many statements it took."""
    network = start_network(tmp_path / f"fen-{wells}", NETWORK, author)
    fill(network, wells, author)
    app = create_app(network.record.where, device="desk")
    browser, found = Browser(app), {}
    for path in PAGES:
        with counted(browser) as said:
            browser.get(path)
        found[path] = len(said)
    app.state.office.record.close()
    network.record.close()
    return found


@pytest.mark.slow
def test_a_page_asks_as_often_at_ten_wells_as_at_a_thousand(
    tmp_path: Path, author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(working, "PATIENCE_S", 300.0)
    few, many = asked(tmp_path, 10, author), asked(tmp_path, 1000, author)
    assert few == many
    assert max(few.values()) < 40
