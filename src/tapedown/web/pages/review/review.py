"""The review queue, with one form for what is said of the values ticked; and what blind repeats say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, TypedDict

from fastapi import APIRouter, Depends, Request, Response
from starlette.responses import RedirectResponse

from tapedown.analysis.repeat_error import RepeatError
from tapedown.engine.uncertainty.digits import spread
from tapedown.values.forms import Problem
from tapedown.values.results import QUALITIES
from tapedown.values.units import from_si
from tapedown.web.answers import answers
from tapedown.web.forms import by_place, listed
from tapedown.web.pages.common import author_for, done, network_at, office_of, page_of, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.pages.wells.well import PageNumber
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NobodyNamed, WrittenWrong
from tapedown.work.review.judging import ACTIONS, Verdict, judge
from tapedown.work.review.queue import Queue
from tapedown.work.review.remeasures import blind_repeats
from tapedown.work.review.to_json import ItemJson, RepeatsJson, queue_to_json, repeats_to_json

router = APIRouter()
PER_PAGE = 25


class QueueJson(TypedDict):
    """A page of the queue in its order; older readings are counted, not looked through."""

    count: int
    older: int
    next_page: int | None
    items: list[ItemJson]


def _queue(request: Request, network: OpenNetwork) -> Queue:
    office = office_of(request)
    return office.queue.at(network, office.clock())


@answers(router, "/review.json", tags=["review"])
def review_json(request: Request, page: PageNumber = 1) -> QueueJson:
    """Values that wait for a look, where it is worth most first."""
    found = _queue(request, network_at(request))
    shown = found._replace(items=found.items[(page - 1) * PER_PAGE : page * PER_PAGE])
    more = page + 1 if len(found.items) > page * PER_PAGE else None
    return {"count": len(found.items), "next_page": more, **queue_to_json(shown)}


@router.get("/review", include_in_schema=False)
def review_page(request: Request, page: PageNumber = 1) -> Response:
    """The queue; where many wells must be looked at first, by way of how far that has come."""
    office, network = office_of(request), network_at(request)
    token = office.working.start(
        "looking at every well",
        lambda watch: office.queue.at(network, office.clock(), watch),
        lambda _work: f"/review?page={page}",
        "the review queue",
    )
    if office.working.soon(token):
        return _page(request, network, page)
    return RedirectResponse(f"/working/{token}", 303)


@router.post("/review", include_in_schema=False)
def review_sent(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Say the same of every value ticked."""
    network = network_at(request)
    ticked = [value for name, value in sent.fields if name == "entry"]
    verdict = Verdict(sent.text("action"), sent.text("quality"), sent.text("why").strip())
    page = sent.text("page")
    number = int(page) if page.isascii() and page.isdigit() and len(page) < 6 else 1
    try:
        judge(network, ticked, verdict, author_for(request, sent))
    except WrittenWrong as error:
        return _page(request, network, number, list(error.problems), sent)
    except NobodyNamed as error:
        return _page(request, network, number, [missing(error)], sent)
    return done(request, sent, "/review")


def _page(
    request: Request, network: OpenNetwork, page: int, problems: Sequence[Problem] = (), sent: Sent | None = None
) -> Response:
    found = _queue(request, network)
    here = page_of(found.items, page, PER_PAGE)
    unit = network.unit
    items = [
        (item, f"{from_si(item.worth.worth_m, unit, 'length'):.3f}", f"{100 * item.worth.chance:.0f}")
        for item in here.rows
    ]
    return render(
        request,
        "review.html",
        title="review",
        status=422 if problems else 200,
        items=items,
        total=len(found.items),
        older=found.older,
        page=here.page,
        pages=here.pages,
        unit=unit,
        people=network.settings.text("review_people"),
        actions=ACTIONS,
        qualities=QUALITIES,
        problems=by_place(problems),
        listed=listed(problems),
        ticked={value for name, value in sent.fields if name == "entry"} if sent else set(),
        typed={name: sent.text(name) if sent else "" for name in ("action", "quality", "why")},
        **({"by": sent.text("by")} if sent else {}),
    )


@answers(router, "/repeats.json", tags=["review"])
def repeats_json(request: Request) -> RepeatsJson:
    """The repeat error that blind second readings show."""
    return repeats_to_json(blind_repeats(network_at(request)))


@router.get("/repeats", include_in_schema=False)
def repeats_page(request: Request) -> Response:
    """The repeat error that blind second readings show."""
    network = network_at(request)
    found, unit = blind_repeats(network), network.unit
    rows = [
        (one, f"{round(from_si(one.difference_m, unit, 'length'), 3) + 0.0:+.3f}", spread(one.u_m, unit))
        for one in found.repeats
    ]
    methods = [(name, error, _said(error, unit)) for name, error in found.by_method.items()]
    share = network.settings.text("blind_share")
    within = network.settings.text("blind_within")
    return render(request, "repeats.html", title="blind repeats", found=found, rows=rows, methods=methods, unit=unit,
                  error=found.error, said=_said(found.error, unit),
                  share=share, within=within)  # fmt: skip


def _said(error: RepeatError, unit: str) -> dict[str, Any]:
    """The figures of a repeat error as text, "" for what is not known."""
    lengths = {name: value for name, value in error._asdict().items() if name.endswith("_m")}
    return {
        name: "" if value is None else f"{round(from_si(value, unit, 'length'), 4) + 0.0:.4f}"
        for name, value in lengths.items()
    }
