"""Rounds: what is due, a round in the making, and how far each has come."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, NamedTuple, TypedDict

from fastapi import APIRouter, Depends, Query, Request, Response

from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.wells import DIRTIER
from tapedown.web.answers import answers
from tapedown.web.links import part
from tapedown.web.pages.common import author_for, done, network_at, office_of, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.field.packs import RoundJson, pack, round_now_to_json
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.refusals import NobodyNamed, ReasonMissing, WrittenWrong
from tapedown.work.review.remeasures import draw, drawing_of, open_remeasures
from tapedown.work.rounds.loading import LoadItem, load_list
from tapedown.work.rounds.planning import (
    MOST_WELLS,
    NoSuchRound,
    Outline,
    RoundNow,
    WellDue,
    in_order,
    make_round,
    outlines,
    round_now,
    rounds_now,
    today,
    way_m,
    wells_due,
    withdraw_round,
)
from tapedown.work.wells.files import well_file

router = APIRouter()
SHOWN = 400
"""Wells on the page at a time; the longest overdue come first."""
CLOSED_SHOWN = 20


class DueJson(TypedDict):
    """A well and whether it is due; overdue_d is null for one that was never visited."""

    code: str
    name: str
    every_d: int
    last: str
    noted: tuple[str, ...]
    due_on: str
    overdue_d: int | None
    cleanness: str
    due: bool


class RoundsJson(TypedDict):
    """All rounds that are not struck, newest first, and what is due."""

    day: str
    due: list[DueJson]
    rounds: list[RoundJson]


class RoundLoadJson(RoundJson):
    """A round with what to load for it."""

    load: list[LoadItem]


class Making(NamedTuple):
    """A round in the making, as typed."""

    name: str
    day: str
    who: str
    remarks: str
    wells: tuple[str, ...]

    @property
    def given(self) -> dict[str, Any]:
        """The fields of a round."""
        who = [name for one in self.who.split(",") if (name := one.strip())]
        return {"name": self.name, "day": self.day, "wells": list(self.wells), "who": who, "remarks": self.remarks}


class Preview(NamedTuple):
    """The order of a round in the making: the wells, and the way in m through those that have a position."""

    stops: tuple[Outline, ...]
    way_m: float


@answers(router, "/rounds.json", tags=["rounds"])
def rounds_json(request: Request) -> RoundsJson:
    """What is due today, and all rounds."""
    network = network_at(request)
    day = today(network, office_of(request).clock)
    known = outlines(network)
    rounds = [round_now_to_json(one) for one in rounds_now(network, known)]
    return {"day": day, "due": [_due(well) for well in wells_due(known, day)], "rounds": rounds}


def _due(well: WellDue) -> DueJson:
    return {
        "code": well.code,
        "name": well.name,
        "every_d": well.every_d,
        "last": well.last,
        "noted": well.noted,
        "due_on": well.due_on,
        "overdue_d": well.overdue_d,
        "cleanness": DIRTIER[well.cleanness],
        "due": well.due,
    }


@router.get("/rounds", include_in_schema=False)
def rounds_page(request: Request, q: Annotated[str, Query(max_length=200)] = "") -> Response:
    """What is due, with a round in the making of it."""
    network = network_at(request)
    day = today(network, office_of(request).clock)
    known = outlines(network)
    again = open_remeasures(network)
    fit = [w.code for w in wells_due(known, day) if (w.due or w.code in again) and _fits(w, q)]
    return _page(request, network, known, Making("", day, "", "", tuple(fit[:MOST_WELLS])), q=q)


@router.post("/rounds", include_in_schema=False)
def round_made(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Show the order of the wells ticked, or make the round."""
    network = network_at(request)
    wells = tuple(value for name, value in sent.fields if name == "wells")
    making = Making(sent.text("name"), sent.text("day"), sent.text("who"), sent.text("remarks"), wells)
    if sent.text("do") == "order":
        return _page(request, network, outlines(network), making, q=sent.text("q"), by=sent.text("by"))
    try:
        made = make_round(network, making.given, author_for(request, sent))
    except TapedownError as error:
        told = problems_of(error)
        return _page(request, network, outlines(network), making, told, q=sent.text("q"), by=sent.text("by"))
    return done(request, sent, f"/rounds/{made.id}")


def problems_of(error: TapedownError) -> Sequence[Problem]:
    """What to mend in a form that was refused."""
    if isinstance(error, WrittenWrong):
        return error.problems
    if isinstance(error, (NobodyNamed, ReasonMissing)):
        return [missing(error)]
    return [Problem("", str(error), error.hint)]


