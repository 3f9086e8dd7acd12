"""A made-up method at every door but the sheet; run by test_a_new_method_at_every_door on a copy that knows it."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tapedown.record import entries
from tapedown.values.ledger.entries import Entry
from tapedown.work.authorship import Author
from tapedown.work.field.packs import pack
from tapedown.work.networks import OpenNetwork, open_network
from tapedown.work.rounds.planning import make_round
from tapedown.work.wells.history import history
from tests.web.conftest import Browser, visible

METHOD = "graduated pole"
READ = {"readings": ["6.31 ft", "6.30 ft"], "pole": "GP-1", "foot_worn": "0.02 ft"}
DEPTH_FT = 6.305 - 0.02
PARTLY = 8


def newest(network: OpenNetwork) -> Entry:
    return entries(network.record, kinds=["readings"], about="well/MF-07")[-1].entry


def holds(network: OpenNetwork, entry: Entry) -> None:
    """The entry is as it was read, and the value is worked out by the method's own rule."""
    assert (entry.data["method"], entry.data["read"]) == (METHOD, READ)
    row = next(row for row in history(network, "MF-07").rows if row.entry.id == entry.id)
    assert row.value is not None
    result = row.value.result("depth below measuring point")
    assert result is not None
    assert result.value_m == pytest.approx(DEPTH_FT * 0.3048)


def test_by_file(fen: OpenNetwork, terminal: Callable[..., int]) -> None:
    visit = {"well": "MF-07", "when": "2026-05-14 10:20", "readings": [{"method": METHOD, **READ}]}
    Path("visit.json").write_text(json.dumps(visit), encoding="utf-8")
    assert terminal("visit", "visit.json") == 0
    holds(fen, newest(fen))


def windy(network: OpenNetwork) -> bool:
    """Whether the latest visit says how hard it blew."""
    visits = [held.entry for held in entries(network.record, kinds=["visit"], about="well/MF-07")]
    return max(visits, key=lambda visit: visit.measured_at).data.get("wind") == "hard, from the west"


def test_a_field_of_a_visit_goes_by_file_form_and_pack_and_is_handed_on(
    fen: OpenNetwork, office: Browser, terminal: Callable[..., int], author: Author
) -> None:
    visit = {"well": "MF-07", "when": "2026-05-14 10:20", "wind": "hard, from the west", "remarks": "looked in"}
    Path("visit.json").write_text(json.dumps(visit), encoding="utf-8")
    assert terminal("visit", "visit.json") == 0
    assert windy(fen)
    assert 'name="wind"' in office.get("/wells/MF-07/visit").text
    office.post(
        "/wells/MF-07/visit", [("when", "2026-05-15 10:20"), ("wind", "none"), ("remarks", "x"), ("do", "enter")]
    )
    assert not windy(fen)
    made = make_round(fen, {"name": "North", "day": "2026-05-16", "wells": ["MF-07"]}, author)
    packed = pack(fen, made.id, lambda: datetime(2026, 5, 16, tzinfo=UTC))
    assert "wind" in [field["name"] for field in packed["forms"]["visit"]]
    office.post("/wells/MF-07/visit", [("when", "2026-05-16 10:20"), ("wind", "hard, from the west"), ("do", "enter"),
                                       ("remarks", "x")])  # fmt: skip
    assert terminal("send", "all.jsonl") == 0
    assert terminal("-n", "received", "receive", "all.jsonl") == 0
    copy = open_network("received")
    assert windy(copy)
    copy.record.close()


def test_a_format_is_offered_by_command_and_page(
    fen: OpenNetwork, office: Browser, terminal: Callable[..., int]
) -> None:
    assert terminal("deliver", "out", "--as", "names") == 0
    assert [path.read_text(encoding="utf-8") for path in Path("out").rglob("names.txt")] == ["MF-07\n"]
    assert "codes of wells, a line each" in office.get("/deliver").text
    assert "names" in [row["name"] for row in office.json("/deliver.json")]


