"""What a value may stand for under what was found at the well."""

from __future__ import annotations

import pytest

from tapedown.engine.dry import reduce_depth_reached
from tapedown.engine.scene import Scene
from tapedown.values.conditions import (
    BY_WORD,
    CONDITIONS,
    DEEPER_THAN,
    NOT_NOTED,
    NOTHING,
    is_total_depth,
    level_use,
)
from tapedown.values.written import written
from tests.engine.at_the_well import below_land_ft, construction, names, point, position, reduced

LEVEL = {"readings": ["45.12", "45.12"]}
BOTTOM = {"readings": ["84.30", "84.30"], "weight_interval": "1.20"}


@pytest.mark.parametrize("word", BY_WORD)
def test_a_level_stands_for_what_its_condition_allows(word: str) -> None:
    condition = BY_WORD[word]
    found = reduced("electric tape", LEVEL, Scene(conditions=(word,)))
    assert found.use == condition.level
    lowers = bool(condition.quality) or condition.level in {NOTHING, DEEPER_THAN}
    assert (found.quality != "good") is lowers
    if condition.level == NOTHING:
        assert found.quality == "missing"


@pytest.mark.parametrize("word", BY_WORD)
def test_a_bottom_is_a_total_depth_only_where_the_tape_could_reach_it(word: str) -> None:
    found = reduced("weighted tape", BOTTOM, Scene(conditions=(word,)))
    assert (found.use == "total depth") is BY_WORD[word].bottom
    if not BY_WORD[word].bottom:
        assert found.use == NOTHING
        assert found.quality == "poor"


def test_the_most_limiting_of_several_conditions_decides() -> None:
    assert level_use(["static", "nearby well pumping", "dry"]) == DEEPER_THAN
    assert level_use(["dry", "frozen"]) == NOTHING
    assert level_use([]) == NOT_NOTED
    assert not is_total_depth(["static", "pumping"])
    assert is_total_depth([])


def test_every_condition_comes_with_advice_and_no_word_twice() -> None:
    assert all(condition.advice for condition in CONDITIONS)
    assert len(BY_WORD) == len(CONDITIONS)


def test_good_readings_of_an_undisturbed_well_are_good() -> None:
    scene = Scene(point=point("2.00"), position=position(land_surface="120", vertical_datum="NAVD88"),
                  vertical_datum="NAVD88", conditions=("static",))  # fmt: skip
    found = reduced("electric tape", LEVEL, scene)
    assert (found.quality, found.findings) == ("good", ())


@pytest.mark.parametrize(
    ("conditions", "use"), [(("dry",), DEEPER_THAN), (("obstructed",), NOTHING), ((), DEEPER_THAN)]
)
def test_the_depth_a_tape_reached_without_water_is_a_bound_and_never_a_level(
    conditions: tuple[str, ...], use: str
) -> None:
    scene = Scene(point=point("2.00"), conditions=conditions, depth_reached=written("61.2", "ft"))
    found = reduce_depth_reached(scene)
    assert found is not None
    assert found.use == use
    assert found.quality == "missing"
    assert below_land_ft(found) == pytest.approx(59.2)
    assert reduce_depth_reached(Scene(conditions=("dry",))) is None


@pytest.mark.parametrize(("tape", "flagged"), [("101.40", False), ("101.60", False), ("102.40", True)])
def test_a_bottom_deeper_than_the_well_is_flagged_beyond_a_small_allowance(tape: str, flagged: bool) -> None:
    scene = Scene(point=point("2.50"), construction=construction(completed_depth="100.0"))
    found = reduced("weighted tape", {"readings": [tape, tape], "weight_interval": "1.00"}, scene)
    assert ("deeper-than-well" in names(found.findings)) is flagged
    assert (found.quality == "suspect") is flagged


def test_another_datum_without_an_offset_is_told_and_left_alone() -> None:
    where = position(land_surface="120.00", vertical_datum="NGVD29", u_elevation="0.05")
    scene = Scene(point=point("2.00"), position=where, vertical_datum="NAVD88")
    found = reduced("electric tape", LEVEL, scene)
    elevation = found.result("elevation")
    assert elevation is not None
    assert elevation.value_m / 0.3048 == pytest.approx(120 - 43.12)
    assert found.datum == "NGVD29"
    assert "datum-not-shifted" in names(found.findings)


def test_an_offset_with_its_uncertainty_shifts_the_elevation_and_widens_it() -> None:
    bare = {"land_surface": "120.00", "vertical_datum": "NGVD29", "u_elevation": "0.05"}
    shift = {"to": "NAVD88", "offset": "0.90", "u": "0.12", "source": "county surveyor"}
    here, shifted = (
        reduced("electric tape", LEVEL, Scene(point=point("2.00"), position=position(**where), vertical_datum="NAVD88"))
        for where in (bare, {**bare, "datum_shift": shift})
    )
    before, after = here.result("elevation"), shifted.result("elevation")
    assert before is not None
    assert after is not None
    assert (after.value_m - before.value_m) / 0.3048 == pytest.approx(0.90)
    assert (after.u_m**2 - before.u_m**2) ** 0.5 / 0.3048 == pytest.approx(0.12)
    assert shifted.datum == "NAVD88"
    assert "datum-not-shifted" not in names(shifted.findings)


def test_an_offset_to_some_other_datum_is_not_used() -> None:
    shift = {"to": "local", "offset": "0.90", "u": "0.12", "source": "county surveyor"}
    where = position(land_surface="120.00", vertical_datum="NGVD29", datum_shift=shift)
    found = reduced("electric tape", LEVEL, Scene(point=point("2.00"), position=where, vertical_datum="NAVD88"))
    assert found.datum == "NGVD29"
    assert "datum-not-shifted" in names(found.findings)