def by_place(problems: Sequence[Problem]) -> defaultdict[str, list[Problem]]:
    """Problems by the field they are about; a field without one has an empty list."""
    found: defaultdict[str, list[Problem]] = defaultdict(list)
    for problem in problems:
        found[problem.place].append(problem)
    return found


def _page(
    request: Request,
    network: OpenNetwork,
    known: Mapping[str, Outline],
    making: Making,
    problems: Sequence[Problem] = (),
    **typed: str,
) -> Response:
    day, q = today(network, office_of(request).clock), typed.pop("q")
    listed = [well for well in wells_due(known, day) if _fits(well, q) or well.code in making.wells]
    found, again = rounds_now(network, known), open_remeasures(network)
    closed = [one for one in found if not one.open]
    return render(
        request,
        "rounds.html",
        title="rounds",
        status=422 if problems else 200,
        making=making,
        preview=_preview(known, making),
        wells=sorted(listed, key=lambda well: well.code not in again)[:SHOWN],
        again={code: asked[0].request.why for code, asked in again.items()},
        left_out=max(0, len(listed) - SHOWN),
        due=sum(well.due for well in listed),
        total=len(listed),
        cleanness=DIRTIER,
        open_rounds=[one for one in found if one.open],
        closed=closed[:CLOSED_SHOWN],
        q=q,
        listed=[
            {**problem._asdict(), "anchor": f"f-{problem.place.partition('[')[0] or 'name'}"} for problem in problems
        ],
        problems=by_place(problems),
        **typed,
    )


def _fits(well: WellDue, q: str) -> bool:
    return all(word in f"{well.code} {well.name}".casefold() for word in q.casefold().split())


def _preview(known: Mapping[str, Outline], making: Making) -> Preview | None:
    """The order, where there is one to show."""
    codes = [code for code in making.wells if code in known]
    if not codes or len(codes) > MOST_WELLS:
        return None
    order = in_order(known, codes)
    return Preview(tuple(known[code] for code in order), way_m(known, order))


@answers(router, "/rounds/{round_id}.json", tags=["rounds"])
def round_json(request: Request, round_id: str) -> RoundLoadJson:
    """A round, how far it has come, and what to load."""
    network = network_at(request)
    found = round_now(network, round_id)
    return {**round_now_to_json(found), "load": _load(network, found)}


@answers(router, "/rounds/{round_id}/pack.json", tags=["rounds"])
def round_pack(request: Request, round_id: str) -> dict[str, Any]:
    """Everything the round needs at the wells: the pack that a phone keeps."""
    return pack(network_at(request), round_id, office_of(request).clock)


@router.get("/rounds/{round_id}", include_in_schema=False)
def round_page(request: Request, round_id: str) -> Response:
    """A round: the order of its wells, what to load, who was where."""
    return _round_page(request, round_id, ())


@router.post("/rounds/{round_id}/withdraw", include_in_schema=False)
def round_withdrawn(request: Request, round_id: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Strike a round."""
    network = network_at(request)
    round_now(network, round_id)
    try:
        withdraw_round(network, round_id, sent.text("reason"), author_for(request, sent))
    except TapedownError as error:
        return _round_page(request, round_id, problems_of(error), by=sent.text("by"), reason=sent.text("reason"))
    return done(request, sent, f"/rounds/{part(round_id)}")


@router.post("/rounds/{round_id}/draw", include_in_schema=False)
def round_drawn(request: Request, round_id: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Draw wells of a round to be measured again blind."""
    network = network_at(request)
    try:
        draw(network, round_id, author_for(request, sent))
    except NoSuchRound:
        raise
    except TapedownError as error:
        return _round_page(request, round_id, problems_of(error), by=sent.text("by"))
    return done(request, sent, f"/rounds/{part(round_id)}")


def _round_page(request: Request, round_id: str, problems: Sequence[Problem], **typed: str) -> Response:
    network = network_at(request)
    found, known = round_now(network, round_id), outlines(network)
    return render(
        request,
        "round.html",
        title=found.planned.name,
        status=422 if problems else 200,
        round=found,
        stops=[(code, known.get(code)) for code in found.planned.wells],
        way_m=way_m(known, [code for code in found.planned.wells if code in known]),
        load=_load(network, found),
        drawing=drawing_of(network, found.planned.name, found.entry.id),
        again={code: asked[0].request.why for code, asked in open_remeasures(network).items()},
        share=network.settings.text("blind_share"),
        cleanness=DIRTIER,
        refused=problems,
        problems=by_place(problems),
        reason=typed.pop("reason", ""),
        **typed,
    )


def _load(network: OpenNetwork, found: RoundNow) -> list[Any]:
    return list(load_list([well_file(network, code) for code in found.planned.wells], gear_shelf(network)))
