"""A well: the figure, the state of its bottom, everything read in it, everything known about it."""

from __future__ import annotations

from typing import Annotated, TypedDict

from fastapi import APIRouter, Path, Query, Request, Response

from tapedown.exchange.shapes import ConditionJson, FactJson
from tapedown.reports.well_figure import NARROW, well_figure
from tapedown.values.results import Finding
from tapedown.web.answers import answers
from tapedown.web.links import series_path, value_path, well_path, words_of
from tapedown.web.pages.common import drawn, network_at, page_of, render
from tapedown.work.expected.expecting import ExpectedOn, expected_now
from tapedown.work.expected.explaining import record_findings, surprises
from tapedown.work.expected.to_json import ExpectedJson, SurpriseJson, expected_to_json, surprise_to_json
from tapedown.work.field.packs import PHOTO_TYPES
from tapedown.work.field.upload import document
from tapedown.work.networks import gear_shelf
from tapedown.work.printing.pictures import well_picture
from tapedown.work.printing.well_sheets import cautions_of
from tapedown.work.review.signing import covering
from tapedown.work.wells.files import WellFact, WellFile, series_of
from tapedown.work.wells.history import History, history
from tapedown.work.wells.to_json import RowJson, fact_to_json, history_to_json

router = APIRouter()
PER_PAGE = 100
NOT_FACTS = {"readings", "visit", "strike", "review", "acceptance", "re-measure", "treatment", "logger file"}
ORDER = ("access", "well", "measuring point", "level check", "reference mark", "construction", "position", "document")

AsOf = Annotated[str, Query(max_length=100, description="as known at the end of this day, or at this time")]
Struck = Annotated[bool, Query(description="with struck entries")]
PageNumber = Annotated[int, Query(ge=1, le=100_000)]


class WellJson(TypedDict):
    """A well: its facts, its rows oldest first, the state of its bottom, readings unlike it.

    record_findings: what the record as a whole may hide; expected: what the next reading should show
    """

    well: str
    facts: list[FactJson]
    rows: list[RowJson]
    bottom: ConditionJson | None
    surprises: list[SurpriseJson]
    record_findings: list[Finding]
    expected: ExpectedJson


@answers(router, "/wells/{code}.json", tags=["wells"])
def well_json(request: Request, code: str, as_of: AsOf = "", struck: Struck = False) -> WellJson:
    """A well's facts, rows and bottom."""
    network = network_at(request, as_of)
    shelf = gear_shelf(network)
    told = history(network, words_of(code), shelf=shelf)
    return {
        **history_to_json(told, struck=struck),
        "facts": [fact_to_json(fact) for fact in facts_of(told.file, struck=struck)],
        "surprises": [surprise_to_json(one) for one in surprises(network, told, shelf, struck=struck)],
        "record_findings": record_findings(told),
        "expected": expected_to_json(expected_now(told, network)),
    }


@router.get("/wells/{code}", include_in_schema=False)
def well_page(request: Request, code: str, as_of: AsOf = "", struck: Struck = False, page: PageNumber = 1) -> Response:
    """A well."""
    network = network_at(request, as_of)
    shelf = gear_shelf(network)
    told = history(network, words_of(code), shelf=shelf)
    rows = [row for row in reversed(told.rows) if struck or row.struck_by is None]
    here = page_of(rows, page, PER_PAGE)
    identity = told.file.identity
    expected = expected_now(told, network)
    return render(
        request,
        "well.html",
        title=f"{told.file.code} {identity.name}".strip() if identity else told.file.code,
        code=told.file.code,
        network=network,
        told=told,
        identity=identity,
        cautions=cautions_of(told),
        hidden=record_findings(told),
        expected=expected,
        surprises=[surprise_to_json(one) for one in surprises(network, told, shelf, struck=struck)],
        figures=figures(told, network.unit, expected, struck=struck),
        rows=here.rows,
        page=here.page,
        pages=here.pages,
        facts=facts_of(told.file, struck=struck),
        as_of=as_of,
        struck=struck,
        signed=covering(network, told.file.code),
        has_struck=any(f.struck_by for f in told.file.facts),
        path=well_path(told.file.code),
        series=[(name, series_path(told.file.code, name)) for name in series_of(told.file)],
    )


@router.get("/documents/{sha256}", include_in_schema=False)
def document_bytes(request: Request, sha256: Annotated[str, Path(pattern="^[0-9a-f]{64}$")]) -> Response:
    """A photo or paper of the network: photos to be shown, anything else to be saved."""
    found = document(network_at(request), sha256)
    shown = "inline" if found.media_type in PHOTO_TYPES else f'attachment; filename="{sha256[:12]}"'
    return Response(found.bytes, media_type=found.media_type, headers={"Content-Disposition": shown})


def figures(told: History, unit: str, expected: ExpectedOn, *, struck: bool) -> list[object]:
    """The figure for a desk and for paper, and the one for a telephone; the page shows one of them."""
    links = value_path(told.file.code, "")
    picture = well_picture(told, unit, struck=struck, links=links, expected=expected.expected.level)
    return [drawn(well_figure(picture)), drawn(well_figure(picture, NARROW))]


def facts_of(file: WellFile, *, struck: bool) -> list[WellFact]:
    """What is known beside readings: access first, of each kind the newest first."""
    kept = [f for f in file.facts if f.entry.kind not in NOT_FACTS and (struck or f.struck_by is None)]
    kept.reverse()
    return sorted(kept, key=lambda f: ORDER.index(f.entry.kind) if f.entry.kind in ORDER else len(ORDER))
