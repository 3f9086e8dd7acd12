"""The same facts told at every door become the same facts in the record, and the same contradiction is told there."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tapedown.record import entries
from tapedown.values.kinds import KINDS
from tapedown.values.seen import Seen
from tapedown.work.networks import OpenNetwork
from tapedown.work.wells.history import history
from tests.web.conftest import Browser, values_of, visible

FACTS: dict[str, Any] = {
    "water": ["rises"],
    "pump": "at rest",
    "pump_since": "09:40",
    "near_by": [{"what": "drawing", "which": "mill", "distance": "120 ft"}],
    "in_the_hole": ["oil"],
    "oil_thickness": "0.30 ft",
}
CLASH = "facts-contradict"
"""Nothing going on, and a pump that runs."""


def by_file(_office: Browser, terminal: Callable[..., int], facts: dict[str, Any], _patch: pytest.MonkeyPatch) -> None:
    Path("visit.json").write_text(json.dumps({"well": "MF-07", "when": "2026-05-14 10:20", "seen": facts}))
    assert terminal("visit", "visit.json") == 0


def by_questions(
    _office: Browser, terminal: Callable[..., int], facts: dict[str, Any], patch: pytest.MonkeyPatch
) -> None:
    """Answers in the order of asking: when, what goes on, its facts, the point, no method, cleaning, remarks."""
    near = facts.get("near_by", [])
    answers = ["2026-05-14 10:20", "water, pump, near by, hole", ", ".join(facts.get("water", [])),
               facts.get("pump", ""), *([facts.get("pump_since", "")] if facts.get("pump") else []),
               *(word for one in near for word in (one["what"], "", one["which"], one["distance"], "")), "",
               ", ".join(facts.get("in_the_hole", [])), *([facts["oil_thickness"]] if "oil_thickness" in facts else []),
               "", "", "", ""]  # fmt: skip
    given = iter(answers)
    patch.setattr("click.prompt", lambda *_a, **_k: next(given))
    assert terminal("visit", "MF-07") == 0


def by_form(office: Browser, _terminal: Callable[..., int], facts: dict[str, Any], _patch: pytest.MonkeyPatch) -> None:
    fields = [("when", "2026-05-14 10:20"), ("do", "enter")]
    for name, value in facts.items():
        if name == "near_by":
            fields += [
                (f"seen.near_by[{n}].{key}", text) for n, one in enumerate(value, 1) for key, text in one.items()
            ]
        else:
            fields += [(f"seen.{name}", str(one)) for one in (value if isinstance(value, list) else [value])]
    office.post("/wells/MF-07/visit", fields)


def by_import(
    _office: Browser, terminal: Callable[..., int], facts: dict[str, Any], _patch: pytest.MonkeyPatch
) -> None:
    said = json.dumps(facts).replace('": ', '" = ')
    Path("levels.csv").write_text("well,date,depth,found\nMF-07,2026-05-14 10:20,,P\n")
    Path("map.toml").write_text(
        'makes = "readings"\nlength_unit = "ft"\n[well]\ncode = "well"\n[time]\ndate = "date"\n'
        'formats = ["%Y-%m-%d %H:%M"]\nzone = "America/New_York"\n[reading]\nvalue = "depth"\npositive = "down"\n'
        'reference = "below land surface"\nwhat = "water level"\n[status]\ncolumn = "found"\n'
        f"[status.words]\nP = {{ seen = {said} }}\n"
    )
    assert terminal("import", "levels.csv", "map.toml") == 0


DOORS = [by_file, by_questions, by_form, by_import]


def newest(fen: OpenNetwork) -> Seen:
    entry = entries(fen.record, kinds=["visit"], about="well/MF-07")[-1].entry
    value, problems = KINDS["visit"].read(entry.data, "ft")
    assert value is not None, problems
    found: Seen = value.seen
    return found


@pytest.mark.parametrize("door", DOORS, ids=lambda door: door.__name__)
def test_facts_told_at_a_door_stand_in_the_record_as_they_were_told(
    door: Callable[..., None],
    fen: OpenNetwork,
    office: Browser,
    terminal: Callable[..., int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    door(office, terminal, FACTS, monkeypatch)
    told, _ = KINDS["visit"].read({"seen": FACTS}, "ft")
    assert told is not None
    assert newest(fen) == told.seen


@pytest.mark.parametrize("door", [by_file, by_questions], ids=lambda door: door.__name__)
def test_what_cannot_hold_at_once_is_told_at_the_terminal(
    door: Callable[..., None], office: Browser, terminal: Callable[..., int], monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    door(office, terminal, {"water": ["rises", "falls"]}, monkeypatch)
    assert "water is said to rise and to fall" in capsys.readouterr().out


def test_what_cannot_hold_at_once_is_told_in_the_office_before_ink(office: Browser) -> None:
    fields = [("when", "2026-05-14 10:20"), ("seen.quiet", "yes"), ("seen.pump", "running"), ("do", "work out")]
    page = visible(office.post("/wells/MF-07/visit", fields, status=200).text)
    assert "as usual with nothing going on, and something is said to go on" in page
    assert "do not sound" in page


def test_a_visit_that_says_nothing_is_told_so(office: Browser) -> None:
    page = visible(office.post("/wells/MF-07/visit", [("when", "2026-05-14"), ("do", "work out")], status=200).text)
    assert "says neither what goes on, nor a reading, nor why there is none" in page
    quiet = [("when", "2026-05-14"), ("seen.quiet", "yes"), ("do", "work out")]
    assert "says neither" not in visible(office.post("/wells/MF-07/visit", quiet, status=200).text)


def test_one_fact_is_corrected_at_the_terminal_and_the_readings_of_the_visit_follow(
    fen: OpenNetwork, terminal: Callable[..., int]
) -> None:
    visit = entries(fen.record, kinds=["visit"], about="well/MF-07")[-1].entry
    assert terminal("correct", "MF-07", visit.id[-8:], "seen.quiet=no", "seen.pump=running", "--reason", "it ran") == 0
    assert newest(fen) == Seen(pump="running")
    told = [row for row in history(fen, "MF-07").rows if row.struck_by is None]
    assert [(row.what, row.value.use if row.value else "") for row in told[-1:]] == [("electric tape", "pumping level")]


def test_the_office_corrects_a_fact_and_leaves_the_others(fen: OpenNetwork, office: Browser) -> None:
    visit = entries(fen.record, kinds=["visit"], about="well/MF-07")[-1].entry
    page = office.get(f"/entries/{visit.id}").text
    assert 'name="seen.pump"' in page
    fields = [("seen.water", "rises"), ("seen.water", "runs over"), ("seen.pump", "none"), ("reason", "looked again")]
    office.post(f"/entries/{visit.id}/correct", fields)
    assert newest(fen) == Seen(water=("rises", "runs over"), pump="none")


def test_wells_are_found_by_what_goes_on_and_their_values_say_it(fen: OpenNetwork, office: Browser) -> None:
    row = values_of(office)[-1]
    assert (row["noted"], row["seen"], row["hours_since_pump"]) == (
        ["as usual, nothing going on"],
        {"quiet": True},
        None,
    )
    assert office.json("/index.json?noted=nothing going on")["wells"]
    assert not office.json("/index.json?noted=pump running")["wells"]
    assert history(fen, "MF-07").rows[-1].stands_for == "static level"
