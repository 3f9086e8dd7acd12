"""Six years of rounds at Marrow Fen, entered through the use cases of the tool in the order they were written."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

from tapedown.values.ledger.entries import Entry
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import correct, enter_fact, read_visit, write_visit
from tapedown.work.marrow_fen import desk
from tapedown.work.marrow_fen.goings_on import CALLS, QUIET, SEEN
from tapedown.work.marrow_fen.model import START, FenTruth, years_since
from tapedown.work.marrow_fen.places import ALDER, CALIBRATIONS, GEAR, NETWORK, PLACES, SEDGE, TEASEL
from tapedown.work.networks import OpenNetwork, start_network
from tapedown.work.wells.files import well_file

SEED = 1709
LAST = date(2025, 10, 31)
CLEANING = "tape and weight wiped with 0.005 % hypochlorite, rinsed with tap water, dried"
DAYS_BETWEEN = 90
"""Shorter than from one round to the next: a call between them is told once."""
CUT_DOWN = date(2023, 8, 21)
"""The casing of MF-04 was cut down by 0.62 ft that day; it was written down seven months later."""
CUT_FT, FOUND_OUT = 0.62, datetime(2024, 3, 26, 15, 0, tzinfo=UTC)
TYPED_WRONG, MENDED = date(2024, 9, 4), datetime(2024, 9, 18, 14, 30, tzinfo=UTC)
"""At MF-01 a reading was typed wrong that day, and mended two weeks later."""


class StoryClock:
    """The story's clock: set to a day, every entry a moment after the one before."""

    def __init__(self) -> None:
        self.moment = datetime(2020, 1, 6, 14, 0, tzinfo=UTC)

    def at(self, moment: datetime) -> None:
        """Move on to a moment, never back."""
        self.moment = max(self.moment, moment)

    def __call__(self) -> datetime:
        self.moment += timedelta(milliseconds=250)
        return self.moment


class FenStory(NamedTuple):
    """The network being written, its truth, its clock."""

    network: OpenNetwork
    fen: FenTruth
    clock: StoryClock

    def author(self, by: str) -> Author:
        """Whoever writes."""
        return Author(by, "marrow-fen desk", self.clock)


def build(folder: str | Path) -> OpenNetwork:
    """Build the Marrow Fen network in a folder that holds no network yet."""
    clock = StoryClock()
    network = start_network(folder, NETWORK, Author(TEASEL, "marrow-fen desk", clock))
    story = FenStory(network, FenTruth(SEED, {place.code: place.truth for place in PLACES}), clock)
    _enter_places(story)
    office = desk.FenDesk(network, clock, clock.at)
    others = story._replace(fen=story.fen.read_by_others(SEED + 1))
    found_out = mended = signed = False
    for day, number in _rounds():
        if not signed and day > desk.SIGNED_ON.date():
            desk.sign(office)
            signed = True
        if not mended and day > MENDED.date():
            mended = _mend_typing(story)
        if not found_out and day > FOUND_OUT.date():
            found_out = _write_cut_down(story)
        _call_between(story, day)
        _calibrate(story, day, number)
        planned = desk.plan(office, day)
        _round(story, day, number)
        desk.repeat(office, planned, day, (SEDGE, ALDER)[number % 2], _read_again(others, number))
    desk.compare(office)
    _hang_logger(story)
    return network


def _read_again(others: FenStory, number: int) -> Callable[[str, date], dict[str, Any]]:
    """What the other crew finds at a well some days after a round."""
    return lambda code, day: VISITS[code](others, day, number)


def _hang_logger(story: FenStory) -> None:
    """The day after the last round the logger's files are taken in."""
    from tapedown.work.marrow_fen.logger import hang_logger  # columns: half a second no other command needs to pay

    story.clock.at(datetime(2025, 9, 5, 13, 0, tzinfo=UTC))
    hang_logger(story.network, story.fen, story.author(SEDGE))


def _calibrate(story: FenStory, day: date, number: int) -> None:
    """Every February the steel tape is checked; certificates and fits are entered in the year they were made."""
    if number % 4 != 1:
        return
    story.clock.at(datetime(day.year, day.month, day.day, 13, 0, tzinfo=UTC) - timedelta(days=5))
    for serial, month_day, given, years in CALIBRATIONS:
        if day.year in years:
            enter_fact(
                story.network, "calibration", serial, given, story.author(TEASEL), measured_at=f"{day.year}-{month_day}"
            )


