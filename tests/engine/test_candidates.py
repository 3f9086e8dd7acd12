"""What each explanation proposes for a set: in which words, what was meant, at what chance; densities against scipy."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import pytest
from scipy import stats

from tapedown.engine.context import ReadingContext
from tapedown.engine.explaining.case import Around, Candidate, Case, OtherWell, case_of
from tapedown.engine.explaining.known import EXPLANATIONS
from tapedown.engine.methods.registry import reduce_readings
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.results import BELOW_LAND
from tapedown.values.settings import Settings
from tests.engine.at_the_well import FOOT_M, calibrated, construction, gear, point, position, reading_set, seen

FT = FOOT_M
PROPOSE = {row.name: row.propose for row in EXPLANATIONS}
WEIGHTS = {
    **gear("W-03", type="weight", weight_interval="1.20 ft"),
    **gear("W-05", type="weight", weight_interval="1.36 ft"),
}


def near(middle_ft: float, scale_ft: float = 0.05) -> Predictive:
    return Predictive(middle_ft * FT, scale_ft * FT, 5.0)


def made(
    method: str,
    given: dict[str, Any],
    expected: Predictive | None = None,
    around: Around | None = None,
    unit: str = "ft",
    **context: Any,
) -> Case:
    """A set read from a point 1.50 ft above land surface unless the context says other."""
    known = {"settings": Settings(unit), "point": point("1.50 ft"), **context}
    read = reading_set(method, given, unit)
    found = case_of(method, read, ReadingContext(**known), expected or near(22.55), around or Around())
    assert found is not None
    return found


def electric(*readings: str, expected: Predictive | None = None, around: Around | None = None, **context: Any) -> Case:
    return made("electric tape", {"readings": list(readings)}, expected, around, **context)


def chalked(*pairs: tuple[str, str]) -> Case:
    return made("chalked tape", {"readings": [{"hold": h, "cut": c} for h, c in pairs]})


def sounded(*readings: str, **given: Any) -> Case:
    return made("weighted tape", {"readings": list(readings), **given}, near(82.1), gear=WEIGHTS)


class Proposed(NamedTuple):
    """What is proposed: words, depth below land surface of every repeat without the fault, ft, and its share."""

    words: str
    depths_ft: tuple[float, ...]
    ways: float


def proposed(name: str, case: Case) -> list[Proposed]:
    return [Proposed(c.told(), tuple(d / FT for d in c.corrected_m), c.ways) for c in PROPOSE[name](case)]


def are(found: Sequence[Proposed], told: Sequence[Proposed]) -> None:
    assert [one.words for one in found] == [one.words for one in told]
    for one, other in zip(found, told, strict=True):
        assert one.depths_ft == pytest.approx(other.depths_ft, abs=1e-7)
        assert one.ways == pytest.approx(other.ways)


def mended_depth_ft(case: Case, candidate: Candidate) -> float:
    """What the set comes to once it is mended as proposed."""
    assert candidate.mend is not None
    mended = candidate.mend()
    main = reduce_readings(case.method, mended.read, mended.context).result(BELOW_LAND)
    assert main is not None
    return float(main.value_m) / FT


def test_a_whole_mark_is_one_five_or_ten_feet_either_way() -> None:
    are(proposed("whole mark misread", electric("24.04")), [
        Proposed("reading 24.04 ft: 1 ft too little: 25.04 ft was meant", (23.54,), 6),
        Proposed("reading 24.04 ft: 1 ft too much: 23.04 ft was meant", (21.54,), 6),
        Proposed("reading 24.04 ft: 5 ft too little: 29.04 ft was meant", (27.54,), 6),
        Proposed("reading 24.04 ft: 5 ft too much: 19.04 ft was meant", (17.54,), 6),
        Proposed("reading 24.04 ft: 10 ft too little: 34.04 ft was meant", (32.54,), 6),
        Proposed("reading 24.04 ft: 10 ft too much: 14.04 ft was meant", (12.54,), 6),
    ])  # fmt: skip


def test_no_mark_is_misread_below_the_end_of_the_tape() -> None:
    words = [one.words for one in proposed("whole mark misread", electric("5.00"))]
    assert [w for w in words if "too much" in w] == [
        "reading 5.00 ft: 1 ft too much: 4.00 ft was meant", "reading 5.00 ft: 5 ft too much: 0.00 ft was meant",
    ]  # fmt: skip


def test_a_slip_is_in_one_repeat_or_with_a_small_chance_alike_in_all() -> None:
    """Twelve slips of one repeat share nine tenths, six that both repeats share have one tenth: ours, a setting."""
    found = proposed("whole mark misread", electric("24.04", "24.06"))
    assert [one.ways for one in found] == pytest.approx([12 / 0.9] * 12 + [6 / 0.1] * 6)
    assert sum(1 / one.ways for one in found) == pytest.approx(1.0)
    are([found[0], found[6], found[13]], [
        Proposed("repeat 1, reading 24.04 ft: 1 ft too little: 25.04 ft was meant", (23.54, 22.56), 12 / 0.9),
        Proposed("repeat 2, reading 24.06 ft: 1 ft too little: 25.06 ft was meant", (22.54, 23.56), 12 / 0.9),
        Proposed("every repeat, as reading 24.04 ft: 1 ft too much: 23.04 ft was meant", (21.54, 21.56), 6 / 0.1),
    ])  # fmt: skip
    three = proposed("whole mark misread", electric("24.04", "24.06", "24.05"))
    assert [one.ways for one in three] == pytest.approx([18 / 0.99] * 18 + [6 / 0.01] * 6)


def test_a_metre_tape_slips_by_tenths_and_not_finer_than_it_is_numbered() -> None:
    def marks(graduation: str) -> set[float]:
        tape = gear("MT-01", graduation=graduation)
        given = {"readings": ["27.31"], "tape": "MT-01"}
        found = proposed("whole mark misread", made("electric tape", given, gear=tape))
        return {round(abs(one.depths_ft[0] - 25.81) * FT, 6) for one in found}

    assert marks("0.001 m") == marks("0.1 m") == {0.1, 0.5, 1.0, 10.0}
    assert marks("1 m") == {1.0, 10.0}
    assert marks("1 ft") == {round(mark * FT, 6) for mark in (1, 5, 10)}
    in_metres = made("electric tape", {"readings": ["27.31"]}, unit="m")
    assert sorted({round(abs(d.depths_ft[0] * FT - in_metres.depth_m), 6) for d in
                   proposed("whole mark misread", in_metres)}) == [0.1, 0.5, 1.0, 10.0]  # fmt: skip


def test_a_gauge_slips_by_its_own_marks() -> None:
    given = {"readings": ["18.0"], "line_length": "150.0 ft", "water_temp": "12 degC"}
    case = made("air line", given, near(0.0))
    per_psi = (case.depth_m - made("air line", {**given, "readings": ["19.0"]}, near(0.0)).depth_m) / FT
    found = proposed("whole mark misread", case)
    assert [(one.depths_ft[0] - case.depth_m / FT) / per_psi for one in found] == pytest.approx([-1, 1, -5, 5, -10, 10])


def test_two_neighbouring_digits_are_swapped_across_the_point_too_and_equal_ones_are_not() -> None:
    are(proposed("digits swapped", electric("24.04")), [
        Proposed("reading 24.04 ft: two digits swapped: 42.04 ft was meant", (40.54,), 3),
        Proposed("reading 24.04 ft: two digits swapped: 20.44 ft was meant", (18.94,), 3),
        Proposed("reading 24.04 ft: two digits swapped: 24.40 ft was meant", (22.90,), 3),
    ])  # fmt: skip
    assert proposed("digits swapped", electric("22.22")) == []
    both = proposed("digits swapped", electric("24.04", "24.05"))
    assert [one.depths_ft for one in both if one.words.startswith("every")] == [
        pytest.approx(depths) for depths in ((40.54, 40.55), (18.94, 18.95), (22.90, 23.00))
    ]


def test_one_digit_is_taken_for_another_that_looks_like_it() -> None:
    are(proposed("digit misread", electric("71.38")), [
        Proposed("reading 71.38 ft: a 7 for a 1: 11.38 ft was meant", (9.88,), 4),
        Proposed("reading 71.38 ft: a 1 for a 7: 77.38 ft was meant", (75.88,), 4),
        Proposed("reading 71.38 ft: a 3 for a 8: 71.88 ft was meant", (70.38,), 4),
        Proposed("reading 71.38 ft: a 8 for a 3: 71.33 ft was meant", (69.83,), 4),
    ])  # fmt: skip
    assert [one.depths_ft[0] for one in proposed("digit misread", electric("26.90"))] == pytest.approx([28.40, 25.10])
    assert proposed("digit misread", electric("24.05")) == []


@pytest.mark.parametrize(
    ("reading", "meant"),
    [
        ("24.04", ("2.404", "240.4")),
        ("2.404", ("24.04",)),
        ("0.05", ("0.5",)),
        ("24", ("2.4",)),
        ("124.5", ("12.45", "1245")),
    ],
)
def test_the_decimal_point_moves_by_one_place(reading: str, meant: tuple[str, ...]) -> None:
    found = proposed("decimal point moved", electric(reading))
    assert [one.words.split(": ")[-1] for one in found] == [f"{text} ft was meant" for text in meant]
    assert [one.depths_ft[0] for one in found] == pytest.approx([float(text) - 1.5 for text in meant])
    assert all(one.ways == len(meant) for one in found)
    where = {True: "too far right", False: "too far left"}
    assert all(where[float(text) < float(reading)] in one.words for one, text in zip(found, meant, strict=True))


def test_a_repeat_far_from_the_others_is_misread_by_any_amount_up_to_a_limit() -> None:
    case = electric("24.54", "24.04", "24.06")
    found = list(PROPOSE["one repeat misread"](case))
    are(proposed("one repeat misread", case), [
        Proposed("repeat 1 is 0.49 ft too deep", (22.55, 22.54, 22.56), 3),
        Proposed("repeat 2 is 0.26 ft too shallow", (23.04, 22.80, 22.56), 3),
        Proposed("repeat 3 is 0.23 ft too shallow", (23.04, 22.54, 22.79), 3),
    ])  # fmt: skip
    spread_m = 0.02 * FT / (1.96 * math.sqrt(2))
    freely = -math.log(20 * FT) - stats.t.logpdf(0.0, 2, 0.0, spread_m)
    for one in found:
        middle_m = sum(one.corrected_m) / 3
        assert one.log_density == pytest.approx(stats.t.logpdf(middle_m, 5, 22.55 * FT, 0.05 * FT) + freely)
    assert proposed("one repeat misread", electric("24.54")) == []
    assert proposed("one repeat misread", electric("24.54", "24.54")) == []
    limit = [one.words for one in proposed("one repeat misread", electric("34.05", "24.04"))]
    assert limit == []
    assert len(proposed("one repeat misread", electric("34.03", "24.04"))) == 2


def test_figures_of_the_other_unit_are_the_whole_set() -> None:
    case = electric("7.33", "7.35")
    are(proposed("feet for metres", case), [
        Proposed("the figures are metres: 7.33 m", (7.33 / FT - 1.5, 7.35 / FT - 1.5), 1)
    ])  # fmt: skip
    (candidate,) = PROPOSE["feet for metres"](case)
    assert mended_depth_ft(case, candidate) == pytest.approx(7.34 / FT - 1.5)
    metres = made("electric tape", {"readings": ["24.04"]}, unit="m")
    are(proposed("feet for metres", metres), [Proposed("the figures are feet: 24.04 ft", (22.54,), 1)])
    gauge = made("flowing gauge", {"readings": ["6.5"]}, near(-17.0), seen=seen(water=["runs over"]))
    assert proposed("feet for metres", gauge) == []


def test_hold_and_cut_are_swapped_in_one_pair_or_in_all() -> None:
    are(proposed("hold and cut swapped", chalked(("1.96", "26.00"))), [
        Proposed("hold 26.00 ft, cut 1.96 ft was meant", (22.54,), 1)
    ])  # fmt: skip
    both = chalked(("1.96", "26.00"), ("2.97", "27.00"))
    are(proposed("hold and cut swapped", both), [
        Proposed("hold 26.00 ft, cut 1.96 ft was meant", (22.54, 22.53), 3),
        Proposed("repeat 1: hold 26.00 ft, cut 1.96 ft was meant", (22.54, -25.53), 3),
        Proposed("repeat 2: hold 27.00 ft, cut 2.97 ft was meant", (-25.54, 22.53), 3),
    ])  # fmt: skip
    whole, first, second = PROPOSE["hold and cut swapped"](both)
    assert mended_depth_ft(both, whole) == pytest.approx(22.535)
    assert mended_depth_ft(both, first) == pytest.approx((22.54 - 25.53) / 2)
    assert mended_depth_ft(both, second) == pytest.approx((22.53 - 25.54) / 2)
    assert proposed("hold and cut swapped", electric("24.04")) == []


def test_the_hold_of_another_repeat_is_whole_marks_off_or_two_are_exchanged() -> None:
    same = chalked(("26.00", "1.96"), ("26.00", "4.96"))
    found = proposed("hold of another repeat", same)
    assert {one.ways for one in found} == {20}
    assert [round(one.depths_ft[0] - 22.54, 6) for one in found[:10]] == [1, -1, 2, -2, 3, -3, 4, -4, 5, -5]
    assert [round(one.depths_ft[1] - 19.54, 6) for one in found[10:]] == [1, -1, 2, -2, 3, -3, 4, -4, 5, -5]
    assert found[14].words == "repeat 2, hold 26.00 ft stands in another repeat too: 29.00 ft was held"
    exchanged = chalked(("26.00", "2.96"), ("27.00", "2.96"))
    are(proposed("hold of another repeat", exchanged), [
        Proposed("the holds of repeats 1 and 2 were exchanged", (22.54, 21.54), 10)
    ])  # fmt: skip
    three = chalked(("26.00", "2.96"), ("27.00", "2.96"), ("28.00", "2.96"))
    assert [one.words for one in proposed("hold of another repeat", three)] == [
        f"the holds of repeats {a} and {b} were exchanged" for a, b in ((1, 2), (1, 3), (2, 3))
    ]
    assert {one.ways for one in proposed("hold of another repeat", three)} == {30}
    assert proposed("hold of another repeat", chalked(("26.00", "1.96"))) == []
    short = proposed("hold of another repeat", chalked(("2.00", "1.96"), ("2.00", "1.97")))
    assert [round(one.depths_ft[0] + 1.46, 6) for one in short[:7]] == [1, -1, 2, -2, 3, 4, 5]
    (candidate,) = PROPOSE["hold of another repeat"](exchanged)
    assert mended_depth_ft(exchanged, candidate) == pytest.approx((22.54 + 21.54) / 2)


def test_a_weight_interval_is_missing_counted_twice_or_that_of_another_weight() -> None:
    none = sounded("82.40")
    are(proposed("weight interval left out", none), [
        Proposed("the interval of weight W-03, 1.20 ft, is missing", (82.10,), 2),
        Proposed("the interval of weight W-05, 1.36 ft, is missing", (82.26,), 2),
    ])  # fmt: skip
    first, _ = PROPOSE["weight interval left out"](none)
    assert mended_depth_ft(none, first) == pytest.approx(82.10)
    zero = sounded("82.40", weight="W-05", weight_interval="0")
    are(proposed("weight interval left out", zero), [
        Proposed("the interval of weight W-05, 1.36 ft, is missing", (82.26,), 1)
    ])  # fmt: skip
    twice = sounded("82.40", weight="W-03")
    are(proposed("weight interval counted twice", twice), [
        Proposed("the readings have the interval of 1.20 ft in them already", (80.90,), 1)
    ])  # fmt: skip
    (candidate,) = PROPOSE["weight interval counted twice"](twice)
    assert mended_depth_ft(twice, candidate) == pytest.approx(80.90)
    are(proposed("interval of another weight", twice), [
        Proposed("1.20 ft was added; weight W-05 has 1.36 ft", (82.26,), 1)
    ])  # fmt: skip
    third = sounded("82.40", weight_interval="1.30")
    are(proposed("interval of another weight", third), [
        Proposed("1.30 ft was added; weight W-03 has 1.20 ft", (82.10,), 2),
        Proposed("1.30 ft was added; weight W-05 has 1.36 ft", (82.26,), 2),
    ])  # fmt: skip
    for name, silent in (
        ("weight interval left out", twice), ("weight interval counted twice", none),
        ("interval of another weight", none), ("weight interval left out", electric("24.04")),
        ("weight interval counted twice", electric("24.04")), ("interval of another weight", electric("24.04")),
    ):  # fmt: skip
        assert proposed(name, silent) == []


def reported(reference: str, value: str = "22.54", **context: Any) -> Case:
    given = {"readings": [value], "reference": reference, "what": "water level"}
    return made("reported", given, **context)


@pytest.mark.parametrize(
    ("side", "by_ft", "words"),
    [("above", 3.0, "the point lies 1.50 ft below land surface, not above it"),
     ("below", -3.0, "the point lies 1.50 ft above land surface, not below it")],
)  # fmt: skip
def test_the_sign_of_a_point_moves_a_reading_by_twice_its_height(side: str, by_ft: float, words: str) -> None:
    case = electric("24.04", point=point("1.50", side))
    are(proposed("sign of the measuring point", case), [Proposed(words, (case.depth_m / FT + by_ft,), 1)])
    (candidate,) = PROPOSE["sign of the measuring point"](case)
    assert mended_depth_ft(case, candidate) == pytest.approx(case.depth_m / FT + by_ft)


@pytest.mark.parametrize(
    ("side", "by_ft", "words"),
    [("above", -3.0, "the height of 1.50 ft was added by whoever worked it out, not taken off"),
     ("below", 3.0, "the height of 1.50 ft was taken off by whoever worked it out, not added")],
)  # fmt: skip
def test_the_sign_is_turned_the_other_way_in_a_value_that_others_worked_out(
    side: str, by_ft: float, words: str
) -> None:
    case = reported("below land surface", point=point("1.50", side))
    are(proposed("sign of the measuring point", case), [Proposed(words, (22.54 + by_ft,), 1)])


def test_a_point_at_land_surface_or_an_elevation_handed_on_has_no_sign_to_turn() -> None:
    for case in (electric("24.04", point=point("0", "level")), reported("below land surface", point=None)):
        for name in ("sign of the measuring point", "height of the measuring point left out"):
            assert proposed(name, case) == []


def test_a_point_that_is_turned_over_is_written_without_a_sign() -> None:
    case = electric("24.04", point=point("-1.50", "below"))
    (candidate,) = PROPOSE["sign of the measuring point"](case)
    assert candidate.mend is not None
    turned = candidate.mend().context.point
    assert turned is not None
    assert (turned.side, str(turned.height)) == ("above", "1.50 ft")
    assert mended_depth_ft(case, candidate) == pytest.approx(22.54)


def test_the_point_has_no_say_in_an_elevation_handed_on_nor_where_there_is_none() -> None:
    heights = Around(points=(point("2.12 ft"),))
    land = position(land_surface="120.5", vertical_datum="NAVD88")
    for case in (reported("elevation", "98.00", around=heights, position=land),
                 reported("below land surface", around=heights, point=None)):  # fmt: skip
        for name in PROPOSE:
            if "measuring point" in name:
                assert proposed(name, case) == [], name


def test_another_height_on_record_may_have_been_meant() -> None:
    heights = Around(points=(point("2.12 ft"), point("1.50 ft"), point("0.40 ft", "below")))
    case = electric("24.04", around=heights)
    are(proposed("older height of the measuring point", case), [
        Proposed("1.50 ft was used; MP-1 was at 2.12 ft", (21.92,), 2),
        Proposed("1.50 ft was used; MP-1 was at -0.4 ft", (24.44,), 2),
    ])  # fmt: skip
    first, _ = PROPOSE["older height of the measuring point"](case)
    assert mended_depth_ft(case, first) == pytest.approx(21.92)
    handed_on = reported("below land surface", around=heights)
    are(proposed("older height of the measuring point", handed_on), [
        Proposed("MP-1 at 2.12 ft was used", (23.16,), 2), Proposed("MP-1 at -0.4 ft was used", (20.64,), 2),
    ])  # fmt: skip
    assert all(one.mend is None for one in PROPOSE["older height of the measuring point"](handed_on))


def test_a_height_left_out_by_others_still_counts_from_the_point() -> None:
    are(proposed("height of the measuring point left out", reported("below land surface")), [
        Proposed("the figure counts from the measuring point, 1.50 ft above land surface", (21.04,), 1)
    ])  # fmt: skip
    for case in (electric("24.04"), reported("below measuring point", "24.04")):
        assert proposed("height of the measuring point left out", case) == []


def share_between(expected: Predictive, low_m: float, high_m: float) -> float:
    known = stats.t(expected.dof, expected.middle_m, expected.scale_m)
    return float(known.cdf(high_m) - known.cdf(low_m))


@pytest.mark.parametrize(
    ("reading", "height_ft", "words"),
    # within 4 ft of the 1.50 ft it had: -2.5 to 5.5 ft
    [("23.04", 2.51, "it would now stand at 2.51 ft, not 1.50 ft"),
     ("20.04", 5.5, "it would now stand at 5.50 ft, not 1.50 ft"),
     ("34.04", -2.5, "it would now stand at -2.50 ft, not 1.50 ft")],
)  # fmt: skip
def test_a_point_may_have_changed_to_any_height_a_stick_up_has(reading: str, height_ft: float, words: str) -> None:
    expected = near(20.53, 0.5) if reading == "23.04" else near(14.0, 0.5) if reading == "20.04" else near(36.8, 0.5)
    case = electric(reading, expected=expected)
    depth_ft = float(reading) - 1.5
    are(proposed("measuring point changed unnoticed", case), [Proposed(words, (float(reading) - height_ft,), 1)])
    (candidate,) = PROPOSE["measuring point changed unnoticed"](case)
    share = share_between(expected, (depth_ft - 4.0) * FT, (depth_ft + 4.0) * FT)
    assert candidate.log_density == pytest.approx(math.log(share) - math.log(8 * FT), abs=1e-6)
    assert mended_depth_ft(case, candidate) == pytest.approx(float(reading) - height_ft, abs=1e-3)


@pytest.mark.parametrize(
    ("height", "side", "low_ft", "high_ft"), [("4.00", "above", 0.0, 6.0), ("5.00", "below", -6.0, -1.0)]
)
def test_a_changed_point_stays_within_what_stick_ups_and_vaults_are(
    height: str, side: str, low_ft: float, high_ft: float
) -> None:
    expected = near(24.04 - (low_ft + high_ft) / 2, 2.0)
    case = electric("24.04", expected=expected, point=point(height, side))
    (candidate,) = PROPOSE["measuring point changed unnoticed"](case)
    share = share_between(expected, (24.04 - high_ft) * FT, (24.04 - low_ft) * FT)
    assert candidate.log_density == pytest.approx(math.log(share) - math.log((high_ft - low_ft) * FT), abs=1e-9)
    assert proposed("measuring point changed unnoticed", reported("below land surface")) == []


def test_another_well_is_the_likelier_the_nearer_and_is_read_from_its_own_point() -> None:
    others = (OtherWell("MF-11", near(18.0), 2.5 * FT, 3.0), OtherWell("MF-12", near(11.0), -0.5 * FT, 1.0))
    case = electric("20.50", "20.52", around=Around(others=others))
    are(proposed("wrong well", case), [
        Proposed("at MF-11 it would be 18.01 ft, 18.00 ft expected there", (), 4 / 3),
        Proposed("at MF-12 it would be 21.01 ft, 11.00 ft expected there", (), 4.0),
    ])  # fmt: skip
    first, second = PROPOSE["wrong well"](case)
    assert first.log_density == pytest.approx(stats.t.logpdf(18.01, 5, 18.0, 0.05) - math.log(FT))
    assert second.log_density == pytest.approx(stats.t.logpdf(21.01, 5, 11.0, 0.05) - math.log(FT))
    sounding = made("weighted tape", {"readings": ["20.50"]}, around=Around(others=others))
    assert proposed("wrong well", sounding) == []


TAPES = {
    **calibrated("ET-006", [("200", "200.00")], "between marks"),
    **calibrated("ET-009", [("200", "200.90")], "between marks"),
    **calibrated("ET-010", [("200", "200.005")], "between marks"),
}


def test_the_calibration_of_another_tape_moves_a_reading_by_the_difference_of_the_two() -> None:
    given = {"readings": ["100.00", "100.00"], "tape": "ET-006"}
    case = made("electric tape", given, near(98.9), calibrations=TAPES)
    are(proposed("another tape's calibration", case), [
        Proposed("ET-009 was lowered: its calibration differs by 0.45 ft at this depth", (98.95, 98.95), 1)
    ])  # fmt: skip
    (candidate,) = PROPOSE["another tape's calibration"](case)
    assert mended_depth_ft(case, candidate) == pytest.approx(98.95)
    unnamed = made("electric tape", {"readings": ["100.00"]}, near(98.9), calibrations=TAPES)
    assert {one.ways for one in proposed("another tape's calibration", unnamed)} == {1}
    assert proposed("another tape's calibration", reported("below measuring point")) == []


def test_what_was_left_out_of_a_long_tape_widens_what_is_expected() -> None:
    """The best guess of the amount left out is the share of the variance that it makes."""
    case = electric("801.68", expected=near(800.0, 0.02))
    (candidate,) = PROPOSE["tape not corrected"](case)
    u_m = math.hypot(1.16e-5 * 17, 2e-5) / math.sqrt(3) * 801.68 * FT
    wide_m = math.hypot(u_m, 0.02 * FT)
    depth_m = 800.18 * FT
    assert candidate.log_density == pytest.approx(stats.t.logpdf(depth_m, 5, 800 * FT, wide_m), abs=1e-5)
    off_m = (800 * FT - depth_m) * (u_m / wide_m) ** 2
    assert candidate.corrected_m == pytest.approx((depth_m + off_m,), abs=1e-6)
    assert candidate.told() == "what was left out is of the size of 0.092 ft"
    assert proposed("tape not corrected", electric("200.00", expected=near(198.0))) == []
    assert len(proposed("tape not corrected", electric("200.01", expected=near(198.0)))) == 1
    assert proposed("tape not corrected", reported("below measuring point", "801.68")) == []


def test_a_tape_stopped_short_hung_slack_or_stood_on_the_bottom() -> None:
    expected, bottom = near(22.55, 0.5), near(24.0, 0.3)
    case = electric("22.05", expected=expected, around=Around(bottom=bottom))
    short, slack, dry = PROPOSE["tape hung up or resting on something"](case)
    depth_m = 20.55 * FT
    assert short.told() == "wetted or closed above the water, 2.00 ft too high"
    assert short.corrected_m == pytest.approx((22.55 * FT,))
    share = share_between(expected, depth_m, depth_m + 22.55 * FT)
    assert short.log_density == pytest.approx(math.log(share) - math.log(22.55 * FT), abs=1e-9)
    assert slack.told() == "0 ft of slack tape"
    assert slack.corrected_m == pytest.approx((depth_m,))
    below = stats.t.cdf(depth_m, 5, 22.55 * FT, 0.5 * FT)
    assert slack.log_density == pytest.approx(math.log(below) - math.log(FT), abs=1e-6)
    assert (dry.told(), dry.corrected_m) == (
        "the tape stood on the bottom, expected at 24.00 ft: the well may be dry",
        (),
    )
    assert dry.log_density == pytest.approx(stats.t.logpdf(depth_m, 5, 24.0 * FT, 0.3 * FT))
    assert [one.ways for one in (short, slack, dry)] == [2, 2, 2]


def test_slack_is_the_less_likely_the_more_of_it_and_a_chalked_tape_cannot_stop_short() -> None:
    case = electric("26.05", expected=near(22.55, 0.5))
    short, slack = PROPOSE["tape hung up or resting on something"](case)
    assert short.told() == "wetted or closed above the water, 0 ft too high"
    assert short.corrected_m == pytest.approx((24.55 * FT,))
    assert slack.told() == "2.00 ft of slack tape"
    assert slack.corrected_m == pytest.approx((22.55 * FT,))
    below = stats.t.cdf(24.55, 5, 22.55, 0.5)
    assert slack.log_density == pytest.approx(math.log(below) - 2.0 - math.log(FT))
    assert [one.words for one in proposed("tape hung up or resting on something", chalked(("26.00", "1.96")))] == [
        "0 ft of slack tape"
    ]
    resting = proposed("tape hung up or resting on something", sounded("60.00", weight="W-03"))
    assert resting[0].words == "resting on an obstruction, 22.40 ft too high"
    under = made("weighted tape", {"readings": ["60.00"]}, near(82.1), Around(bottom=near(82.1)))
    assert len(proposed("tape hung up or resting on something", under)) == 2
    overflowing = electric("1.40", expected=near(-0.5))
    assert len(proposed("tape hung up or resting on something", overflowing)) == 1


@pytest.mark.parametrize(
    ("told", "times"),
    [({"pump": "at rest", "pump_since": "lately"}, 5.0), ({"near_by": [{"what": "drawing"}]}, 5.0), ({}, 1.0),
     ({"quiet": True}, 0.2)],
)  # fmt: skip
def test_water_still_recovering_is_the_likelier_the_more_was_noted_of_it(told: dict[str, Any], times: float) -> None:
    case = electric("26.05", expected=near(22.55, 0.5), seen=seen(**told))
    (candidate,) = PROPOSE["water still recovering"](case)
    assert candidate.ways == pytest.approx(1 / times)
    assert candidate.told() == "2.00 ft of drawdown left"
    assert candidate.corrected_m == pytest.approx((22.55 * FT,))
    below = stats.t.cdf(24.55, 5, 22.55, 0.5)
    assert candidate.log_density == pytest.approx(math.log(below) - 2.0 / 5.0 - math.log(5 * FT))
    assert candidate.spread_times == 1.0


def test_repeats_that_rise_speak_for_recovery_and_those_that_stand_still_against_it() -> None:
    rising, still = electric("26.05", "25.95", "25.90"), electric("26.05", "25.95", "25.95")
    (up,), (level,) = (PROPOSE["water still recovering"](case) for case in (rising, still))
    assert (up.ways, up.spread_times) == (1.0, 10.0)
    assert up.told().endswith("of drawdown left, 0.15 ft risen over the repeats")
    assert (level.ways, level.spread_times) == pytest.approx((1 / 0.3, 1.0))
    (shallow,) = PROPOSE["water still recovering"](electric("20.05"))
    assert shallow.told() == "0 ft of drawdown left"
    assert shallow.corrected_m == pytest.approx((18.55 * FT,))
    assert proposed("water still recovering", sounded("82.40", weight="W-03")) == []


def test_a_logger_is_off_by_any_amount_or_by_what_the_tape_beside_it_says() -> None:
    given = {"readings": ["10.0 psi"], "type": "vented", "hanging_depth": "48.20", "water_temp": "12 degC"}
    case = made("logger check", given, near(22.55, 0.5))
    (candidate,) = PROPOSE["logger offset"](case)
    share = share_between(near(22.55, 0.5), case.depth_m - 5 * FT, case.depth_m + 5 * FT)
    assert candidate.log_density == pytest.approx(math.log(share) - math.log(10 * FT), abs=1e-9)
    assert candidate.corrected_m == pytest.approx((22.55 * FT,))
    assert candidate.told() == f"the logger is off by {(22.55 * FT - case.depth_m) / FT:.2f} ft"
    assert candidate.tells_of_tape
    taped = made("logger check", {**given, "taped_depth": "24.05"}, near(22.55, 0.5))
    (beside,) = PROPOSE["logger offset"](taped)
    off_ft = 24.05 - (taped.depth_m / FT + 1.5)
    assert beside.told() == f"the tape beside it reads 24.05 ft: the logger is off by {off_ft:.2f} ft"
    assert beside.corrected_m == pytest.approx((22.55 * FT,))
    assert beside.log_density == pytest.approx(stats.t.logpdf(22.55, 5, 22.55, 0.5) - math.log(FT) - math.log(10 * FT))
    by_tape = {k: v for k, v in given.items() if k != "hanging_depth"} | {"taped_depth": "24.05"}
    assert proposed("logger offset", made("logger check", by_tape)) == []
    assert proposed("logger offset", electric("24.04")) == []


HOLES = {"upright": None, "leaning": construction(lean="15 deg")}
SETS: dict[str, dict[str, Any]] = {
    "electric tape": {"readings": ["71.38"]},
    "chalked tape": {"readings": [{"hold": "96.00", "cut": "13.70"}]},
    "weighted tape": {"readings": ["71.38"], "weight_interval": "1.20"},
    "reported": {"readings": ["71.38"], "reference": "below measuring point", "what": "water level"},
    "air line": {"readings": ["18.37"], "line_length": "150.0 ft", "water_temp": "12 degC"},
}


@pytest.mark.parametrize("hole", HOLES)
@pytest.mark.parametrize("method", SETS)
def test_what_is_proposed_is_what_the_mended_set_comes_to_in_a_leaning_hole_too(method: str, hole: str) -> None:
    around = Around(points=(point("2.12 ft"),))
    case = made(method, SETS[method], near(60.0), around, construction=HOLES[hole], gear=WEIGHTS)
    tried = set()
    for name, propose in PROPOSE.items():
        for candidate in propose(case):
            wanted = candidate.corrected_m[0] / FT if candidate.corrected_m else -1.0
            if candidate.mend is not None and wanted > 0:
                assert mended_depth_ft(case, candidate) == pytest.approx(wanted, abs=2e-4), name
                tried.add(name)
    assert {"whole mark misread", "decimal point moved", "sign of the measuring point"} <= tried


def test_hold_and_cut_in_a_leaning_hole_are_swapped_by_less_than_twice_their_difference() -> None:
    given = {"readings": [{"hold": "26.00", "cut": "1.96"}, {"hold": "26.00", "cut": "1.98"}]}
    case = made("chalked tape", given, construction=HOLES["leaning"])
    cosine = math.cos(math.radians(15))
    whole, first, _ = PROPOSE["hold and cut swapped"](case)
    by_ft = [(a - b) / FT for a, b in zip(whole.corrected_m, case.depths_m, strict=True)]
    assert by_ft == pytest.approx([-2 * 24.04 * cosine, -2 * 24.02 * cosine], abs=1e-6)
    assert first.corrected_m == pytest.approx((whole.corrected_m[0], case.depths_m[1]))
    again = list(PROPOSE["hold of another repeat"](case))
    assert (again[0].corrected_m[0] - case.depths_m[0]) / FT == pytest.approx(cosine, abs=1e-6)
