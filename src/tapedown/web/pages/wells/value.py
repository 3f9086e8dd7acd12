"""A value: every step, where its uncertainty comes from, what would change it, the entries it rests on."""

from __future__ import annotations

from typing import Annotated, Any, NamedTuple, TypedDict

from fastapi import APIRouter, Depends, Request, Response
from markupsafe import Markup

from tapedown.engine.uncertainty.budget import combine, shares
from tapedown.engine.uncertainty.digits import spread
from tapedown.reports import svg
from tapedown.reports.words import value_text
from tapedown.values.results import QUALITIES, Part, Reduction, Step
from tapedown.values.units import from_si
from tapedown.web.answers import answers
from tapedown.web.forms import by_place, listed
from tapedown.web.links import part, value_path, words_of
from tapedown.web.pages.common import author_for, done, drawn, network_at, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.pages.wells.well import AsOf
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.expected.explaining import Surprise, explain_row
from tapedown.work.expected.to_json import SurpriseJson, surprise_to_json
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.refusals import NobodyNamed, NoSuchReading, WrittenWrong
from tapedown.work.review.judging import ACTIONS, QUALITY, Verdict, judge
from tapedown.work.review.reviewing import Reviewed, looks_of, reviewed
from tapedown.work.review.signing import Signed, standing_sets
from tapedown.work.wells.history import History, Row, history
from tapedown.work.wells.sources import Lever, ValueSource, levers, sources
from tapedown.work.wells.to_json import RowJson, row_to_json

router = APIRouter()
MOST_LEVERS = 6


class SourceJson(TypedDict):
    """An entry behind a value and what it is to it."""

    part: str
    id: str
    struck_by: str | None


class ValueJson(RowJson):
    """A value with what it rests on, what would make it better, and how it lies to what was expected."""

    sources: list[SourceJson]
    levers: list[Lever]
    against_its_well: SurpriseJson | None


class Looked(NamedTuple):
    """A value with what stands around it."""

    network: OpenNetwork
    told: History
    row: Row
    sources: list[ValueSource]
    levers: list[Lever]
    surprise: Surprise | None
    review: Reviewed
    signed: list[Signed]


class Share(NamedTuple):
    """A part of uncertainty and its share of the variance."""

    part: Part
    share: float
    bar: Markup


def look(request: Request, code: str, entry_id: str, as_of: str) -> Looked:
    """The value an entry comes to. Raises NoSuchReading for an entry that is none of this well's rows."""
    network = network_at(request, as_of)
    shelf = gear_shelf(network)
    told = history(network, code, shelf=shelf)
    row = next((row for row in told.rows if row.entry.id == entry_id), None)
    if row is None:
        raise NoSuchReading(code, entry_id)
    found = levers(network, told.file, row, shelf)[:MOST_LEVERS]
    surprise = explain_row(network, told, row, shelf)
    state = reviewed(row, told.file, looks_of(told.file), network)
    return Looked(network, told, row, sources(network, told.file, row), found, surprise, state, _signed(network, row))


def _signed(network: OpenNetwork, row: Row) -> list[Signed]:
    """The standing sign-offs that hold a value's entry."""
    return [signed for signed, leaves in standing_sets(network) if any(one.id == row.entry.id for one in leaves)]


@answers(router, "/wells/{code}/values/{entry_id}.json", tags=["wells"])
def value_json(request: Request, code: str, entry_id: str, as_of: AsOf = "") -> ValueJson:
    """A value with every step, the entries it rests on and what would make it better."""
    found = look(request, words_of(code), words_of(entry_id), as_of)
    rests_on: list[SourceJson] = [{"part": s.part, "id": s.entry.id, "struck_by": s.struck_by} for s in found.sources]
    against = surprise_to_json(found.surprise) if found.surprise else None
    return {**row_to_json(found.row), "sources": rests_on, "levers": found.levers, "against_its_well": against}


@router.get("/wells/{code}/values/{entry_id}", include_in_schema=False)
def value_page(request: Request, code: str, entry_id: str, as_of: AsOf = "") -> Response:
    """A value."""
    return show(request, look(request, words_of(code), words_of(entry_id), as_of), as_of=as_of)


def show(request: Request, found: Looked, *, as_of: str = "", status: int = 200, **more: Any) -> Response:
    """The page of a value, or the same with a form that was not taken."""
    value, unit = found.row.value, found.network.unit
    code, row = found.told.file.code, found.row
    struck_with = next((f.entry for f in found.told.file.facts if f.entry.id == row.struck_by), None)
    return render(
        request,
        "value.html",
        title=f"{code}: {row.what}",
        code=code,
        row=row,
        value=value,
        unit=unit,
        stages=_stages(value, unit) if value else [],
        shares=[Share(part, share, _bar(share)) for part, share in shares(value.parts)] if value else [],
        found=found,
        surprise=surprise_to_json(found.surprise) if found.surprise else None,
        levers=[(lever, lever_path(lever), spread(lever.expanded_m, unit)) for lever in found.levers],
        now=spread(value.main.expanded_m, unit) if value and value.main else "",
        striker=struck_with,
        actions=ACTIONS[:-1],
        qualities=QUALITIES,
        typed={"action": QUALITY, "quality": row.quality, "why": ""} | more.pop("typed", {}),
        problems=by_place(more.get("refused", ())),
        listed=listed(more.pop("refused", ())),
        as_of=as_of,
        status=status,
        **more,
    )


def _stages(value: Reduction, unit: str) -> list[dict[str, Any]]:
    """The steps as lines of text, each stage with its total."""
    return [
        {
            "steps": [
                (step, f"{from_si(step.amount_m, unit, 'length') + 0.0:+.4f}", _u(step, unit)) for step in stage.steps
            ],
            "result": stage.result,
            "total": value_text(stage.result, value.digits),
            "u": f"{from_si(stage.result.u_m, unit, 'length'):.4f}",
        }
        for stage in value.stages
    ]


def _u(step: Step, unit: str) -> str:
    return f"{from_si(combine(step.parts)[0], unit, 'length'):.4f}" if step.parts else ""


def _bar(share: float) -> Markup:
    """A share as a bar; the number stands beside it."""
    back = svg.element("rect", class_="back", width=100, height=8)
    full = svg.element("rect", class_="part", width=round(100 * share, 1), height=8)
    return drawn(svg.element("svg", back, full, class_="share", viewBox="0 0 100 8", preserveAspectRatio="none",
                             aria_hidden="true", focusable="false"))  # fmt: skip


def lever_path(lever: Lever) -> str:
    """Where a change can be made; "" when it is made at the well."""
    kind, _, name = lever.about.partition("/")
    return {"setting": f"/settings#s-{name}", "gear": f"/gear/{part(name)}"}.get(kind, "")


@router.post("/wells/{code}/values/{entry_id}/review", include_in_schema=False)
def review(request: Request, code: str, entry_id: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """A second person's word on a reading."""
    found = look(request, words_of(code), words_of(entry_id), "")
    verdict = Verdict(sent.text("action") or QUALITY, sent.text("quality"), sent.text("why").strip())
    try:
        judge(found.network, [found.row.entry.id], verdict, author_for(request, sent))
    except (WrittenWrong, NobodyNamed) as error:
        told = error.problems if isinstance(error, WrittenWrong) else [missing(error)]
        return show(request, found, status=422, refused=told, typed=verdict._asdict(), by=sent.text("by"))
    return done(request, sent, value_path(found.told.file.code, found.row.entry.id))