def test_by_questions(fen: OpenNetwork, terminal: Callable[..., int], monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    answers = iter(["2026-05-14 10:20", "as usual", "as described", METHOD, "GP-1", "9 ft", "0.02", "6.31", "6.30", "",
                    "", "hard", "wiped", ""])  # fmt: skip

    def prompt(text: str, **_more: Any) -> str:
        asked.append(text)
        return next(answers)

    monkeypatch.setattr("click.prompt", prompt)
    assert terminal("visit", "MF-07") == 0
    assert [text.partition(":")[0] for text in asked[4:8]] == ["pole", "foot worn", "foot worn", "reading 1"]
    holds(fen, newest(fen))


def test_by_the_form(fen: OpenNetwork, office: Browser, terminal: Callable[..., int]) -> None:
    assert terminal("add", "gear", "GP-1", "type=other", "description=a pole") == 0
    fields = [("when", "2026-05-14 10:20"), ("do", "add set"), ("new_method", METHOD)]
    page = office.post("/wells/MF-07/visit", fields, status=200).text
    assert 'list="serials-other"' in page
    assert '<datalist id="serials-other"><option value="GP-1">' in page
    place = "readings[1]"
    sent = [("when", "2026-05-14 10:20"), (f"{place}.method", METHOD), (f"{place}.pole", "GP-1")]
    sent += [(f"{place}.readings[{n}]", value.split()[0]) for n, value in enumerate(READ["readings"], 1)]
    wrong = visible(
        office.post("/wells/MF-07/visit", [*sent, (f"{place}.foot_worn", "9"), ("do", "enter")], status=422).text
    )
    assert "9 ft cannot be: it lies between 0 and 0.3281 ft" in wrong
    assert "seldom needed: bent" in wrong
    office.post("/wells/MF-07/visit", [*sent, (f"{place}.foot_worn", "0.02"), ("again", "yes"), ("do", "enter")])
    holds(fen, newest(fen))


def test_what_is_handed_on_comes_back(fen: OpenNetwork, terminal: Callable[..., int]) -> None:
    test_by_file(fen, terminal)
    assert terminal("send", "all.jsonl") == 0
    assert terminal("deliver", "whole", "--as", "entries") == 0
    assert terminal("deliver", "tables", "--as", "csv") == 0
    assert terminal("-n", "received", "receive", "all.jsonl") == 0
    assert terminal("-n", "again", "take-in", "whole") == 0
    for folder in ("received", "again"):
        copy = open_network(folder)
        holds(copy, newest(copy))
        copy.record.close()


def test_its_value_is_taken_in_by_others_as_reported_with_the_method_named(
    fen: OpenNetwork, terminal: Callable[..., int]
) -> None:
    """A table of readings of another network: tables carry values, so the method becomes a word of who reports."""
    test_by_file(fen, terminal)
    told = history(fen, "MF-07").rows[-1].value
    assert terminal("deliver", "tables", "--as", "csv") == 0
    facts = ["--name", "Sedge Level", "--unit", "ft", "--datum", "NAVD88", "--zone", "America/New_York"]
    assert terminal("start", "other", *facts) == 0
    assert terminal("-n", "other", "take-in", "tables") == PARTLY  # findings are worked out anew
    other = open_network("other")
    row = next(row for row in history(other, "MF-07").rows if METHOD in str(row.entry.data.get("read", {}).get("how")))
    assert row.value is not None
    assert told is not None
    given, taken = told.result("depth below land surface"), row.value.result("depth below land surface")
    assert given is not None
    assert taken is not None
    assert given.value_m == pytest.approx((DEPTH_FT - 3.40) * 0.3048)
    assert taken.value_m == pytest.approx(given.value_m, abs=0.005 * 0.3048)  # as far as its digits go
    assert "GP-1" in row.entry.data["read"]["how"]
    other.record.close()
