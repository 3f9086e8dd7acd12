"""Facts entered at the desk: wells, measuring points, construction, position, access, gear, calibrations. One page."""

from __future__ import annotations

from typing import Annotated, Any, NamedTuple

from fastapi import APIRouter, Depends, Request, Response

from tapedown.values.forms import Problem
from tapedown.values.kinds import KINDS
from tapedown.web.answers import answers
from tapedown.web.forms import Filled, FormJson, asks_for, by_place, gathered, listed, rows_sent, widgets
from tapedown.web.links import part, well_path, words_of
from tapedown.web.pages.common import author_for, done, network_at, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.entry.entering import DATED, WELL_KINDS, enter_fact
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.refusals import NobodyNamed, WellThere, WrittenWrong
from tapedown.work.wells.files import well_file

router = APIRouter()
GEAR_KINDS = ("gear", "calibration", "side by side")
KINDS_HERE = tuple(kind for kind in WELL_KINDS if kind not in {"well", "treatment"})
"""What is entered about a well that is there; what its well entry says is corrected."""
STARTS_FROM = {"construction", "position", "access"}
"""Kinds whose form starts from what is in force: a new entry says all of it again."""


class FactForm(NamedTuple):
    """A form for a fact: its kind, what it is about ("" when the form asks), where it is sent, where it leads back."""

    network: OpenNetwork
    kind: str
    about: str
    path: str
    back: str
    given: dict[str, Any]


def _well_sheet(request: Request, code: str, kind: str) -> FactForm:
    network, code = network_at(request), words_of(code)
    file = well_file(network, code)
    if kind not in KINDS_HERE:
        raise WrittenWrong(f"{kind} of {code}", [Problem("kind", f"no kind {kind!r}", ", ".join(KINDS_HERE))])
    held = file.in_force(kind, "") if kind in STARTS_FROM else None
    given = KINDS[kind].body(held) if held is not None else {}
    return FactForm(network, kind, code, f"{well_path(code)}/facts/{part(kind)}", well_path(code), given)


def _gear_sheet(request: Request, serial: str, kind: str) -> FactForm:
    network, serial = network_at(request), words_of(serial)
    if kind not in GEAR_KINDS:
        raise WrittenWrong(f"{kind} of {serial}", [Problem("kind", f"no kind {kind!r}", ", ".join(GEAR_KINDS))])
    held = gear_shelf(network).gear.get(serial) if kind == "gear" else None
    given = KINDS["gear"].body(held) if held is not None else {}
    given.pop("serial", None)
    return FactForm(network, kind, serial, f"/gear/{part(serial)}/facts/{part(kind)}", f"/gear/{part(serial)}", given)


def _new_sheet(request: Request, kind: str, path: str, back: str) -> FactForm:
    return FactForm(network_at(request), kind, "", path, back, {})


def _form_to_json(sheet: FactForm) -> FormJson:
    """The form as JSON: a date it starts to hold from, where it has one, is sent as `since`."""
    form, unit = KINDS[sheet.kind], sheet.network.unit
    return asks_for(form, about=sheet.about, sent_to=sheet.path, unit=unit, given=sheet.given)


@answers(router, "/wells/new.json", tags=["forms"])
def new_well_json(request: Request) -> FormJson:
    """What a new well asks for."""
    return _form_to_json(_new_sheet(request, "well", "/wells/new", "/"))


@router.get("/wells/new", include_in_schema=False)
def new_well(request: Request) -> Response:
    """The form for a new well."""
    return show(request, _new_sheet(request, "well", "/wells/new", "/"))