def _enter_places(story: FenStory) -> None:
    author, network = story.author(TEASEL), story.network
    for serial, given in GEAR:
        enter_fact(network, "gear", serial, given, author)
    for place in PLACES:
        well = {"name": place.name, "place": place.place, "aquifer": "fen gravels and chalk below"}
        enter_fact(network, "well", place.code, well, author)
        since = "2019-06-01"
        enter_fact(network, "measuring point", place.code, place.point, author, measured_at=since)
        position = {"latitude": place.latitude, "longitude": place.longitude, "horizontal_datum": "WGS 84",
                    "position_method": "hand-held GNSS receiver",
                    "land_surface": place.land_surface, "vertical_datum": "NAVD88", "elevation_method": "levelled",
                    "u_elevation": "0.02 ft", "source": "levelled from bench mark Fen 3"}  # fmt: skip
        enter_fact(network, "position", place.code, position, author, measured_at=since)
        enter_fact(network, "construction", place.code, place.construction, author, measured_at=since)
        note = {"permission": f"owner of {place.name}, in writing, yearly", "hazards": place.access}
        enter_fact(network, "access", place.code, note, author)


def _rounds() -> Iterator[tuple[date, int]]:
    """A round every quarter: a day in February, May, August and November."""
    number = 0
    for year in range(START.year, LAST.year + 1):
        for month, day in ((2, 11), (5, 13), (9, 4), (11, 12)):
            if (when := date(year, month, day)) <= LAST:
                number += 1
                yield when, number


def _call_between(story: FenStory, day: date) -> None:
    """Stops since the round before that gave no reading."""
    for call in (one for one in CALLS if 0 <= (day - one.day).days < DAYS_BETWEEN):
        at = datetime(call.day.year, call.day.month, call.day.day, 9, 10)
        given = {"well": call.code, "when": at.isoformat(timespec="minutes"), "people": [SEDGE],
                 "seen": dict(call.seen), "remarks": call.remarks}  # fmt: skip
        story.clock.at(at.replace(tzinfo=UTC) + timedelta(hours=5, minutes=20))
        write_visit(story.network, read_visit(story.network, given), story.author(SEDGE))


def _round(story: FenStory, day: date, number: int) -> None:
    by = (ALDER, SEDGE)[number % 2]
    for order, place in enumerate(PLACES):
        at = datetime(day.year, day.month, day.day, 8, 30) + timedelta(minutes=38 * order)
        visit = VISITS[place.code](story, day, number)
        visit["seen"] = SEEN.get((place.code, number), visit["seen"])
        given = {
            "well": place.code,
            "when": at.isoformat(timespec="minutes"),
            "people": [by],
            "cleaning": CLEANING,
            **visit,
        }
        story.clock.at(at.replace(tzinfo=UTC) + timedelta(hours=5, minutes=20))
        write_visit(story.network, read_visit(story.network, given), story.author(by))


# What is done at each well. Every function gives the fields of the visit.


def _height(code: str) -> float:
    point = next(place.point for place in PLACES if place.code == code)
    return float(point["height"].split()[0]) * (-1 if point["side"] == "below" else 1)


def _chalk(
    story: FenStory, code: str, day: date, *, repeats: int = 2, height_ft: float | None = None
) -> dict[str, Any]:
    """Chalked-tape pairs with another hold each time."""
    below_point = story.fen.level_ft(code, day) + (_height(code) if height_ft is None else height_ft)
    pairs = []
    for repeat in range(repeats):
        hold = float(math.ceil(below_point + 1.0) + repeat)
        pairs.append({"hold": f"{hold:.2f}", "cut": story.fen.read(hold - below_point)})
    return {"method": "chalked tape", "tape": "ST-014", "weight": "W-03", "readings": pairs}


def _sounding(story: FenStory, code: str, day: date, weight: str = "W-03", interval_ft: float = 1.20) -> dict[str, Any]:
    tape = story.fen.bottom_ft(code, day) + _height(code) - interval_ft
    return {"method": "weighted tape", "tape": "ST-014", "weight": weight, "weight_interval": f"{interval_ft:.2f}",
            "bottom": "firm", "readings": [story.fen.read(tape, error_ft=0.01) for _ in range(2)]}  # fmt: skip


def _electric(story: FenStory, code: str, day: date, repeats: int = 2) -> dict[str, Any]:
    """The electric tape shows about 0.06 % too much."""
    shown = (story.fen.level_ft(code, day) + _height(code)) * 1.00061
    return {"method": "electric tape", "tape": "ET-006", "readings": [story.fen.read(shown) for _ in range(repeats)]}


def _sluice_house(story: FenStory, day: date, number: int) -> dict[str, Any]:
    sets = [_chalk(story, "MF-01", day)]
    if number % 4 == 3:
        sets.append(_sounding(story, "MF-01", day))
    if day == TYPED_WRONG:
        sets[0]["readings"] = [{"hold": _ten_more(p["hold"], 10), "cut": p["cut"]} for p in sets[0]["readings"]]
    return {"seen": QUIET, "readings": sets}


def _ten_more(hold: str, feet: int) -> str:
    """A hold typed in the wrong ten feet, or put right again."""
    return f"{float(hold) + feet:.2f}"


