"""Mapping files: what is undecided or misspelt is refused, with its place and its mend."""

from __future__ import annotations

import pytest

from tapedown.exchange.sheets import UnreadableSheet
from tapedown.exchange.tables.mapping import Meaning
from tapedown.exchange.tables.mapping_file import MappingWrong, read_mapping
from tapedown.values.seen import Seen

READINGS = """
makes = "readings"
length_unit = "ft"
[well]
code = "well"
[time]
date = "date"
zone = "Europe/London"
[reading]
value = "depth"
positive = "down"
reference = "below land surface"
"""


def places(text: str) -> dict[str, str]:
    with pytest.raises(MappingWrong) as refused:
        read_mapping(text.encode(), "levels.mapping.toml")
    assert all(problem.mend for problem in refused.value.problems)
    assert refused.value.hint
    return {problem.place: problem.message for problem in refused.value.problems}


def test_a_mapping_says_what_it_makes_and_from_which_columns() -> None:
    mapping = read_mapping(READINGS.encode())
    assert mapping.makes == "readings"
    assert mapping.reading is not None
    assert mapping.reading.value is not None
    assert mapping.reading.value.column == "depth"
    assert len(mapping.sha256) == 64


def test_words_of_a_status_column_become_facts_or_reasons() -> None:
    status = '[status]\ncolumn = "s"\n[status.words]\nP = {seen = {pump = "running"}}\nX = {no_reading = "locked"}\n'
    mapping = read_mapping((READINGS + status).encode())
    assert mapping.status is not None
    assert mapping.status.words == {"P": Meaning(Seen(pump="running")), "X": Meaning(no_reading="locked")}


@pytest.mark.parametrize("makes", ["", "levels", "reading"])
def test_what_is_made_must_be_one_of_the_known_things(makes: str) -> None:
    assert list(places(f'makes = "{makes}"')) == ["makes"]


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (("positive", "# positive"), "reading.positive"),
        (('zone = "Europe/London"', ""), "time.zone"),
        (("Europe/London", "Mars/Olympus"), "time.zone"),
        (("Europe/London", "../../etc/passwd"), "time.zone"),
        (("Europe/London", "+99:00"), "time.zone"),
        (('value = "depth"', 'at_point = "h"\nat_water = "c"\nno_cut = ["none"]'), "reading.no_cut"),
        (('date = "date"', ""), "time.date"),
        (('length_unit = "ft"', ""), "length_unit"),
        (('length_unit = "ft"', 'length_unit = "fathom"'), "length_unit"),
        (('code = "well"', ""), "well.code"),
        (("below land surface", "below ground"), "reading.reference"),
        (("below land surface", "elevation"), "reading.vertical_datum"),
        (('value = "depth"', ""), "reading.value"),
        (('value = "depth"', 'value = "depth"\nu = "accuracy"'), "reading.u"),
        (('value = "depth"', 'value = "depth"\ndepht = "x"'), "reading.depht"),
        (('value = "depth"', 'value = {columm = "depth"}'), "reading.value.columm"),
        (('value = "depth"', 'value = {column = "depth", decimals = "two"}'), "reading.value.decimals"),
        (('value = "depth"', 'value = {column = "depth", unit = "psi"}'), "reading.value.unit"),
        (('value = "depth"', 'value = "depth"\nat_water = "w"'), "reading.value"),
        (('zone = "Europe/London"', 'zone = "written"\nfalse_zone = true'), "time.false_zone"),
        (('zone = "Europe/London"', 'zone = "UTC"\nfalse_zone = "perhaps"'), "time.false_zone"),
        (('zone = "Europe/London"', 'zone = "UTC"\nunknown_times = [["00:00"]]'), "time.unknown_times"),
        (("[reading]", "[construction]\n[reading]"), "construction"),
        (("[reading]", "[file]\nheader_row = 0\n[reading]"), "file.header_row"),
        (("[reading]", '[file]\ndelimiter = ",,"\n[reading]'), "file.delimiter"),
        (("[reading]", '[status]\ncolumn = "s"\nwords = {P = {seen = {pump = "busy"}}}\n[reading]'),
         "status.words.P.seen.pump"),
    ],
)  # fmt: skip
def test_what_is_missing_unknown_or_undecided_is_named_by_its_place(change: tuple[str, str], place: str) -> None:
    assert place in places(READINGS.replace(*change))


def test_a_point_height_without_its_sign_is_refused() -> None:
    found = places(READINGS + '[point]\nheight = "mp"\n')
    assert "opposite ways" in found["point.positive"]
    for sign in ("above land surface", "below land surface"):
        assert read_mapping((READINGS + f'[point]\nheight = "mp"\npositive = "{sign}"\n').encode()).point


def test_an_elevation_without_its_vertical_datum_is_refused() -> None:
    assert "position.vertical_datum" in places(READINGS + '[position]\nland_surface = "ground"\n')


def test_screens_need_top_and_bottom() -> None:
    assert "screen" in places('makes = "screens"\nlength_unit = "m"\nwell.code = "w"\nscreen.top = "t"\n')


@pytest.mark.parametrize(
    "data", [b"makes = ", b"\xff\xfe", b"makes = [" + b"[" * 100_000, b"a = 1\na = 2", b"[reading\n", b"\0"]
)
def test_what_is_no_mapping_is_refused(data: bytes) -> None:
    with pytest.raises(UnreadableSheet) as refused:
        read_mapping(data, "levels.mapping.toml")
    assert refused.value.hint


def test_a_mapping_of_an_earlier_version_is_told_what_to_write_now() -> None:
    status = '[status]\ncolumn = "s"\nwords = {P = {conditions = ["pumping"]}}\n'
    with pytest.raises(MappingWrong) as caught:
        read_mapping((READINGS + status).encode())
    (problem,) = caught.value.problems
    assert (problem.place, problem.mend) == ("status.words.P.conditions", 'write seen = { pump = "running" }')
