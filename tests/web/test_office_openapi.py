"""The JSON beside the pages keeps to what /openapi.json says of it, whatever is asked."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tapedown.web.app import create_app
from tapedown.work.authorship import Author
from tapedown.work.networks import start_network
from tests.web.conftest import NETWORK, Browser, one_well
from tests.work.conftest import SteppingClock

CHECKS = (not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance)

HOST = {"host": "127.0.0.1:8765"}


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """An office of a network with one well."""
    author = Author("R. Alder", "desk", SteppingClock())
    network = start_network(Path(tmp_path_factory.mktemp("fen")) / "fen", NETWORK, author)
    one_well(network, "MF-07", author)
    made = create_app(network.record.where, device="desk")
    yield made
    made.state.office.record.close()
    network.record.close()


def test_every_answer_is_what_the_description_says(app: FastAPI) -> None:
    """Every address with JSON, asked a dozen ways; the field sheet's own door, which asks for keys, is left out."""
    described = schemathesis.openapi.from_asgi("/openapi.json", app, headers=HOST)
    found = list(described.include(method="GET").get_all_operations())
    operations: list[Any] = [each.ok() for each in found if isinstance(each, Ok)]
    assert len(operations) == len(found)
    ours = [operation for operation in operations if not operation.path.startswith("/sheet")]
    assert len(ours) >= 25
    entry = Browser(app).json("/wells/MF-07.json")["rows"][0]["entry"]["id"]
    there = {"code": "MF-07", "entry_id": entry, "serial": "ST-014"}
    for operation in ours:
        _ask_many_ways(operation.as_strategy(), {})
        if "{" in operation.path:
            _ask_many_ways(operation.as_strategy(), there)


def _ask_many_ways(cases: Any, there: dict[str, str]) -> None:
    """A dozen ways each; with `there`, about what is really in the record."""

    @given(case=cases)
    @settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None)
    def ask(case: Any) -> None:
        case.path_parameters = {name: there.get(name, value) for name, value in (case.path_parameters or {}).items()}
        answer = case.call(headers=HOST)
        case.validate_response(answer, checks=CHECKS)

    ask()


def test_real_answers_keep_to_their_models(app: FastAPI) -> None:
    """The models do not drop anything: what the record says of a value arrives whole."""
    browser = Browser(app)
    row = browser.json("/wells/MF-07.json")["rows"][0]
    value = browser.json(f"/wells/MF-07/values/{row['entry']['id']}.json")
    more = ("sources", "levers", "against_its_well")
    assert {**row, **{name: value[name] for name in more}} == value
    assert row["entry"]["body"]["read"]["readings"] == ["84.30 ft", "84.30 ft"]
    assert row["reduction"]["stages"][0]["steps"][0]["parts"]