def _mend_typing(story: FenStory) -> bool:
    story.clock.at(MENDED)
    wrong = _reading_of(story, "MF-01", TYPED_WRONG, "chalked tape")
    pairs = [{**pair, "hold": _ten_more(pair["hold"].split()[0], -10)} for pair in wrong.data["read"]["readings"]]
    reason = "holds typed ten feet too long; the field sheet has them right"
    correct(story.network, wrong.id, {"readings": pairs}, reason, story.author(TEASEL))
    return True


def _reading_of(story: FenStory, code: str, day: date, method: str) -> Entry:
    facts = well_file(story.network, code).of_kind("readings")
    return next(f.entry for f in facts if f.entry.measured_at.startswith(day.isoformat()) and f.value.method == method)


def _alder_carr(story: FenStory, day: date, number: int) -> dict[str, Any]:
    sets = [_chalk(story, "MF-02", day)]
    if number % 4 == 2:
        sets.append(_sounding(story, "MF-02", day))
    return {"seen": QUIET, "readings": sets}


def _peat_cutters(story: FenStory, day: date, number: int) -> dict[str, Any]:
    """Deep and leaning: electric tape each time, the long steel tape every other autumn."""
    sets = [_electric(story, "MF-03", day)]
    if number % 8 == 3:
        path = story.fen.bottom_ft("MF-03", day) + _height("MF-03") - 1.36
        water_at = story.fen.level_ft("MF-03", day) + _height("MF-03")
        sets.append({
            "method": "weighted tape", "tape": "ST-020", "weight": "W-05", "weight_interval": "1.36", "bottom": "firm",
            "readings": [story.fen.read(path + 0.05, error_ft=0.02) for _ in range(2)],
            "hanging": {"surface_temp": "57 degF", "temp_gradient": "0.011 degF/ft", "water_at": f"{water_at:.1f} ft"},
        })  # fmt: skip
    return {"seen": QUIET, "readings": sets}


def _heron_drove(story: FenStory, day: date, number: int) -> dict[str, Any]:
    """The casing was cut down; the crew did not see it for two rounds."""
    height = _height("MF-04") - (CUT_FT if day >= CUT_DOWN else 0.0)
    checked = "" if number % 4 else "mark clear"
    return {"seen": QUIET, "point_checked": checked,
            "readings": [_chalk(story, "MF-04", day, height_ft=height)]}  # fmt: skip


def _write_cut_down(story: FenStory) -> bool:
    story.clock.at(FOUND_OUT)
    place = next(place for place in PLACES if place.code == "MF-04")
    point = {**place.point, "name": "MP-2", "height": f"{_height('MF-04') - CUT_FT:.2f} ft",
             "description": "notch in the new cut, road side",
             "why": "casing cut down by the road gang on 21 August 2023; their day book says so"}  # fmt: skip
    day = CUT_DOWN.isoformat()
    enter_fact(story.network, "measuring point", "MF-04", point, story.author(TEASEL), measured_at=day)
    return True


def _long_dyke(story: FenStory, day: date, _number: int) -> dict[str, Any]:
    """A vented logger hung at 60.00 ft drifts by 0.04 ft a year."""
    below_point = story.fen.level_ft("MF-05", day) + _height("MF-05")
    chalk = _chalk(story, "MF-05", day)
    taped = sum(float(p["hold"]) - float(p["cut"]) for p in chalk["readings"]) / 2
    drift = 0.04 * (years_since(day) % 2)
    psi = (60.0 - below_point + drift) / 2.3084
    check = {"method": "logger check", "type": "vented", "logger": "LG-031", "readings": [f"{psi:.4f} psi"] * 2,
             "water_temp": "54 degF", "hanging_depth": "60.00 ft", "taped_depth": f"{taped:.2f} ft",
             "record_range": "2.4 ft"}  # fmt: skip
    return {"seen": QUIET, "readings": [chalk, check]}


def _spring_farm(story: FenStory, day: date, _number: int) -> dict[str, Any]:
    """Flows: a standpipe while the head above the point is low, else the gauge."""
    head = -story.fen.level_ft("MF-06", day) - _height("MF-06")
    shut_in = {"shut_in": "2 h"}
    if head < 3.0:
        levels = [f"{head + story.fen.between(-0.05, 0.05):.1f}" for _ in range(2)]
        return {"seen": {"water": ["runs over"]}, "readings": [{"method": "standpipe", "readings": levels, **shut_in}]}
    psi = head / 2.3084
    gauge = {"method": "flowing gauge", "gauge": "PG-011", "gauge_error": "0.1 psi", "gauge_range": "15 psi",
             "water_temp": "54 degF", "readings": [_noisy(story, psi, 0.02, 2) for _ in range(2)]}  # fmt: skip
    return {"seen": {"water": ["runs over"]}, "readings": [{**gauge, **shut_in}]}


