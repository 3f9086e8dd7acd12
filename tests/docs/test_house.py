"""The map of the house and the journeys name what is there."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tests.house.source import SOURCE

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "docs" / "house.md").read_text(encoding="utf-8")
STEPS = re.findall(r"^\d+\. `([\w/.]+)` `(\w+)`", TEXT, re.MULTILINE)
ROOMS = re.findall(r"^\| `(\w+)` \|[^|]*\|([^|]*)\|$", TEXT, re.MULTILINE)


@pytest.mark.parametrize(("file", "name"), STEPS, ids=[f"{file}:{name}" for file, name in STEPS])
def test_a_step_of_a_journey_opens_a_file_that_holds_its_name(file: str, name: str) -> None:
    text = (SOURCE / file).read_text(encoding="utf-8")
    defined = rf"^(async )?def {name}\(|^export (async )?function {name}\(|^{name}\b.* = |^class {name}\b"
    assert re.search(defined, text, re.MULTILINE), f"{file} defines no {name}"


def test_there_are_four_journeys_of_files_in_order_and_none_returns() -> None:
    journeys = TEXT.split("\n### ")[1:]
    assert len(journeys) == 4
    assert len(STEPS) == len(re.findall(r"^\d+\. ", TEXT, re.MULTILINE))
    for journey in journeys:
        opened = re.findall(r"^\d+\. `([\w/.]+)`", journey, re.MULTILINE)
        assert len(opened) == len(set(opened)), journey.partition("\n")[0]


def test_the_map_names_every_room_and_every_room_within() -> None:
    rooms = {path.parent.name for path in SOURCE.glob("*/__init__.py")}
    assert {room for room, _ in ROOMS} == rooms
    for room, inner in ROOMS:
        there = {path.parent.name for path in (SOURCE / room).glob("*/__init__.py") if path.parent.name != "engine"}
        assert set(re.findall(r"`(\w+)`", inner)) == there, room


def test_the_arrow_on_the_map_is_the_contract() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    house = next(one for one in contracts if one["name"].startswith("The house"))
    layers = [set(re.findall(r"\w+", layer)) for layer in house["layers"]]
    for told in (TEXT, (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")):
        arrow = re.search(r"^main -> .*$", told, re.MULTILINE)
        assert arrow is not None
        assert [set(re.findall(r"\w+", part)) for part in arrow[0].split("->")] == layers
