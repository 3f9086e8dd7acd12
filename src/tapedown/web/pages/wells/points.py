"""Measuring points of a well through time, with the levels carried to them."""

from __future__ import annotations

from typing import TypedDict

from fastapi import APIRouter, Request, Response

from tapedown.exchange.shapes import EntryJson, entry_to_json
from tapedown.reports.words import length_text
from tapedown.web.answers import answers
from tapedown.web.links import well_path, words_of
from tapedown.web.pages.common import network_at, render
from tapedown.web.pages.wells.well import AsOf
from tapedown.work.wells.files import well_file
from tapedown.work.wells.points import level_rows, point_rows

router = APIRouter()


class MeasuringPointJson(TypedDict):
    """A measuring point; until is "" for the one in force."""

    entry: EntryJson
    name: str
    height_m: float
    until: str


class LevelJson(TypedDict):
    """Levels carried to a point: elevation found and expected."""

    entry: EntryJson
    found_m: float | None
    expected_m: float | None


class PointsJson(TypedDict):
    """Measuring points of a well, newest first."""

    well: str
    points: list[MeasuringPointJson]
    levels: list[LevelJson]


@answers(router, "/wells/{code}/points.json", tags=["wells"])
def points_json(request: Request, code: str, as_of: AsOf = "") -> PointsJson:
    """Measuring points, newest first, and level checks."""
    file = well_file(network_at(request, as_of), words_of(code))
    points: list[MeasuringPointJson] = [
        {"entry": entry_to_json(row.entry), "name": row.point.name, "height_m": row.point.height_m, "until": row.until}
        for row in point_rows(file)
    ]
    levels: list[LevelJson] = [
        {"entry": entry_to_json(row.entry), "found_m": row.found_m, "expected_m": row.expected_m}
        for row in level_rows(file)
    ]
    return {"well": file.code, "points": points, "levels": levels}


@router.get("/wells/{code}/points", include_in_schema=False)
def points_page(request: Request, code: str, as_of: AsOf = "") -> Response:
    """Measuring points."""
    network = network_at(request, as_of)
    file = well_file(network, words_of(code))
    unit = network.unit
    levels = [
        (
            row,
            *(
                "" if m is None else length_text(m, unit, 0.001)
                for m in (row.found_m, row.expected_m, row.difference_m)
            ),
        )
        for row in level_rows(file)
    ]
    return render(
        request,
        "points.html",
        title=f"measuring points of {file.code}",
        code=file.code,
        path=well_path(file.code),
        points=point_rows(file),
        levels=levels,
        as_of=as_of,
    )
