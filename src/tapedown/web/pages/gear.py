"""Gear and its calibrations."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request, Response

from tapedown.exchange.plain import entry_plain
from tapedown.record import Held, entries
from tapedown.reports.difference_plot import Difference, difference_plot
from tapedown.reports.words import day_text
from tapedown.values.gear import Calibration
from tapedown.values.kinds import KINDS, about_gear
from tapedown.web.links import part, words_of
from tapedown.web.pages.common import drawn, network_at, render
from tapedown.web.pages.well import AsOf
from tapedown.web.shapes import REFUSALS, GearShape
from tapedown.work.networks import GearShelf, OpenNetwork, gear_shelf
from tapedown.work.refusals import NoSuchGear

router = APIRouter()


@router.get("/gear.json", responses=REFUSALS, tags=["gear"])
def gear_json(request: Request, as_of: AsOf = "") -> list[GearShape]:
    """All gear with the day of its last calibration."""
    shelf = gear_shelf(network_at(request, as_of))
    return [GearShape.model_validate(_plain(shelf, serial)) for serial in serials(shelf)]


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


def _plain(shelf: GearShelf, serial: str) -> dict[str, Any]:
    gear, last = shelf.gear.get(serial), _last(shelf, serial)
    return {
        "serial": serial,
        "type": gear.type if gear else "",
        "description": gear.description if gear else "",
        "calibrated_on": last.on if last else None,
    }


@router.get("/gear/{serial}.json", responses=REFUSALS, tags=["gear"])
def one_json(request: Request, serial: str, as_of: AsOf = "") -> GearShape:
    """A piece of gear with its entries."""
    network, serial = network_at(request, as_of), words_of(serial)
    held = held_of(network, serial)
    told = [{**entry_plain(h.entry), "struck_by": h.struck_by} for h in held]
    return GearShape.model_validate({**_plain(gear_shelf(network), serial), "entries": told})


@router.get("/gear/{serial}", include_in_schema=False)
def one_page(request: Request, serial: str, as_of: AsOf = "") -> Response:
    """A piece of gear."""
    network, serial = network_at(request, as_of), words_of(serial)
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
        as_of=as_of,
    )


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
