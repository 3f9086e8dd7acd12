"""Which wells are due, in what order they are visited, and when a round is done."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.record import entries
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact, read_visit, strike, write_visit
from tapedown.work.networks import OpenNetwork, change_settings, gear_shelf, network_of
from tapedown.work.refusals import NoSuchWell, NotADate, ReasonMissing, WrittenWrong
from tapedown.work.rounds.loading import load_list
from tapedown.work.rounds.planning import (
    LOOKED_BACK,
    MOST_WELLS,
    NoSuchRound,
    Outline,
    RoundTooLong,
    WellDue,
    day_or_today,
    in_order,
    make_round,
    outlines,
    round_now,
    rounds_now,
    today,
    wells_due,
    withdraw_round,
)
from tapedown.work.rounds.route import length_m, on_plane, short_route
from tapedown.work.wells.files import well_file
from tests.work.conftest import SteppingClock

STATIC = {"method": "electric tape", "tape": "ET-006", "readings": ["12.34", "12.34"]}


def add_well(network: OpenNetwork, author: Author, code: str, at: tuple[str, str] | None = None, **fields: Any) -> None:
    enter_fact(network, "well", code, fields, author)
    if at is not None:
        enter_fact(network, "position", code, {"latitude": at[0], "longitude": at[1]}, author)


def add_visit(network: OpenNetwork, author: Author, code: str, when: str, seen: Any = None, **fields: Any) -> str:
    given = {"well": code, "when": when, "seen": seen or {"quiet": True}, **fields}
    return write_visit(network, read_visit(network, given), author)[0].id


def due(network: OpenNetwork, day: str) -> dict[str, WellDue]:
    return {well.code: well for well in wells_due(outlines(network), day)}


def order(network: OpenNetwork, *codes: str) -> list[str]:
    return in_order(outlines(network), codes)


def test_a_well_is_due_when_its_own_interval_has_passed_since_the_last_visit(
    network: OpenNetwork, author: Author
) -> None:
    add_well(network, author, "MF-01", visit_every="30")
    add_visit(network, author, "MF-01", "2026-05-01 10:00")
    before, on, after = (due(network, f"2026-05-{day}")["MF-01"] for day in ("30", "31", "31"))
    assert (before.due, before.overdue_d, before.due_on) == (False, -1, "2026-05-31")
    assert (on.due, on.overdue_d) == (True, 0)
    assert due(network, "2026-06-10")["MF-01"].overdue_d == 10
    assert after.every_d == 30


def test_a_well_without_an_interval_follows_the_networks_setting(network: OpenNetwork, author: Author) -> None:
    add_visit(network, author, "MF-07", "2026-01-01 10:00")
    assert due(network, "2026-04-02")["MF-07"].overdue_d == 0
    change_settings(network, {"visit_every": "1 yr"}, author, "yearly from now on")
    assert due(network_of(network.record), "2026-04-02")["MF-07"].overdue_d == -274


def test_wells_never_visited_come_first_then_the_longest_overdue(network: OpenNetwork, author: Author) -> None:
    for code in ("MF-01", "MF-02", "MF-03"):
        add_well(network, author, code)
    add_visit(network, author, "MF-01", "2026-02-01 10:00")
    add_visit(network, author, "MF-02", "2025-02-01 10:00")
    add_visit(network, author, "MF-03", "2026-06-01 10:00")
    assert [well.code for well in wells_due(outlines(network), "2026-07-01")] == ["MF-07", "MF-02", "MF-01", "MF-03"]
    assert due(network, "2026-07-01")["MF-07"].overdue_d is None


def test_a_reading_without_a_visit_counts_as_having_been_there(network: OpenNetwork, author: Author) -> None:
    entries_before = due(network, "2026-05-14")["MF-07"]
    add_visit(network, author, "MF-07", "2026-05-14 10:20", readings=[STATIC])
    assert (entries_before.last, due(network, "2026-05-14")["MF-07"].last) == ("", "2026-05-14")


def test_a_well_that_is_gone_is_never_due_again(network: OpenNetwork, author: Author) -> None:
    add_visit(network, author, "MF-07", "2020-05-14 10:20", {"gone": True, "no_reading": "paved over"})
    found = due(network, "2026-05-14")["MF-07"]
    assert (found.due, found.noted) == (False, ("no reading: paved over", "the well is gone"))


def test_a_struck_visit_does_not_count(network: OpenNetwork, author: Author) -> None:
    visit = add_visit(network, author, "MF-07", "2026-05-14 10:20")
    strike(network, visit, "wrong well", author)
    assert due(network, "2026-05-15")["MF-07"].last == ""


def test_an_interval_of_nothing_is_refused(network: OpenNetwork, author: Author) -> None:
    with pytest.raises(WrittenWrong, match="interval"):
        add_well(network, author, "MF-01", visit_every="0 d")


def test_cleaner_wells_come_before_dirtier_ones_however_near_they_lie(network: OpenNetwork, author: Author) -> None:
    add_well(network, author, "MF-01", ("52.00", "0.00"), dirtier="dirty")
    add_well(network, author, "MF-02", ("52.00", "0.01"), dirtier="between")
    add_well(network, author, "MF-03", ("52.90", "0.90"))
    assert order(network, "MF-01", "MF-02", "MF-03") == ["MF-03", "MF-02", "MF-01"]


def test_oil_noted_lately_makes_a_well_dirty_whatever_its_entry_says(network: OpenNetwork, author: Author) -> None:
    add_well(network, author, "MF-01", dirtier="clean")
    add_visit(network, author, "MF-01", "2026-01-01 10:00", {"in_the_hole": ["oil"]})
    assert order(network, "MF-01", "MF-07") == ["MF-07", "MF-01"]
    for month in range(2, 2 + LOOKED_BACK):
        add_visit(network, author, "MF-01", f"2026-0{month}-01 10:00", {"water": ["stands still"]})
    assert order(network, "MF-01", "MF-07") == ["MF-01", "MF-07"]


def test_wells_without_a_position_come_last_in_their_group_by_code(network: OpenNetwork, author: Author) -> None:
    add_well(network, author, "MF-09")
    add_well(network, author, "MF-08")
    add_well(network, author, "MF-10", ("52.00", "0.00"))
    add_well(network, author, "MF-11", dirtier="dirty")
    assert order(network, "MF-11", "MF-09", "MF-10", "MF-08") == ["MF-10", "MF-08", "MF-09", "MF-11"]


def test_the_order_does_not_depend_on_the_order_in_which_wells_are_named(network: OpenNetwork, author: Author) -> None:
    for number, place in enumerate([("52.0", "0.3"), ("52.1", "0.1"), ("52.0", "0.1"), ("52.1", "0.3")], 1):
        add_well(network, author, f"MF-0{number}", place)
    found = {tuple(order(network, *codes)) for codes in itertools.permutations(["MF-01", "MF-02", "MF-03", "MF-04"])}
    assert len(found) == 1


@given(st.lists(st.tuples(st.floats(-60, 60), st.floats(-180, 180)), min_size=1, max_size=12), st.booleans())
def test_the_route_visits_every_well_once_and_is_never_longer_than_the_order_given(
    positions: list[tuple[float, float]], coming_from_somewhere: bool
) -> None:
    at = on_plane({f"MF-{number:02d}": position for number, position in enumerate(positions)})
    names = list(at)
    after = names.pop() if coming_from_somewhere and len(names) > 1 else None
    route = short_route(names, at, after)
    assert sorted(route) == sorted(names)
    assert length_m(route, at, after) <= length_m(names, at, after) + 1e-3


def test_a_square_is_walked_round_and_not_across() -> None:
    at = on_plane({"a": (52.0, 0.0), "b": (52.01, 0.01), "c": (52.0, 0.01), "d": (52.01, 0.0)})
    route = short_route(["a", "b", "c", "d"], at)
    diagonal = math.dist(at["a"], at["b"])
    assert all(math.dist(at[one], at[other]) < diagonal for one, other in itertools.pairwise(route))


def test_wells_either_side_of_the_date_line_are_neighbours() -> None:
    at = on_plane({"west": (10.0, 179.999), "east": (10.0, -179.999)})
    assert math.dist(at["west"], at["east"]) < 300


def test_two_hundred_wells_are_put_in_order_in_a_moment() -> None:
    known = {
        f"MF-{n:03d}": Outline(f"MF-{n:03d}", "", 91, 0, (52 + (n * 37 % 101) / 500, (n * 73 % 97) / 500), (), ())
        for n in range(MOST_WELLS)
    }
    assert sorted(in_order(known, list(known))) == list(known)


def test_more_wells_than_a_round_holds_are_refused(network: OpenNetwork, author: Author) -> None:
    with pytest.raises(RoundTooLong):
        in_order(dict.fromkeys(map(str, range(201)), outlines(network)["MF-07"]), [str(n) for n in range(201)])


def planned(network: OpenNetwork, author: Author, *codes: str, **changes: Any) -> str:
    given = {"name": "North fen", "day": "2026-05-14", "wells": list(codes), "who": ["R. Alder"], **changes}
    return make_round(network, given, author).id


def test_a_round_keeps_its_wells_in_the_order_of_the_visits(network: OpenNetwork, author: Author) -> None:
    add_well(network, author, "MF-01", dirtier="dirty")
    assert round_now(network, planned(network, author, "MF-01", "MF-07")).planned.wells == ("MF-07", "MF-01")
    given = {"name": "as walked", "day": "2026-05-14", "wells": ["MF-01", "MF-07"]}
    kept = make_round(network, given, author, as_given=True)
    assert round_now(network, kept.id).planned.wells == ("MF-01", "MF-07")


@pytest.mark.parametrize(
    ("changes", "place"),
    [({"wells": []}, "wells"), ({"wells": ["MF-07", "MF-07"]}, "wells"), ({"day": "soon"}, "day"),
     ({"name": ""}, "name"), ({"day": "2026-05-14T10:20"}, "day")],
)  # fmt: skip
def test_a_round_that_cannot_be_read_is_refused_with_the_place(
    network: OpenNetwork, author: Author, changes: dict[str, Any], place: str
) -> None:
    given = {"name": "North fen", "day": "2026-05-14", "wells": ["MF-07"], **changes}
    with pytest.raises(WrittenWrong) as caught:
        make_round(network, given, author)
    assert place in {problem.place for problem in caught.value.problems}
    assert rounds_now(network, outlines(network)) == []


def test_a_round_with_a_well_that_is_not_there_is_refused_whole(network: OpenNetwork, author: Author) -> None:
    with pytest.raises(NoSuchWell, match="MF-99"):
        planned(network, author, "MF-07", "MF-99")
    assert not entries(network.record, kinds=["round"])


def test_a_round_closes_when_every_well_was_visited_on_or_after_its_day(network: OpenNetwork, author: Author) -> None:
    add_well(network, author, "MF-01")
    which = planned(network, author, "MF-01", "MF-07")
    add_visit(network, author, "MF-01", "2026-05-13 10:00")
    assert round_now(network, which).visited == {}
    add_visit(network, author, "MF-07", "2026-05-14 09:00")
    assert (round_now(network, which).visited, round_now(network, which).open) == ({"MF-07": "2026-05-14"}, True)
    last = add_visit(network, author, "MF-01", "2026-05-16 10:00")
    assert not round_now(network, which).open
    strike(network, last, "wrong well", author)
    assert round_now(network, which).open


def test_a_round_closes_when_it_is_withdrawn_and_stays_readable(network: OpenNetwork, author: Author) -> None:
    which = planned(network, author, "MF-07")
    with pytest.raises(ReasonMissing):
        withdraw_round(network, which, " ", author)
    withdraw_round(network, "North fen", "storm", author)
    assert rounds_now(network, outlines(network)) == []
    assert (round_now(network, which).open, round_now(network, which).planned.name) == (False, "North fen")
    with pytest.raises(NoSuchRound):
        round_now(network, "South fen")


def test_rounds_come_newest_first(network: OpenNetwork, author: Author) -> None:
    for name, day in (("spring", "2026-05-14"), ("autumn", "2026-11-12"), ("summer", "2026-08-13")):
        planned(network, author, "MF-07", name=name, day=day)
    assert [one.planned.name for one in rounds_now(network, outlines(network))] == ["autumn", "summer", "spring"]


def test_what_to_load_follows_from_how_the_wells_are_read_and_what_is_noted_of_access(
    network: OpenNetwork, author: Author
) -> None:
    enter_fact(network, "gear", "ET-006", {"type": "electric tape"}, author)
    enter_fact(network, "access", "MF-07", {"keys": "key of the sluice gate"}, author)
    add_visit(network, author, "MF-07", "2026-05-14 10:20", readings=[STATIC])
    found = dict(load_list([well_file(network, "MF-07")], gear_shelf(network)))
    assert found["ET-006"] == "electric tape, used at MF-07"
    assert found["key of the sluice gate"] == "MF-07"
    assert found["spare batteries"] == "for MF-07"


def test_today_is_the_day_it_is_at_the_wells(network: OpenNetwork, clock: SteppingClock) -> None:
    clock.moment = clock.moment.replace(year=2026, month=5, day=15, hour=2)
    assert today(network, clock) == "2026-05-14"  # four hours behind


@pytest.mark.parametrize("wrong", ["tomorrow", "2026-02-30", "2026-05-14T10:20", "14.05.2026"])
def test_a_day_that_is_none_is_refused(network: OpenNetwork, wrong: str) -> None:
    assert day_or_today(network, "2026-05-14") == "2026-05-14"
    with pytest.raises(NotADate):
        day_or_today(network, wrong)
