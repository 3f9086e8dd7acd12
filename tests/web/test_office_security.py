"""What the office refuses, and how: hosts, origins, tokens, sizes, keys; one shape for every refusal."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute

from tapedown.values.errors import TapedownError
from tapedown.web.app import ROUTERS, create_app
from tapedown.web.errors import STATUS, status_of
from tapedown.web.security import LARGEST_FORM, new_doors
from tapedown.web.serving import HalfTls, InTheClear, plan
from tapedown.work.networks import OpenNetwork
from tests.web.conftest import HOME, Browser, visible

FROM_HERE = {"origin": HOME}


@pytest.mark.parametrize("host", ["fen.example", "127.0.0.1.fen.example", "127.0.0.1@fen.example", "192.0.2.7", ""])
def test_a_strange_host_is_not_answered(office: Browser, host: str) -> None:
    assert office.ask("GET", "/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1:8765", "localhost", "LOCALHOST:9", "[::1]:8765"])
def test_the_machines_own_names_are_answered(office: Browser, host: str) -> None:
    assert office.ask("GET", "/about", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"origin": "null"},
        {"origin": "http://fen.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1:8765"},
        {"origin": HOME, "sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
    ],
)
def test_a_form_from_elsewhere_is_refused_even_with_the_token(office: Browser, headers: dict[str, str]) -> None:
    data = {"token": office.token(), "by": "R. Alder", "code": "MF-66"}
    found = office.ask("POST", "/wells/new", data=data, headers=headers)
    assert found.status_code == 403
    assert "did not come from a page of this office" in visible(found.text)


def _posts() -> list[str]:
    routes = [route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute)]
    return sorted(
        {route.path for route in routes if "POST" in (route.methods or ()) and not route.path.startswith("/sheet/")}
    )


@pytest.mark.parametrize("path", _posts())
@pytest.mark.parametrize("token", ["", "0" * 64])
def test_every_form_asks_for_the_token_of_its_page(office: Browser, path: str, token: str) -> None:
    office.token()
    path = re.sub(r"\{\w+\}", "MF-07", path)
    found = office.ask("POST", path, data={"token": token, "by": "R. Alder"}, headers=FROM_HERE)
    assert found.status_code == 403
    assert "token" in visible(found.text)


def test_a_token_of_another_browser_does_not_fit(office: Browser) -> None:
    other = Browser(office.app).token()
    office.token()
    found = office.ask("POST", "/wells/new", data={"token": other, "code": "MF-66"}, headers=FROM_HERE)
    assert found.status_code == 403


@pytest.mark.parametrize("path", ["/", "/nothing", "/wells/XX.json", "/static/office.css", "/static/none.css"])
def test_every_answer_carries_the_headers(office: Browser, path: str) -> None:
    headers = office.ask("GET", path).headers
    assert "script-src 'self'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"


def test_no_page_needs_what_the_policy_forbids(office: Browser) -> None:
    for path in ("/", "/wells/MF-07", "/wells/MF-07/visit", "/settings", "/record", "/gear", "/import", "/about"):
        page = office.get(path).text
        assert not re.search(
            r"<script|<style|\sstyle=|\son\w+=|javascript:|https?://(?!www\.w3\.org/2000/svg)", page
        ), path


def test_the_form_cookie_is_kept_from_scripts_and_other_sites(office: Browser) -> None:
    cookie = office.get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


def test_a_body_that_says_too_little_of_its_length_is_stopped(office: Browser) -> None:
    async def long_body() -> Any:
        for _ in range(3):
            yield b"x" * (LARGEST_FORM // 2)

    headers = {**FROM_HERE, "content-type": "application/x-www-form-urlencoded"}
    assert office.ask("POST", "/wells/new", content=long_body(), headers=headers).status_code == 413


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("application/json", b"{}"),
        ("multipart/form-data", b"x"),
        ("multipart/form-data; boundary=x", b"--y\r\n"),
        ("", b""),
    ],
)
def test_a_body_that_is_no_form_is_refused(office: Browser, kind: str, body: bytes) -> None:
    found = office.ask("POST", "/wells/new", content=body, headers={**FROM_HERE, "content-type": kind})
    assert found.status_code in {400, 403}


def test_thousands_of_fields_are_refused(office: Browser) -> None:
    data = {f"field{n}": "x" for n in range(3000)}
    assert office.ask("POST", "/wells/new", data=data, headers=FROM_HERE).status_code == 400


def test_every_refusal_has_one_shape(office: Browser) -> None:
    for path, status in (("/wells/XX.json", 404), ("/index.json?page=0", 422), ("/index.json?as_of=then", 422),
                         ("/entries/none.json", 404), ("/nothing.json", 404), ("/import/none.json", 404)):  # fmt: skip
        error = office.json(path, status=status)["error"]
        assert set(error) == {"message", "hint", "places"}
        assert error["message"]
    assert office.ask("PUT", "/about", headers=FROM_HERE).status_code == 405


def test_every_refusal_known_to_the_table_has_a_sensible_status() -> None:
    for kind, status in STATUS.items():
        assert issubclass(kind, TapedownError)
        assert 400 <= status < 600
    assert status_of(TapedownError("x")) == 400


def test_a_fault_of_the_program_says_nothing_of_its_insides(office: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tapedown.web.pages.keeping.heads", lambda _: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        office.ask("GET", "/record")
    quiet = Browser(office.app)
    quiet.client._transport.raise_app_exceptions = False  # type: ignore[attr-defined]
    found = quiet.ask("GET", "/record.json")
    assert found.status_code == 500
    assert "division" not in found.text
    assert json.loads(found.text)["error"]["message"] == "a fault of the program itself"


def test_no_path_reaches_the_disk(office: Browser) -> None:
    for path in ("/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static//etc/passwd"):
        assert office.ask("GET", path).status_code == 404


KEY = "a key of an office that others can reach"


@pytest.fixture
def shared(fen: OpenNetwork) -> Iterator[FastAPI]:
    """An office that asks for its key."""
    app = create_app(fen.record.where, doors=new_doors(any_address=True, key=KEY), device="desk")
    yield app
    app.state.office.record.close()


def test_a_shared_office_opens_with_its_key_only(shared: FastAPI) -> None:
    visitor = Browser(shared)
    for path in ("/", "/index.json", "/openapi.json", "/wells/MF-07", "/record.json"):
        assert visitor.ask("GET", path).status_code == 401
    assert visitor.ask("GET", "/enter?key=guess").status_code == 401
    assert visitor.ask("GET", "/").status_code == 401
    came = visitor.ask("GET", "/enter", params={"key": KEY})
    assert came.status_code == 303
    assert all("HttpOnly" in c and "SameSite=Strict" in c for c in came.headers.get_list("set-cookie"))
    assert visitor.ask("GET", "/").status_code == 200


def test_the_key_itself_is_kept_nowhere(shared: FastAPI) -> None:
    visitor = Browser(shared)
    visitor.ask("GET", "/enter", params={"key": KEY})
    assert KEY not in repr(shared.state.office.doors)
    assert all(KEY not in str(value) for value in visitor.client.cookies.values())


def test_other_machines_are_not_served_in_the_clear_unless_asked_in_so_many_words(tmp_path: Path) -> None:
    for host in ("192.0.2.7", "fen.example", "::"):
        with pytest.raises(InTheClear):
            plan(host)
    assert "/enter?key=" in plan("192.0.2.7", without_tls=True).address
    assert plan("192.0.2.7", tls_cert=tmp_path, tls_key=tmp_path).address.startswith(
        "https://192.0.2.7:8765/enter?key="
    )
    with pytest.raises(HalfTls):
        plan(tls_cert=tmp_path)


def test_this_machine_alone_is_served_without_a_key() -> None:
    for host in ("127.0.0.1", "localhost", "::1"):
        planned = plan(host)
        assert planned.doors.key_sha256 == ""
        assert "key" not in planned.address
