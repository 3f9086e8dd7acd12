"""Every kind of fact and every method: written out and read back it is the same fact."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tapedown.values.forms import Field, Form
from tapedown.values.kinds import KINDS
from tapedown.values.old_words import OLD_WORDS
from tapedown.values.reading_forms import METHODS, readings_body, readings_from_body
from tapedown.values.seen import SEEN
from tapedown.values.units import UNITS

FORMS = {name: form for name, form in KINDS.items() if form.fields}
FORMS |= {f"method: {name}": form for name, form in METHODS.items()}
WORDS = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20).map(str.strip).filter(bool)
UNIT_FIELDS = {"unit": ["kPa", "m", "degC"], "taken_as": ["kPa", "bar"], "really": ["kPa", "bar"]}
TIMES = st.sampled_from(["2026-05-14", "2026-05-14T10:20+01:00", "2026-05-14T09:20:30Z"])


def one(field: Field) -> st.SearchStrategy[Any]:
    """What a person may write into a field."""
    if field.kind == "form":
        return filled(field.form)
    if field.name in UNIT_FIELDS:
        return st.sampled_from(UNIT_FIELDS[field.name])
    if field.name == "as_written":
        return st.sampled_from(sorted(OLD_WORDS))
    plain: dict[str, st.SearchStrategy[Any]] = {
        "text": WORDS,
        "choice": st.sampled_from(field.choices or ("",)),
        "flag": st.sampled_from(["yes", "no", True, False]),
        "when": TIMES,
        "since": st.sampled_from(["lately", "long ago", "not known", "9:40", "40 min", "3 d", "2026-05-14"]),
    }
    if field.kind in plain:
        return plain[field.kind]
    numbers = st.from_regex(r"[0-9]{1,3}(\.[0-9]{1,3})?", fullmatch=True)
    units = st.sampled_from(["", *UNITS[field.kind]])
    return st.builds(lambda number, unit: f"{number} {unit}".strip(), numbers, units)


def filled(form: Form) -> st.SearchStrategy[dict[str, Any]]:
    """A form filled in: what is required, and any of the rest."""
    must = {f.name: st.lists(one(f), min_size=1, max_size=3) if f.many else one(f) for f in form.fields if f.required}
    may = {f.name: st.lists(one(f), max_size=3) if f.many else one(f) for f in form.fields if not f.required}
    return st.fixed_dictionaries(must, optional=may)


FILLED = {name: filled(form) for name, form in FORMS.items()}


@pytest.mark.parametrize("name", FORMS)
@settings(max_examples=25, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow], deadline=None)
@given(st.data())
def test_a_fact_written_out_and_read_back_is_the_same_fact(name: str, data: st.DataObject) -> None:
    form = FORMS[name]
    value, problems = form.read(data.draw(FILLED[name]), data.draw(st.sampled_from(["ft", "m"])))
    assume(value is not None)
    assert not problems
    body = form.body(value)
    for network_unit in ("ft", "m"):
        assert form.read(body, network_unit) == (value, [])
    assert form.body(form.read(body, "ft")[0]) == body


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
def test_what_is_required_is_asked_for_by_name(form: Form) -> None:
    value, problems = form.read({}, "ft")
    missing = {problem.place for problem in problems}
    required = {field.name for field in form.fields if field.required}
    assert missing >= required
    assert (value is None) is bool(problems)
    assert all(problem.message and problem.mend for problem in problems)


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
@settings(max_examples=15)
@given(
    st.dictionaries(
        st.text(max_size=8), st.one_of(st.none(), st.booleans(), st.integers(), st.text(max_size=5)), max_size=4
    )
)
def test_nonsense_is_answered_with_problems_and_never_raises(form: Form, given_nonsense: dict[str, Any]) -> None:
    value, problems = form.read(given_nonsense, "ft")
    assert (value is None) is bool(problems)


@pytest.mark.parametrize("form", FORMS.values(), ids=FORMS)
def test_every_field_explains_itself_and_has_a_unit_where_it_needs_one(form: Form) -> None:
    for field in form.fields:
        assert field.help
        if field.kind in UNITS:
            assert {field.unit("ft"), field.unit("m")} <= set(UNITS[field.kind])


def test_a_misspelled_field_is_met_with_the_right_one() -> None:
    _, problems = KINDS["well"].read({"code": "MF-07", "aquifier": "chalk"}, "ft")
    assert [(p.place, p.mend) for p in problems] == [("aquifier", "did you mean 'aquifer'?")]


def test_a_problem_deep_inside_says_where() -> None:
    given_pairs = {"readings": [{"hold": "14.99", "cut": "1.28"}, {"hold": "15.00", "cut": "wet"}]}
    _, problems = METHODS["chalked tape"].read(given_pairs, "ft")
    assert [problem.place for problem in problems] == ["readings[2].cut"]


def test_a_single_reading_needs_no_brackets() -> None:
    alone, _ = METHODS["electric tape"].read({"readings": "45.12"}, "ft")
    listed, _ = METHODS["electric tape"].read({"readings": ["45.12"]}, "ft")
    assert alone == listed


def test_the_default_unit_is_the_networks_and_written_down() -> None:
    for unit, shown in (("ft", "45.12 ft"), ("m", "45.12 m")):
        value, _ = METHODS["electric tape"].read({"readings": ["45.12"]}, unit)
        assert METHODS["electric tape"].body(value) == {"readings": [shown]}


@pytest.mark.parametrize("method", METHODS)
@settings(max_examples=15, suppress_health_check=[HealthCheck.filter_too_much], deadline=None)
@given(st.data())
def test_a_reading_set_survives_its_body_with_its_visit_and_what_went_on(method: str, data: st.DataObject) -> None:
    body = {
        "method": method,
        "read": data.draw(FILLED[f"method: {method}"]),
        "visit": data.draw(st.sampled_from(["", "0197-visit"])),
        "seen": data.draw(filled(SEEN)),
    }
    found, problems = readings_from_body(body, "ft")
    assume(found is not None)
    assert found is not None
    assert not problems
    assert readings_from_body(readings_body(found), "m") == (found, [])


def test_an_unknown_method_or_fact_is_answered_with_the_known_ones() -> None:
    _, method = readings_from_body({"method": "dowsing rod", "read": {}}, "ft")
    assert "electric tape" in method[0].mend
    body = {"method": "electric tape", "read": {"readings": ["45.12"]}, "seen": {"water": ["sulks"]}}
    _, fact = readings_from_body(body, "ft")
    assert fact[0].place == "seen.water[1]"
    assert "stands still" in fact[0].message


@pytest.mark.parametrize("given_line", [
    {"line_length": "150"},
    {"line_length": "150", "readings": ["25"], "readings_as_water": ["57"]},
    {"readings": ["25"]},
    {"readings": ["25"], "constant_depth": "85.85"},
    {"readings": ["25"], "constant_gauge": "28"},
    {"readings": ["25"], "line_length": "150", "constant_depth": "85.85", "constant_gauge": "28"},
    {"readings": ["25"], "constant_depth": "85.85", "constant_gauge": "28", "constant_gauge_as_water": "64"},
])  # fmt: skip
def test_an_air_line_known_in_no_way_or_in_two_ways_is_sent_back(given_line: dict[str, Any]) -> None:
    value, problems = METHODS["air line"].read(given_line, "ft")
    assert value is None
    assert problems


def test_an_interface_above_its_oil_is_sent_back() -> None:
    given_oil = {"readings": [{"oil": "9.60", "water": "9.28"}], "relative_density": "0.83"}
    value, problems = METHODS["oil on water"].read(given_oil, "ft")
    assert value is None
    assert "swapped" in problems[0].mend


@pytest.mark.parametrize(("network", "unit"), [("ft", "in"), ("m", "mm")])
def test_a_diameter_without_a_unit_is_read_in_the_unit_people_of_the_network_use(network: str, unit: str) -> None:
    given = {"casings": [{"top": "0", "bottom": "70", "inside_diameter": "4"}]}
    built, problems = KINDS["construction"].read(given, network)
    assert problems == []
    assert built is not None
    assert str(built.casings[0].inside_diameter) == f"4 {unit}"
    assert str(built.casings[0].bottom) == f"70 {network}"


def test_a_number_that_cannot_be_is_refused_in_the_unit_it_was_written_in() -> None:
    worn = Field("worn", "length", "length its foot has lost", possible=(0.0, 0.1))
    form = Form("pole", lambda worn: worn, "a pole", (worn,))
    value, problems = form.read({"worn": "9 ft"}, "m")
    assert value is None
    assert [(problem.place, problem.message) for problem in problems] == [
        ("worn", "9 ft cannot be: it lies between 0 and 0.3281 ft")
    ]
    for edge in ("0 m", "0.1 m", "0.3 ft"):
        assert form.read({"worn": edge}, "m")[1] == []


def test_what_nothing_can_be_read_without_and_gear_are_asked_before_reading() -> None:
    assert Field("rod", "length", "", required=True).before
    assert Field("tape", "text", "", gear=("steel tape",)).before
    assert not Field("readings", "length", "", required=True, many=True).before
    assert not Field("remarks", "text", "", asked="seldom").before
