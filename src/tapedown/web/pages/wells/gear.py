"""Gear and its calibrations."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, TypedDict

from fastapi import APIRouter, Depends, Request, Response

from tapedown.engine.tape.calibration import electric_limit_m
from tapedown.engine.tape.side_by_side import EDITIONS
from tapedown.engine.uncertainty.digits import spread
from tapedown.exchange.shapes import FactJson
from tapedown.record import Held, entries
from tapedown.reports.difference_plot import Difference, difference_plot
from tapedown.reports.words import day_text
from tapedown.values.forms import Problem
from tapedown.values.gear import Calibration
from tapedown.values.kinds import KINDS, about_gear
from tapedown.values.units import from_si
from tapedown.web.answers import answers
from tapedown.web.forms import by_place, listed
from tapedown.web.links import part, words_of
from tapedown.web.pages.common import author_for, done, drawn, network_at, number, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.pages.wells.well import AsOf
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.entry.comparing import ComparisonEntered, calibrate_by, comparisons, find_comparison
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.refusals import NobodyNamed, NoSuchGear, WrittenWrong
from tapedown.work.review.to_json import ComparedJson, compared_to_json
from tapedown.work.wells.to_json import fact_to_json

router = APIRouter()
APPLIES = ("checked", "straight line", "between marks")


class GearJson(TypedDict):
    """A piece of gear, with its entries oldest first."""

    serial: str
    type: str
    description: str
    calibrated_on: str | None
    entries: list[FactJson]


@answers(router, "/gear.json", tags=["gear"])
def gear_json(request: Request, as_of: AsOf = "") -> list[GearJson]:
    """All gear with the day of its last calibration."""
    shelf = gear_shelf(network_at(request, as_of))
    return [_told(shelf, serial, []) for serial in serials(shelf)]


@router.get("/gear", include_in_schema=False)
def gear_page(request: Request, as_of: AsOf = "") -> Response:
    """All gear."""
    shelf = gear_shelf(network_at(request, as_of))
    rows = [(serial, shelf.gear.get(serial), _last(shelf, serial)) for serial in serials(shelf)]
    return render(request, "gear.html", title="gear", rows=rows, as_of=as_of)


def serials(shelf: GearShelf) -> list[str]:
    """Every serial number that is known, also one that only a calibration names."""
    return sorted({*shelf.gear, *shelf.calibrations})


def _last(shelf: GearShelf, serial: str) -> Any:
    dated = shelf.calibrations.get(serial, ())
    return dated[-1] if dated else None


def _told(shelf: GearShelf, serial: str, entries: list[FactJson]) -> GearJson:
    gear, last = shelf.gear.get(serial), _last(shelf, serial)
    return {
        "serial": serial,
        "type": gear.type if gear else "",
        "description": gear.description if gear else "",
        "calibrated_on": last.on if last else None,
        "entries": entries,
    }


@answers(router, "/gear/{serial}.json", tags=["gear"])
def one_json(request: Request, serial: str, as_of: AsOf = "") -> GearJson:
    """A piece of gear with its entries."""
    network, serial = network_at(request, as_of), words_of(serial)
    entries = [fact_to_json(held) for held in held_of(network, serial)]
    return _told(gear_shelf(network), serial, entries)


@answers(router, "/gear/{serial}/compared.json", tags=["gear"])
def compared_json(request: Request, serial: str, as_of: AsOf = "") -> list[ComparedJson]:
    """Side-by-side comparisons of a piece of gear, oldest first, with the lines through them."""
    network, serial = network_at(request, as_of), words_of(serial)
    held_of(network, serial)
    level = network.settings.si("coverage")
    return [compared_to_json(one, level) for one in comparisons(network, serial)]


@router.post("/gear/{serial}/compared/{entry_id}/calibrate", include_in_schema=False)
def calibrate(request: Request, serial: str, entry_id: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Make a comparison the calibration."""
    network, serial = network_at(request), words_of(serial)
    found = find_comparison(network, serial, words_of(entry_id))
    try:
        calibrate_by(network, found, author_for(request, sent), sent.text("apply"))
    except NobodyNamed as error:
        return _one(request, network, serial, problems=[missing(error)], by=sent.text("by"))
    except WrittenWrong as error:
        return _one(request, network, serial, problems=list(error.problems), by=sent.text("by"))
    return done(request, sent, f"/gear/{part(serial)}")


@router.get("/gear/{serial}", include_in_schema=False)
def one_page(request: Request, serial: str, as_of: AsOf = "") -> Response:
    """A piece of gear."""
    return _one(request, network_at(request, as_of), words_of(serial), as_of=as_of)


def _one(
    request: Request,
    network: OpenNetwork,
    serial: str,
    *,
    as_of: str = "",
    problems: Sequence[Problem] = (),
    **typed: str,
) -> Response:
    held = held_of(network, serial)
    calibrations = [(h, _read(h, network.unit)) for h in held if h.entry.kind == "calibration"]
    calibrations.sort(key=lambda pair: pair[0].entry.measured_at)
    standing = [(h, value) for h, value in calibrations if h.struck_by is None and value is not None]
    sets = [(day_text(h.entry.measured_at), differences(value)) for h, value in standing]
    figures = [h for h in held if h.entry.kind == "gear"]
    return render(
        request,
        "gear_one.html",
        title=serial,
        serial=serial,
        path=f"/gear/{part(serial)}",
        figures=figures[::-1],
        calibrations=calibrations[::-1],
        plot=drawn(difference_plot(sets, network.unit)),
        unit=network.unit,
        compared=[_compared(one, network) for one in reversed(comparisons(network, serial))],
        applies=APPLIES,
        problems=by_place(problems),
        listed=listed(problems),
        as_of=as_of,
        status=422 if problems else 200,
        **typed,
    )


def _compared(one: ComparisonEntered, network: OpenNetwork) -> dict[str, Any]:
    """A comparison as the page shows it."""
    unit, found = network.unit, one.found
    lines = [found.at(mark.shown_m, network.settings.si("coverage")) for mark in found.marks]
    marks = [
        {
            "shown": f"{from_si(mark.shown_m, unit, 'length'):.2f}",
            "add": number(mark.add_m, unit, 3),
            "line": f"{number(line[0], unit, 3)} ± {spread(line[1], unit)}" if line else "",
        }
        for mark, line in zip(found.marks, lines, strict=True)
    ]
    name = day_text(one.entry.measured_at)
    plotted = [Difference(mark.shown_m, mark.add_m, mark.u_m) for mark in found.marks]
    plot = drawn(difference_plot([(name, plotted)], unit, allowed=electric_limit_m))
    limits = [(said, found.within[edition]) for edition, said in EDITIONS.items()]
    return {"held": one, "marks": marks, "plot": plot, "limits": limits, "day": name}


def held_of(network: OpenNetwork, serial: str) -> list[Held]:
    """The entries about a piece of gear, struck ones too. Raises NoSuchGear."""
    held = entries(network.record, about=about_gear(serial), as_of=network.as_of, struck=True)
    if not held:
        raise NoSuchGear(serial)
    return held


def _read(held: Held, length_unit: str) -> Calibration | None:
    value: Calibration | None = KINDS["calibration"].read(held.entry.data, length_unit)[0]
    return value


def differences(calibration: Calibration) -> Sequence[Difference]:
    """The marks as the plot takes them."""
    return [
        Difference(mark.shown.si, mark.true.si - mark.shown.si, mark.u.si if mark.u else 0.0)
        for mark in calibration.marks
    ]