@router.post("/wells/new", include_in_schema=False)
def enter_well(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Enter a new well; one that is there already is told."""
    sheet = _new_sheet(request, "well", "/wells/new", "/")
    code = sent.text("code").strip()
    return _enter(request, sheet, sent, code, well_path(code) if code else "/")


@answers(router, "/wells/{code}/facts/{kind}.json", tags=["forms"])
def well_fact_json(request: Request, code: str, kind: str) -> FormJson:
    """What a fact about a well asks for, and what it starts from."""
    return _form_to_json(_well_sheet(request, code, kind))


@router.get("/wells/{code}/facts/{kind}", include_in_schema=False)
def well_fact(request: Request, code: str, kind: str) -> Response:
    """The form for a fact about a well."""
    return show(request, _well_sheet(request, code, kind))


@router.post("/wells/{code}/facts/{kind}", include_in_schema=False)
def enter_well_fact(request: Request, code: str, kind: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Enter a fact about a well."""
    sheet = _well_sheet(request, code, kind)
    return _enter(request, sheet, sent, sheet.about)


@answers(router, "/gear/new.json", tags=["forms"])
def new_gear_json(request: Request) -> FormJson:
    """What new gear asks for."""
    return _form_to_json(_new_sheet(request, "gear", "/gear/new", "/gear"))


@router.get("/gear/new", include_in_schema=False)
def new_gear(request: Request) -> Response:
    """The form for new gear."""
    return show(request, _new_sheet(request, "gear", "/gear/new", "/gear"))


@router.post("/gear/new", include_in_schema=False)
def enter_gear(request: Request, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Enter new gear."""
    serial = sent.text("serial").strip()
    sheet = _new_sheet(request, "gear", "/gear/new", "/gear")
    return _enter(request, sheet, sent, serial, f"/gear/{part(serial)}")


@answers(router, "/gear/{serial}/facts/{kind}.json", tags=["forms"])
def gear_fact_json(request: Request, serial: str, kind: str) -> FormJson:
    """What a calibration, or the gear's own figures anew, asks for."""
    return _form_to_json(_gear_sheet(request, serial, kind))


@router.get("/gear/{serial}/facts/{kind}", include_in_schema=False)
def gear_fact(request: Request, serial: str, kind: str) -> Response:
    """The form for a calibration, or for the gear's own figures anew."""
    return show(request, _gear_sheet(request, serial, kind))


@router.post("/gear/{serial}/facts/{kind}", include_in_schema=False)
def enter_gear_fact(request: Request, serial: str, kind: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Enter a fact about gear."""
    sheet = _gear_sheet(request, serial, kind)
    return _enter(request, sheet, sent, sheet.about, sheet.back)


def _enter(request: Request, sheet: FactForm, sent: Sent, about: str, then: str = "") -> Response:
    """Enter what was sent, or show the form again with what is to be mended, everything typed still in it."""
    form = KINDS[sheet.kind]
    if sent.text("add"):
        return show(request, sheet, sent=sent)
    try:
        author = author_for(request, sent)
        given = gathered(form, sent)
        since = sent.text("since").strip()
        written = enter_fact(sheet.network, sheet.kind, about, given, author, measured_at=since)
    except WrittenWrong as error:
        return show(request, sheet, sent=sent, problems=[_at(p, sheet) for p in error.problems])
    except WellThere as error:
        told = Problem("code", str(error), "choose another code; what is said of that well is corrected on its page")
        return show(request, sheet, sent=sent, problems=[told])
    except NobodyNamed as error:
        return show(request, sheet, sent=sent, problems=[missing(error)])
    return done(request, sent, f"/entries/{part(written.entry.id)}" if written.findings or not then else then)


def _at(problem: Problem, sheet: FactForm) -> Problem:
    return problem._replace(place="since") if problem.place == "when" and sheet.kind != "visit" else problem


def show(
    request: Request, sheet: FactForm, *, sent: Sent | None = None, problems: list[Problem] | None = None
) -> Response:
    """The form of a fact."""
    form = KINDS[sheet.kind]
    given = gathered(form, sent) if sent else sheet.given
    told = by_place(problems or [])
    filled = Filled(given, told, rows_sent(sent) if sent else {}, sheet.network.unit)
    known = ("code", "serial", "comparison") if sheet.about else ()
    return render(
        request,
        "fact.html",
        title=f"{sheet.kind} of {sheet.about}" if sheet.about else f"new {sheet.kind}",
        sheet=sheet,
        help=form.help,
        dated=sheet.kind in DATED,
        since=sent.text("since") if sent else "",
        fields=widgets(form, filled, leave_out=known),
        problems=told,
        listed=listed(problems or []),
        status=422 if problems else 200,
        **({"by": sent.text("by")} if sent else {}),
    )