def _noisy(story: FenStory, value: float, half: float, decimals: int) -> str:
    return f"{value + story.fen.between(-half, half):.{decimals}f}"


def _dry_lode(story: FenStory, day: date, _number: int) -> dict[str, Any]:
    level, bottom = story.fen.level_ft("MF-07", day), story.fen.bottom_ft("MF-07", day)
    if level > bottom - 0.1:
        return {
            "seen": {"water": ["not reached"], "depth_reached": f"{bottom + _height('MF-07'):.2f}"},
            "remarks": "damp mud on the weight",
        }
    return {"seen": QUIET, "readings": [_chalk(story, "MF-07", day)]}


def _depot_yard(story: FenStory, day: date, _number: int) -> dict[str, Any]:
    oil_ft = 0.42 - 0.03 * years_since(day)
    water = story.fen.level_ft("MF-08", day) + _height("MF-08") + oil_ft * 0.83
    pairs = [{"oil": story.fen.read(water - oil_ft), "water": story.fen.read(water)} for _ in range(2)]
    oil = {"method": "oil on water", "relative_density": "0.83", "tape": "ST-014", "readings": pairs}
    return {
        "seen": {"water": ["stands still"], "in_the_hole": ["oil"], "oil_thickness": f"{oil_ft:.2f}"},
        "readings": [oil],
        "remarks": "done last; own tape bag",
    }


def _mill_pumping(story: FenStory, day: date, number: int) -> dict[str, Any]:
    """Air line to 150 ft below the point; in summer the pump runs."""
    running = day.month == 9
    below_point = story.fen.level_ft("MF-09", day) + _height("MF-09") + (31.0 if running else 0.0)
    psi = (150.0 - below_point) / 2.3084
    line = {"method": "air line", "line_length": "150.0 ft", "gauge_error": "0.5 psi", "water_temp": "54 degF",
            "readings": [_noisy(story, psi, 0.15, 1) for _ in range(2)]}  # fmt: skip
    if SEEN.get(("MF-09", number), {}).get("water") == ["rises"]:
        first = float(line["readings"][0])
        line |= {"readings": [f"{first + 0.4 * step:.1f}" for step in range(3)], "apart": "5 min"}
    rests = {"water": ["stands still"], "pump": "at rest", "pump_since": "long ago"}
    return {"seen": {"pump": "running", "pump_since": "05:00"} if running else rests, "readings": [line]}


def _church_shallow(story: FenStory, day: date, number: int) -> dict[str, Any]:
    """Once the first pair would not agree and no third reading was taken."""
    chalk = _chalk(story, "MF-10", day)
    if number == 18:
        first = chalk["readings"][0]
        chalk["readings"][0] = {**first, "cut": f"{float(first['cut']) - 0.5:.2f}"}
    return {"seen": QUIET, "readings": [chalk]}


def _church_deep(story: FenStory, day: date, number: int) -> dict[str, Any]:
    """Once the west pipe was read for the east one."""
    chalk = _chalk(story, "MF-11", day)
    if number == 14:
        wrong = story.fen.level_ft("MF-10", day) + _height("MF-10") - _height("MF-11")
        shift = wrong - story.fen.level_ft("MF-11", day)
        chalk["readings"] = [{**p, "cut": f"{float(p['cut']) - shift:.2f}"} for p in chalk["readings"]]
    return {"seen": QUIET, "readings": [chalk]}


def _old_turbine(story: FenStory, day: date, number: int) -> dict[str, Any]:
    """The classic blunders: a whole foot misread, hold and cut swapped, the weight interval left out."""
    sets = [_electric(story, "MF-12", day)]
    if number == 9:
        sets[0]["readings"] = [f"{float(r) + 1:.2f}" for r in sets[0]["readings"]]
    if number == 12:
        chalk = _chalk(story, "MF-12", day)
        sets = [{**chalk, "readings": [{"hold": p["cut"], "cut": p["hold"]} for p in chalk["readings"]]}]
    if number % 8 == 5:
        sounding = _sounding(story, "MF-12", day)
        if number == 13:
            sounding = {k: v for k, v in sounding.items() if k not in {"weight", "weight_interval"}}
        sets.append(sounding)
    return {"seen": QUIET, "readings": sets}


VISITS: Mapping[str, Any] = {
    "MF-01": _sluice_house,
    "MF-02": _alder_carr,
    "MF-03": _peat_cutters,
    "MF-04": _heron_drove,
    "MF-05": _long_dyke,
    "MF-06": _spring_farm,
    "MF-07": _dry_lode,
    "MF-08": _depot_yard,
    "MF-09": _mill_pumping,
    "MF-10": _church_shallow,
    "MF-11": _church_deep,
    "MF-12": _old_turbine,
}
