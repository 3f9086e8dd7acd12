"""The office asked in this process, as a browser would ask it, on a small network of its own."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from tapedown.main import main
from tapedown.web.app import create_app
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact, read_visit, write_visit
from tapedown.work.networks import OpenNetwork, start_network
from tests.work.conftest import SteppingClock

HOME = "http://127.0.0.1:8765"
NETWORK = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
POINT = {"name": "MP-1", "height": "3.40", "side": "above", "description": "notch, north side"}
Fields = Mapping[str, str] | Sequence[tuple[str, str]]


class Browser:
    """Keeps cookies, sends the token of the page, says where it comes from.

    It asks from a thread of its own: where a real browser is driven in the same process, its loop runs in ours.
    """

    def __init__(self, app: FastAPI) -> None:
        self.app = app
        transport = httpx.ASGITransport(app)
        self.client = httpx.AsyncClient(transport=transport, base_url=HOME)

    def ask(self, method: str, path: str, **more: Any) -> httpx.Response:
        """One request, as it is."""
        with ThreadPoolExecutor(1) as thread:
            return thread.submit(asyncio.run, self.client.request(method, path, **more)).result()

    def get(self, path: str, *, status: int = 200, **more: Any) -> httpx.Response:
        """A page; the test fails when it has another status."""
        found = self.ask("GET", path, **more)
        assert found.status_code == status, found.text[:2000]
        return found

    def json(self, path: str, *, status: int = 200) -> Any:
        """The JSON beside a page."""
        return self.get(path, status=status).json()

    def token(self) -> str:
        """The token that a page's forms carry."""
        found = re.search(r'name="token" value="([0-9a-f]+)"', self.get("/wells/new").text)
        assert found is not None
        return found[1]

    def post(self, path: str, fields: Fields, *, status: int = 303, files: Any = None) -> httpx.Response:
        """A form sent from its page; by R. Alder unless it says so itself."""
        pairs = list(fields.items()) if isinstance(fields, Mapping) else list(fields)
        pairs = [("by", "R. Alder")] * ("by" not in dict(pairs)) + pairs + [("token", self.token())]
        data: dict[str, list[str]] = {}
        for name, value in pairs:
            data.setdefault(name, []).append(value)
        found = self.ask(
            "POST", path, data=data, files=files, headers={"origin": HOME, "sec-fetch-site": "same-origin"}
        )
        assert found.status_code == status, f"{found.status_code}: {visible(found.text)[:1500]}"
        return found


def visible(page: str) -> str:
    """The words of a page, without its tags."""
    body = page.partition("<body>")[2]
    body = re.sub(r"<svg\b.*?</svg>", " ", body, flags=re.DOTALL)
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)))


@pytest.fixture
def clock() -> SteppingClock:
    return SteppingClock()


@pytest.fixture
def author(clock: SteppingClock) -> Author:
    return Author("R. Alder", "desk", clock)


@pytest.fixture
def fen(tmp_path: Path, author: Author) -> Iterator[OpenNetwork]:
    """Marrow Fen with one well that was visited twice."""
    network = start_network(tmp_path / "fen", NETWORK, author)
    one_well(network, "MF-07", author)
    yield network
    network.record.close()


def one_well(network: OpenNetwork, code: str, author: Author) -> None:
    """A well with its facts and two visits: a sounding, and a level a year later."""
    enter_fact(network, "well", code, {"name": "Alder Carr", "place": "200 m along the carr path"}, author)
    enter_fact(network, "measuring point", code, POINT, author, measured_at="2015-05-01")
    position = {"latitude": "43.1", "longitude": "-76.3", "land_surface": "39.84", "vertical_datum": "NAVD88"}
    enter_fact(network, "position", code, position, author, measured_at="2015-05-01")
    construction = {"completed_depth": "82.1", "screens": [{"top": "70", "bottom": "80"}]}
    enter_fact(network, "construction", code, construction, author, measured_at="2015-05-01")
    sounding = {"method": "weighted tape", "weight_interval": "1.20", "readings": ["84.30", "84.30"]}
    level = {"method": "electric tape", "readings": ["15.02", "15.03"]}
    for when, read in (("2024-05-14 10:20", sounding), ("2025-05-14 09:10", level)):
        visit = {"well": code, "when": when, "seen": {"quiet": True}, "readings": [read]}
        write_visit(network, read_visit(network, visit), author)


@pytest.fixture
def office(fen: OpenNetwork, clock: SteppingClock) -> Iterator[Browser]:
    """A browser before the office of that network."""
    app = create_app(fen.record.where, device="desk", clock=clock)
    yield Browser(app)
    app.state.office.record.close()


@pytest.fixture
def terminal(fen: OpenNetwork, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., int]:
    """The terminal, beside the same record."""
    monkeypatch.chdir(tmp_path)
    for name, value in (("NETWORK", str(tmp_path / "fen")), ("BY", "R. Alder"), ("DEVICE", "terminal")):
        monkeypatch.setenv(f"TAPEDOWN_{name}", value)
    return lambda *arguments: main(list(arguments))


def values_of(office: Browser, code: str = "MF-07") -> list[dict[str, Any]]:
    """The rows of a well."""
    rows: list[dict[str, Any]] = office.json(f"/wells/{code}.json")["rows"]
    return rows
