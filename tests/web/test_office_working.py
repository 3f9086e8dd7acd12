"""Long work of the office: a page shows how far it has come, goes on by itself, and nothing is begun twice."""

from __future__ import annotations

from collections.abc import Iterator
from threading import Event
from typing import Any

import pytest

from tapedown.exchange.tables.errors import NotATable
from tapedown.values.progress import Progress, Watch
from tapedown.web import working
from tapedown.web.working import NotAtWork, Working
from tests.web.conftest import Browser, visible


@pytest.fixture
def gate() -> Iterator[Event]:
    """Work waits at it until it is opened; opened at the end in any case."""
    event = Event()
    yield event
    event.set()


def held(gate: Event) -> Any:
    def work(watch: Watch) -> str:
        watch(Progress("lines read", 3000, 21532))
        assert gate.wait(20)
        return "all of it"

    return work


def begun(office: Browser, gate: Event) -> str:
    running: Working = office.app.state.office.working
    token = running.start("looking at levels.csv", held(gate), lambda name: f"/about?of={name}", "look")
    while running.piece(token).step.of == 0:
        pass
    return token


def test_a_page_shows_how_far_long_work_has_come_and_then_leads_to_its_outcome(office: Browser, gate: Event) -> None:
    token = begun(office, gate)
    words = visible(office.get(f"/working/{token}").text)
    assert "looking at levels.csv" in words
    assert "lines read: 3,000 of 21,532" in words
    told = office.json(f"/working/{token}.json")
    assert (told["done"], told["of"], told["finished"], told["shown_at"]) == (3000, 21532, False, None)
    gate.set()
    running: Working = office.app.state.office.working
    running.piece(token).future.result(20)
    assert office.json(f"/working/{token}.json")["shown_at"] == f"/about?of={token}"
    assert office.get(f"/working/{token}", status=303).headers["location"] == f"/about?of={token}"
    assert running.outcome(token) == "all of it"


def test_the_same_work_is_not_begun_twice_while_it_runs(office: Browser, gate: Event) -> None:
    token = begun(office, gate)
    running: Working = office.app.state.office.working
    assert running.start("again", held(gate), str, "look") == token
    with pytest.raises(NotAtWork):
        running.outcome(token)


def test_work_that_is_refused_says_why_on_its_page(office: Browser) -> None:
    def refuse(_watch: Watch) -> None:
        raise NotATable("the file is empty", hint="export it again")

    running: Working = office.app.state.office.working
    token = running.start("looking at nothing", refuse, str, "look")
    assert running.soon(token)
    words = visible(office.get(f"/working/{token}").text)
    assert "the file is empty" in words
    assert "export it again" in words
    assert office.json(f"/working/{token}.json")["error"]["hint"] == "export it again"


def test_work_nobody_remembers_is_told_as_such(office: Browser) -> None:
    assert "nothing is known of this work" in visible(office.get("/working/long-gone", status=404).text)


def test_a_check_of_the_record_that_takes_long_goes_by_way_of_its_progress(
    office: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(working, "PATIENCE_S", 0.0)
    where = office.get("/record?prove=true", status=303).headers["location"]
    if where.startswith("/working/"):
        running: Working = office.app.state.office.working
        running.piece(where.rpartition("/")[2]).future.result(20)
        where = office.get(where, status=303).headers["location"]
    assert "Sound." in visible(office.get(where).text)
