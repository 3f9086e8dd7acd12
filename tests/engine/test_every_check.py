"""Every check of the engine, once where it must speak and once where it must be silent."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import tapedown.engine
from tapedown.engine.checks.at_the_well import said_of
from tapedown.engine.checks.named import CHECKS, WEIGHTS, by_weight, finding, quality_after
from tapedown.engine.checks.wells import check_construction, check_position
from tapedown.engine.context import ReadingContext
from tapedown.engine.explaining.case import case_of
from tapedown.engine.explaining.weigh import explain, unlike_the_well
from tapedown.engine.methods.dry import reduce_depth_reached
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.engine.well.fill import Sounding, well_condition
from tapedown.engine.well.levels import Levelled, check_levels
from tapedown.values.results import QUALITIES, Finding, Part
from tapedown.values.settings import Settings
from tests.engine.at_the_well import (
    FOOT_M,
    STEEL_TAPE,
    calibrated,
    construction,
    fact,
    gear,
    names,
    point,
    position,
    reading_set,
    reduced,
    seen,
)

TWICE = {"readings": ["84.30", "84.30"]}
SOUNDED = {**TWICE, "weight_interval": "1.20"}
DEEP = {"readings": ["350.00", "350.00"]}
FULL_TAPE = gear("ST-014", **STEEL_TAPE)
HALF_TAPE = gear("ST-014", **{k: v for k, v in STEEL_TAPE.items() if k != "standard_pull"})


class Pair(NamedTuple):
    """What must make a check speak, and the nearest thing that must not."""

    check: str
    speaks: Callable[[], Iterable[Finding]]
    silent: Callable[[], Iterable[Finding]]


def by(method: str, given: Mapping[str, Any], unit: str = "ft", **context: Any) -> Callable[[], Iterable[Finding]]:
    return lambda: reduced(method, given, ReadingContext(Settings(unit), **context), unit).findings


def electric(given: Mapping[str, Any] | None = None, **context: Any) -> Callable[[], Iterable[Finding]]:
    return by("electric tape", given or TWICE, **context)


def chalked(hold: str, cut: str, **context: Any) -> Callable[[], Iterable[Finding]]:
    return by("chalked tape", {"readings": [{"hold": hold, "cut": cut}]}, **context)


def sounded(more: Mapping[str, Any] | None = None, **context: Any) -> Callable[[], Iterable[Finding]]:
    return by("weighted tape", {**SOUNDED, **(more or {})}, **context)


def logger(**given: Any) -> Callable[[], Iterable[Finding]]:
    told = {"readings": ["50.00 kPa"], "type": "vented", "hanging_depth": "20.00", **given}
    return by("logger check", {key: value for key, value in told.items() if value is not None}, "m")


def gauge(**given: Any) -> Callable[[], Iterable[Finding]]:
    return by("flowing gauge", {"readings": ["20"], **given}, seen=seen(water=["runs over"]))


def oil(surface: str, interface: str) -> Callable[[], Iterable[Finding]]:
    return by("oil on water", {"readings": [{"oil": surface, "water": interface}], "relative_density": "0.83"})


def built(**given: Any) -> Callable[[], Iterable[Finding]]:
    return lambda: check_construction(construction(**given))


def stands(**given: Any) -> Callable[[], Iterable[Finding]]:
    return lambda: check_position(position(**given))


def bottom_at(depth_ft: float) -> Callable[[], Iterable[Finding]]:
    def look() -> Iterable[Finding]:
        well = construction(completed_depth="82.10", screens=[{"top": "70", "bottom": "80"}])
        sounding = Sounding("2026-05-14", depth_ft * FOOT_M, (Part("", "read", 0.01),))
        found = well_condition([sounding], ReadingContext(construction=well))
        assert found is not None
        return found.findings

    return look


def levelled(*above_mark: str, when: str = "2026-06-01") -> Callable[[], Iterable[Finding]]:
    """Levels of a point in the springs of 2025, 2026..., judged on a day."""
    checks = [
        Levelled(f"{2025 + i}-05-01", fact("level check", {"mark": "RM-1", "point": "MP-1", "above_mark": above}))
        for i, above in enumerate(above_mark)
    ]
    return lambda: check_levels(checks, ReadingContext(when=when))


def said(**given: Any) -> Callable[[], Iterable[Finding]]:
    """What is said of a visit with these facts."""
    return lambda: said_of(seen(**given), "2026-05-14T10:20-04:00", Settings())


def empty(**given: Any) -> Callable[[], Iterable[Finding]]:
    def look() -> Iterable[Finding]:
        found = reduce_depth_reached(ReadingContext(seen=seen(depth_reached="61.2", **given)))
        assert found is not None
        return found.findings

    return look


MARKS = [("50.00", "50.00"), ("100.00", "100.00")]
OFF_MARKS = [("50.00", "50.00"), ("100.00", "100.03")]
BETWEEN = calibrated("ET-021", MARKS, "between marks")
CHECKED = calibrated("ET-021", MARKS, "checked")


def against_its_well(reading: str) -> Callable[[], Iterable[Finding]]:
    """One reading of a well expected to show 21.5 ft below land surface, the point 1.5 ft above it."""
    context = ReadingContext(Settings("ft"), point=point("1.50"))
    expected = Predictive(21.5 * FOOT_M, 0.05 * FOOT_M, 5.0)
    case = case_of("electric tape", reading_set("electric tape", {"readings": [reading]}), context, expected)
    assert case is not None
    return lambda: unlike_the_well(explain(case), case)


ELECTRIC = gear("ET-021", type="electric tape")
WEIGHT = gear("W-3", type="weight", weight_interval="1.20", mass="2 lb")
WELL = construction(completed_depth="100")
LAND = position(land_surface="120", vertical_datum="NGVD29")
SHIFT = {"to": "NAVD88", "offset": "0.9", "u": "0.1", "source": "county surveyor"}
SHIFTED = position(land_surface="120", vertical_datum="NGVD29", datum_shift=SHIFT)
LINE = {"constant_depth": "85.85", "constant_gauge": "28", "readings": ["18", "18"]}

PAIRS = (
    Pair("repeats-disagree", electric({"readings": ["84.30", "84.90"]}), electric()),
    Pair("single-reading", electric({"readings": ["84.30"]}), electric()),
    Pair("chosen-without-reason", electric({**TWICE, "chosen": "1"}),
         electric({**TWICE, "chosen": "1", "why_chosen": "the tape hung free"})),
    Pair("chosen-missing", electric({**TWICE, "chosen": "3", "why_chosen": "best"}),
         electric({**TWICE, "chosen": "2", "why_chosen": "best"})),
    Pair("cut-above-hold", chalked("1.28", "14.99"), chalked("14.99", "1.28")),
    Pair("no-weight-interval", by("weighted tape", TWICE), sounded()),
    Pair("weight-interval-differs", sounded({"weight": "W-3", "weight_interval": "1.30"}, gear=WEIGHT),
         sounded({"weight": "W-3"}, gear=WEIGHT)),
    Pair("longer-than-tape", electric({"readings": ["500.01"], "tape": "ST-014"}, gear=FULL_TAPE),
         electric({"readings": ["500.00"], "tape": "ST-014"}, gear=FULL_TAPE)),
    Pair("tape-not-corrected", electric(DEEP), electric({**DEEP, "tape": "ST-014"}, gear=FULL_TAPE)),
    Pair("tape-terms-incomplete", electric({**DEEP, "tape": "ST-014"}, gear=HALF_TAPE),
         electric({**DEEP, "tape": "ST-014"}, gear=FULL_TAPE)),
    Pair("tape-temperature-unknown", electric({**DEEP, "tape": "ST-014"}, gear=FULL_TAPE),
         electric({**DEEP, "tape": "ST-014", "hanging": {"tape_temp": "52"}}, gear=FULL_TAPE)),
    Pair("calibration-outside-limit",
         electric({**TWICE, "tape": "ET-021"}, gear=ELECTRIC, calibrations=calibrated("ET-021", OFF_MARKS, "checked")),
         electric({**TWICE, "tape": "ET-021"}, gear=ELECTRIC, calibrations=CHECKED)),
    Pair("calibration-overdue",
         electric({**TWICE, "tape": "ET-021"}, when="2028-01-01", calibrations=CHECKED),
         electric({**TWICE, "tape": "ET-021"}, when="2026-12-01", calibrations=CHECKED)),
    Pair("calibration-out-of-range",
         electric({"readings": ["100.01"], "tape": "ET-021"}, calibrations=BETWEEN),
         electric({"readings": ["100.00"], "tape": "ET-021"}, calibrations=BETWEEN)),
    Pair("gear-not-known", electric({**TWICE, "tape": "ST-041"}, gear=FULL_TAPE),
         electric({**TWICE, "tape": "ST-014"}, gear=FULL_TAPE)),
    Pair("no-measuring-point", electric(), electric(point=point("2.00"))),
    Pair("no-land-surface", electric(point=point("2.00")), electric(point=point("2.00"), position=LAND)),
    Pair("datum-not-shifted", electric(point=point("2.00"), position=LAND, vertical_datum="NAVD88"),
         electric(point=point("2.00"), position=SHIFTED, vertical_datum="NAVD88")),
    Pair("deeper-than-well", sounded({"readings": ["101.50", "101.50"]}, point=point("2.00"), construction=WELL),
         sounded({"readings": ["100.80", "100.80"]}, point=point("2.00"), construction=WELL)),
    Pair("above-land-surface", electric({"readings": ["1.50", "1.50"]}, point=point("2.00")),
         electric({"readings": ["1.50", "1.50"]}, point=point("2.00"), seen=seen(water=["runs over"]))),
    Pair("steel-tape-while-pumping", chalked("14.99", "1.28", seen=seen(pump="running")),
         electric(seen=seen(pump="running"))),
    Pair("sounding-while-pumping", sounded(seen=seen(pump="running")),
         sounded(seen=seen(pump="at rest", pump_since="lately"))),
    Pair("no-total-depth", sounded(seen=seen(in_the_hole=["tape hung up"])), sounded(seen=seen(water=["not reached"]))),
    Pair("no-level", electric(seen=seen(in_the_hole=["ice"])), electric(seen=seen(in_the_hole=["water falling in"]))),
    Pair("dry", empty(water=["not reached"]), empty(in_the_hole=["tape hung up"])),
    Pair("not-static", electric(seen=seen(near_by=[{"what": "drawing"}])), electric(seen=seen(quiet=True))),
    Pair("made-doubtful", chalked("14.99", "1.28", seen=seen(in_the_hole=["water falling in"])),
         electric(seen=seen(in_the_hole=["water falling in"]))),
    Pair("facts-contradict", electric(seen=seen(water=["stands still", "rises"])),
         electric(seen=seen(water=["rises"]))),
    Pair("water-moving", electric({"readings": ["45.12", "45.02"], "apart": "5 min"}, seen=seen(water=["rises"])),
         electric({"readings": ["45.12", "45.02", "44.95"], "apart": "5 min"}, seen=seen(water=["rises"]))),
    Pair("depth-reached-missing", said(water=["not reached"]), said(water=["not reached"], depth_reached="61.2")),
    Pair("asks-for", said(pump="running"), said(quiet=True)),
    Pair("gauge-outside-middle", gauge(gauge_range="100"), gauge(gauge_range="60")),
    Pair("standpipe-too-high", by("standpipe", {"readings": ["5.0"]}, point=point("1.1")),
         by("standpipe", {"readings": ["5.0"]}, point=point("0.9"))),
    Pair("shut-in-not-noted", gauge(), gauge(shut_in="2 h")),
    Pair("water-temperature-unknown", by("air line", LINE), by("air line", {**LINE, "water_temp": "54"})),
    Pair("logger-off-tape", logger(taped_depth="14.80"), logger(taped_depth="14.90")),
    Pair("absolute-without-barometer", logger(type="absolute"), logger(type="absolute", barometer="10.0")),
    Pair("no-hanging-depth", logger(hanging_depth=None), logger(hanging_depth=None, taped_depth="14.90")),
    Pair("thick-oil", oil("8.00", "9.10"), oil("8.20", "9.10")),
    Pair("bottom-unsure", sounded({"bottom": "unsure"}), sounded({"bottom": "soft"})),
    Pair("density-out-of-range", by("air line", {**LINE, "water_temp": "110"}),
         by("air line", {**LINE, "water_temp": "100"})),
    Pair("units-mixed", electric({"readings": ["84.30 ft", "25.69 m"]}), electric({"readings": ["84.30 ft", "84.3"]})),
    Pair("screen-upside-down", built(screens=[{"top": "80", "bottom": "70"}]),
         built(screens=[{"top": "70", "bottom": "80"}])),
    Pair("screen-below-well", built(completed_depth="78", screens=[{"top": "70", "bottom": "80"}]),
         built(completed_depth="80", screens=[{"top": "70", "bottom": "80"}])),
    Pair("hole-above-well", built(completed_depth="82.1", hole_depth="80.0"),
         built(completed_depth="82.1", hole_depth="90.0")),
    Pair("elevation-impossible", stands(land_surface="30000"), stands(land_surface="-1400")),
    Pair("depth-impossible", built(completed_depth="20000"), built(completed_depth="9000")),
    Pair("unlike-the-well", against_its_well("24.03"), against_its_well("23.03")),
    Pair("fill-negative", bottom_at(84.0), bottom_at(82.2)),
    Pair("fill-real", bottom_at(80.0), bottom_at(82.0)),
    Pair("screen-buried", bottom_at(78.0), bottom_at(78.1)),
    # DA-03 of the reference cases (constructed): 105.512 to 105.486, the mark stable: 0.026 lower
    Pair("point-moved", levelled("3.112", "3.086"), levelled("3.112", "3.100")),
    Pair("point-check-overdue", levelled("3.112", when="2031-06-01"), levelled("3.112", when="2029-06-01")),
)  # fmt: skip


@pytest.mark.parametrize("pair", [pytest.param(pair, id=pair.check) for pair in PAIRS])
def test_a_check_speaks_when_it_must_and_is_silent_when_it_must_not(pair: Pair) -> None:
    assert pair.check in names(pair.speaks())
    assert pair.check not in names(pair.silent())


def test_every_check_the_engine_names_is_tried_here() -> None:
    folder = Path(str(tapedown.engine.__file__)).parent
    source = "".join(path.read_text() for path in folder.rglob("*.py") if path.name != "named.py")
    named = {word for word in re.findall(r'"([a-z0-9-]+)"', source) if word in CHECKS}
    assert named == {pair.check for pair in PAIRS}


@pytest.mark.parametrize("pair", [pytest.param(pair, id=pair.check) for pair in PAIRS])
def test_every_finding_says_what_was_found_and_what_to_do(pair: Pair) -> None:
    for found in pair.speaks():
        assert found.weight == CHECKS[found.check].weight
        assert found.message
        assert found.hint
        assert is_plain(found.message)
        assert is_plain(found.hint)


def is_plain(sentence: str) -> bool:
    """It begins small, unless with a name, and shouts nowhere: capitals only in names, datums and units."""
    first, *_ = sentence.split()
    shouted = [word for word in re.findall(r"[A-Z]{3,}", sentence) if word not in ("NAVD", "NGVD")]
    return not shouted and (not first[0].isupper() or "-" in first)


def test_every_check_has_a_known_weight_and_quality() -> None:
    assert {check.weight for check in CHECKS.values()} <= set(WEIGHTS)
    assert {check.quality for check in CHECKS.values()} <= set(QUALITIES)


def test_the_weightiest_finding_comes_first_and_the_worst_quality_wins() -> None:
    found = [finding(name, "m", "h") for name in ("not-static", "single-reading", "cut-above-hold", "repeats-disagree")]
    assert [f.check for f in by_weight(found)] == ["cut-above-hold", "single-reading", "repeats-disagree", "not-static"]
    assert quality_after(found) == "poor"
    assert quality_after([]) == "good"


def test_a_check_nobody_knows_is_a_slip_of_the_programmer() -> None:
    with pytest.raises(KeyError):
        finding("looks-odd", "m", "h")
