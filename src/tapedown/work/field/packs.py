"""The pack: everything a round needs at the well, in one piece of plain data that works without a network."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, TypedDict

from tapedown.engine.tape.calibration import is_overdue
from tapedown.exchange.plain import plain
from tapedown.exchange.shapes import form_to_json
from tapedown.reports.words import headline
from tapedown.values import reading_forms
from tapedown.values.expectations import Expectation
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import Entry
from tapedown.values.reading_forms import METHODS
from tapedown.values.rounds import Round
from tapedown.values.seen import USUAL_REASONS
from tapedown.values.times import written_form
from tapedown.values.wells import AccessNote, Position
from tapedown.work.authorship import now
from tapedown.work.expected.expecting import expectations
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.review.remeasures import Again, open_remeasures
from tapedown.work.rounds.cautions import GENERAL, well_cautions
from tapedown.work.rounds.loading import load_list
from tapedown.work.rounds.planning import RoundNow, cleanness, newest_stops, planned_round
from tapedown.work.wells.files import WellFile, well_file
from tapedown.work.wells.history import History, Row, history_of
from tapedown.work.wells.usual_methods import usual

PACK_VERSION = 4
"""1 carried a range per well; 2 carries the numbers from which the sheet works out the range of any day; 3 asks for
what goes on at the well as facts; 4 says of each field when it is asked and which gear it names."""
LAST_ROWS, NEWEST_PHOTOS = 8, 12
PHOTO_TYPES = ("image/jpeg", "image/png")
CHECKED_TAPES = ("steel tape", "electric tape")
"""Gear that is due for a check although it never had one."""


def pack(network: OpenNetwork, round_id: str, clock: Callable[[], datetime] = now) -> dict[str, Any]:
    """The pack of a round, as the field sheet takes it.

    Raises
    ------
    NoSuchRound, NoSuchWell
    """
    entry, planned = planned_round(network, round_id)
    shelf = gear_shelf(network)
    files = [well_file(network, code) for code in planned.wells]
    histories = [history_of(file, network, shelf) for file in files]
    expected = expectations(histories)
    again = open_remeasures(network)
    wells = [_well_plain(told, planned.day, expected[told.file.code]) for told in histories]
    return {
        "pack_version": PACK_VERSION,
        "made_at": written_form(clock()),
        "round": {**outline_to_json(entry, planned), "load": plain(load_list(files, shelf))},
        "network": _network_plain(network),
        "forms": _forms(network.unit),
        "reasons": list(USUAL_REASONS),
        "cautions": list(GENERAL),
        "wells": [_blind(well, again.get(well["code"], ())) for well in wells],
        "gear": gear_plain(shelf, planned.day, network),
        "people": _people(entry, planned, files),
    }


class OutlineJson(TypedDict):
    """A round as the sheet lists it."""

    id: str
    name: str
    day: str
    wells: list[str]
    made_at: str


class RoundJson(TypedDict):
    """A round and how far it has come; visited: well -> day."""

    id: str
    name: str
    day: str
    wells: list[str]
    who: list[str]
    remarks: str
    made_by: str
    made_at: str
    struck_by: str | None
    visited: dict[str, str]
    open: bool


def outline_to_json(entry: Entry, planned: Round) -> OutlineJson:
    """A round as the sheet lists it."""
    return {
        "id": entry.id,
        "name": planned.name,
        "day": planned.day,
        "wells": list(planned.wells),
        "made_at": entry.written_at,
    }


def round_now_to_json(found: RoundNow) -> RoundJson:
    """A round with how far it has come."""
    planned = found.planned
    return {
        **outline_to_json(found.entry, planned),
        "who": list(planned.who),
        "remarks": planned.remarks,
        "made_by": found.entry.by,
        "struck_by": found.struck_by,
        "visited": dict(found.visited),
        "open": found.open,
    }


def _network_plain(network: OpenNetwork) -> dict[str, Any]:
    facts = network.facts
    return {
        "name": facts.name,
        "length_unit": facts.length_unit,
        "vertical_datum": facts.vertical_datum,
        "zone": facts.zone,
        "settings": dict(network.settings.changed),
    }


def _forms(unit: str) -> dict[str, Any]:
    methods = {name: {"help": form.help, "fields": form_to_json(form, unit)} for name, form in METHODS.items()}
    found: dict[str, Any] = plain({"visit": form_to_json(reading_forms.FORMS["visit"], unit), "methods": methods})
    return found


def _well_plain(told: History, day: str, expected: Expectation) -> dict[str, Any]:
    file, identity = told.file, told.file.identity
    standing = [row for row in told.rows if row.struck_by is None]
    access: AccessNote | None = file.in_force("access", "")
    found = usual(file)
    stops = newest_stops([f.entry for f in file.of_kind("visit", "readings")])
    noted = [stop.seen for stop in stops]
    return {
        "code": file.code,
        "name": identity.name if identity else "",
        "place": identity.place if identity else "",
        "use": identity.use if identity else "",
        **_where(file.in_force("position", day)),
        "hazards": access.hazards if access else "",
        "permission": access.permission if access else "",
        "keys": access.keys if access else "",
        "cautions": well_cautions(noted, file.in_force("measuring point", day), access),
        "points": [{"from": f.entry.measured_at, **f.entry.data} for f in file.of_kind("measuring point")],
        "position": _body(file, "position", day),
        "construction": _body(file, "construction", day),
        "photos": _photos(file),
        "dirtier": cleanness(identity, stops),
        "last": [_row_plain(row) for row in reversed(standing[-LAST_ROWS:])],
        "usual_methods": list(found.methods),
        "usual_gear": {method: dict(gear) for method, gear in found.gear.items()},
        "expected": plain(expected),
    }


def _blind(well: dict[str, Any], asked: Sequence[Again]) -> dict[str, Any]:
    """A well of the pack; one that is to be measured again comes without what was read or is expected there."""
    if not asked:
        return {**well, "again": None}
    hidden = {"last": [], "expected": {"level": None, "bottom": None}}
    return {**well, **hidden, "again": {"why": "; ".join(dict.fromkeys(one.request.why for one in asked))}}


def _where(position: Position | None) -> dict[str, str | None]:
    latitude = position.latitude if position else None
    longitude = position.longitude if position else None
    return {"latitude": latitude.text if latitude else None, "longitude": longitude.text if longitude else None}


def _body(file: WellFile, kind: str, day: str) -> dict[str, Any] | None:
    fact = file.fact_in_force(kind, day)
    return fact.entry.data if fact else None


def _photos(file: WellFile) -> list[dict[str, str]]:
    found = [f.value for f in file.of_kind("document") if f.value.media_type in PHOTO_TYPES]
    return [{"sha256": d.sha256, "caption": d.caption, "media_type": d.media_type} for d in found[-NEWEST_PHOTOS:]]


def _row_plain(row: Row) -> dict[str, Any]:
    return {
        "when": row.entry.measured_at,
        "what": row.what,
        "text": headline(row.value) if row.value else "no reading",
        "quality": row.quality,
        "noted": row.noted,
    }


def gear_plain(shelf: GearShelf, day: str, network: OpenNetwork) -> list[dict[str, Any]]:
    """All gear with its calibrations, and whether it is overdue for the next on a day."""
    return [
        {
            **KINDS["gear"].body(gear),
            "calibrations": [
                {"on": c.on, **KINDS["calibration"].body(c.calibration)} for c in shelf.calibrations.get(serial, ())
            ],
            "overdue": _overdue(shelf, serial, day, network),
        }
        for serial, gear in sorted(shelf.gear.items())
    ]


def _overdue(shelf: GearShelf, serial: str, day: str, network: OpenNetwork) -> bool:
    last = shelf.calibrated(day).get(serial)
    if last is None:
        return shelf.gear[serial].type in CHECKED_TAPES
    return bool(last.on) and is_overdue(last.on, day, network.settings)


def _people(entry: Entry, planned: Round, files: Sequence[WellFile]) -> list[str]:
    """Names to choose from: who goes, who was at these wells, who wrote of them."""
    names = {*planned.who, entry.by}
    for file in files:
        names |= {fact.entry.by for fact in file.facts}
        names |= {name for fact in file.of_kind("visit") for name in fact.value.people}
    return sorted(names)
