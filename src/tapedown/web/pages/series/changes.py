"""A treatment added to a series in the office: its form, what it would change, then ink."""

from __future__ import annotations

from typing import Annotated, NamedTuple

from fastapi import APIRouter, Depends, Request, Response

from tapedown.reports.words import length_text
from tapedown.values.forms import Form, Problem
from tapedown.values.series.series import treatment_field
from tapedown.values.series.treatments import TREATMENTS
from tapedown.values.units import from_si
from tapedown.web.answers import answers
from tapedown.web.forms import Filled, FormJson, asks_for, by_place, gathered, listed, rows_sent, widgets
from tapedown.web.links import part, series_path, words_of
from tapedown.web.pages.common import author_for, done, network_at, render
from tapedown.web.pages.series.series import said
from tapedown.web.pages.wells.entry import missing
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NobodyNamed, WrittenWrong
from tapedown.work.series.changes import Change, NoSuchTreatment, add_treatment, change_by
from tapedown.work.series.corrected import SeriesInputs, story_of

router = APIRouter()


class TreatmentForm(NamedTuple):
    """The form of one treatment of a series."""

    network: OpenNetwork
    story: SeriesInputs
    does: str

    @property
    def form(self) -> Form:
        """What the treatment asks for."""
        return TREATMENTS[self.does]

    @property
    def back(self) -> str:
        """The page of the series."""
        return series_path(self.story.file.code, self.story.name)

    @property
    def path(self) -> str:
        """Where the form stands and is sent."""
        return f"{self.back}/treatments/{part(self.does)}"


def _sheet(request: Request, code: str, name: str, does: str) -> TreatmentForm:
    network = network_at(request)
    story = story_of(network, words_of(code), words_of(name))
    if words_of(does) not in TREATMENTS:
        raise NoSuchTreatment(words_of(does))
    return TreatmentForm(network, story, words_of(does))


@answers(router, "/wells/{code}/series/{name}/treatments/{does}.json", tags=["forms"])
def treatment_json(request: Request, code: str, name: str, does: str) -> FormJson:
    """What a treatment of a series asks for; `why` and `by` are sent beside its fields."""
    sheet = _sheet(request, code, name, does)
    unit = sheet.network.unit
    return asks_for(sheet.form, about=sheet.story.full_name, sent_to=sheet.path, unit=unit, given={})


@router.get("/wells/{code}/series/{name}/treatments/{does}", include_in_schema=False)
def treatment_page(request: Request, code: str, name: str, does: str) -> Response:
    """The form of a treatment."""
    return _show(request, _sheet(request, code, name, does))


@router.post("/wells/{code}/series/{name}/treatments/{does}", include_in_schema=False)
def treat(request: Request, code: str, name: str, does: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Show what the treatment would change, or enter it."""
    sheet = _sheet(request, code, name, does)
    given = gathered(sheet.form, sent, treatment_field(sheet.does))
    series = (sheet.network, sheet.story.file.code, sheet.story.name, sheet.does, given)
    if sent.text("add"):
        return _show(request, sheet, sent)
    try:
        change = change_by(*series)
        if sent.text("then") != "enter":
            return _show(request, sheet, sent, change=change)
        add_treatment(*series, why=sent.text("why").strip(), author=author_for(request, sent))
    except WrittenWrong as error:
        return _show(request, sheet, sent, list(error.problems))
    except NobodyNamed as error:
        return _show(request, sheet, sent, [missing(error)])
    return done(request, sent, sheet.back)


def _show(
    request: Request,
    sheet: TreatmentForm,
    sent: Sent | None = None,
    problems: list[Problem] | None = None,
    change: Change | None = None,
) -> Response:
    place, told = treatment_field(sheet.does), by_place(problems or [])
    given = gathered(sheet.form, sent, place) if sent else {}
    filled = Filled(given, told, rows_sent(sent) if sent else {}, sheet.network.unit)
    return render(
        request,
        "series_treatment.html",
        title=f"{sheet.does}: {sheet.story.full_name}",
        sheet=sheet,
        fields=widgets(sheet.form, filled, place),
        place=place,
        why=sent.text("why") if sent else "",
        change=change,
        zeros=_zeros(change, sheet.network.unit) if change else [],
        refused=[(said(a), said(b)) for a, b in change.refused] if change else [],
        unit=sheet.network.unit,
        problems=told,
        listed=listed(problems or []),
        status=422 if problems else 200,
        **({"by": sent.text("by")} if sent else {}),
    )


def _zeros(change: Change, unit: str) -> list[tuple[str, ...]]:
    """The tape readings: when, tape, zero before, zero after, moved since the reading before, before and after."""
    told, was, now = [], None, None
    for zero in change.zeros:
        texts = [
            length_text(value, unit, 0.001) if value is not None else "" for value in (zero.before_m, zero.after_m)
        ]
        steps = [_moved(zero.before_m, was, unit), _moved(zero.after_m, now, unit)]
        told.append((said(zero.at_s), length_text(zero.depth_m, unit), *texts, *steps))
        was, now = zero.before_m, zero.after_m
    return told


def _moved(value_m: float | None, before_m: float | None, unit: str) -> str:
    if value_m is None or before_m is None:
        return ""
    return f"{from_si(value_m - before_m, unit, 'length'):+.3f} {unit}"
