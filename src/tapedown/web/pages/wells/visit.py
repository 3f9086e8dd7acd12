"""A visit entered at the desk from paper notes, in the order of the work; worked out before it is entered in ink."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, NamedTuple

from fastapi import APIRouter, Depends, Request, Response

from tapedown.exchange.shapes import FieldJson, form_to_json
from tapedown.values.forms import Form, Problem
from tapedown.values.kinds import KINDS
from tapedown.values.ledger.entries import Entry
from tapedown.values.reading_forms import METHODS
from tapedown.values.seen import USUAL_REASONS, seen_words
from tapedown.values.times import zone
from tapedown.web.answers import answers
from tapedown.web.forms import Filled, FormJson, Widget, by_place, gathered, gear_list, listed, rows_sent, widgets
from tapedown.web.links import value_path, well_path, words_of
from tapedown.web.pages.common import author_for, done, network_at, office_of, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.entry.entering import VisitRead, read_visit, same_day_visits, write_visit
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.refusals import NobodyNamed, WrittenWrong
from tapedown.work.rounds.cautions import GENERAL, well_cautions
from tapedown.work.wells.files import WellFile, well_file

router = APIRouter()
ARRIVING = ("people", "seen", "point_checked")
"""Fields of a visit that stand before the readings; the others stand after them."""
MOST_SETS = 12
FOLDED = ("seldom", "moving")
"""When fields of a set are asked that stay folded away until they are wanted."""


class SetShown(NamedTuple):
    """A reading set on the page: its number, method, the fields always shown and those folded away."""

    number: int
    method: str
    fields: Sequence[Widget]
    seldom: Sequence[Widget]
    problems: Sequence[Problem]

    @property
    def unfolded(self) -> bool:
        """Whether something folded away is filled or wrong."""
        return any(_used(widget) for widget in self.seldom)


def _used(widget: Widget) -> bool:
    return bool(widget.value or widget.problems or widget.ticked or any(_used(inner) for inner in widget.inner))


class VisitFormJson(FormJson):
    """The form of a visit: its own fields, the fields of a reading set by method, cautions."""

    methods: dict[str, list[FieldJson]]
    cautions: Sequence[str]


class VisitDesk(NamedTuple):
    """The well a visit is entered for."""

    network: OpenNetwork
    file: WellFile


def _desk(request: Request, code: str) -> VisitDesk:
    network = network_at(request)
    return VisitDesk(network, well_file(network, words_of(code)))


def _first(request: Request, desk: VisitDesk) -> dict[str, str]:
    """What the empty form starts from: the time of now, and the method used here last."""
    clock = office_of(request).clock().astimezone(zone(desk.network.facts.zone))
    before = [f.value.method for f in desk.file.of_kind("readings")]
    return {"when": f"{clock:%Y-%m-%d %H:%M}", "readings[1].method": before[-1] if before else "chalked tape"}


def _cautions(desk: VisitDesk) -> tuple[str, ...]:
    point = desk.file.in_force("measuring point", "")
    return (*well_cautions((), point, desk.file.in_force("access", "")), *GENERAL)


@answers(router, "/wells/{code}/visit.json", tags=["forms"])
def visit_json(request: Request, code: str) -> VisitFormJson:
    """What a visit asks for; a field of a reading set is sent as readings[1].name, readings[2].name, ..."""
    desk = _desk(request, code)
    unit = desk.network.unit
    return {
        "kind": "visit",
        "about": desk.file.code,
        "sent_to": f"{well_path(desk.file.code)}/visit",
        "fields": form_to_json(KINDS["visit"], unit),
        "given": _first(request, desk),
        "methods": {name: form_to_json(form, unit) for name, form in METHODS.items()},
        "cautions": _cautions(desk),
    }


@router.get("/wells/{code}/visit", include_in_schema=False)
def visit_page(request: Request, code: str) -> Response:
    """The form, empty, with the time of now."""
    desk = _desk(request, code)
    return show(request, desk, Sent(tuple(_first(request, desk).items()), {}))


@router.post("/wells/{code}/visit", include_in_schema=False)
def visit_sent(request: Request, code: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Add a row or a set, work it out, or enter it."""
    desk = _desk(request, code)
    if sent.text("add") or sent.text("do") in {"add set", ""} or sent.text("remove"):
        return show(request, desk, sent)
    try:
        read = read_visit(desk.network, given_visit(desk.file.code, sent))
        author = author_for(request, sent) if sent.text("do") == "enter" else None
    except WrittenWrong as error:
        return show(request, desk, sent, problems=[_at(p) for p in error.problems])
    except NobodyNamed as error:
        return show(request, desk, sent, read=read, problems=[missing(error)])
    same_day = same_day_visits(desk.file, read.measured_at)
    if author is None or (same_day and sent.text("again") != "yes"):
        return show(request, desk, sent, read=read, same_day=same_day, asked=author is not None)
    written = write_visit(desk.network, read, author)
    where = value_path(desk.file.code, written[1].id) if len(written) == 2 else well_path(desk.file.code)
    return done(request, sent, where)


def given_visit(code: str, sent: Sent) -> dict[str, Any]:
    """The form as `read_visit` takes it."""
    sets = [{"method": method, **gathered(METHODS[method], sent, place)} for place, method in _sets(sent)]
    fields = gathered(KINDS["visit"], sent)
    return {**fields, "well": code, "when": sent.text("when"), "readings": sets}


def _sets(sent: Sent) -> list[tuple[str, str]]:
    """Place and method of every set on the page, in order."""
    found = []
    for number in range(1, MOST_SETS + 1):
        method = sent.text(f"readings[{number}].method")
        if method in METHODS and sent.text("remove") != str(number):
            found.append((f"readings[{number}]", method))
    return found


def _at(problem: Problem) -> Problem:
    """The place of a problem on the page: with a single set the engine leaves its number out."""
    rest = problem.place.removeprefix("readings.")
    return problem if rest == problem.place else problem._replace(place=f"readings[1].{rest}")


def show(
    request: Request,
    desk: VisitDesk,
    sent: Sent,
    *,
    read: VisitRead | None = None,
    problems: Sequence[Problem] = (),
    same_day: Sequence[Entry] = (),
    asked: bool = False,
) -> Response:
    """The form with everything typed so far, and what it comes to when it was worked out."""
    told = by_place(problems)
    rows, unit = rows_sent(sent), desk.network.unit
    visit = KINDS["visit"]
    fields = {w.name: w for w in widgets(visit, Filled(gathered(visit, sent), told, rows, unit))}
    return render(
        request,
        "visit.html",
        title=f"visit to {desk.file.code}",
        code=desk.file.code,
        path=well_path(desk.file.code),
        point=desk.file.in_force("measuring point", ""),
        cautions=_cautions(desk),
        when=sent.text("when"),
        fields=fields,
        leaving=[w for name, w in fields.items() if name not in ARRIVING],
        goes_on={w.label: w._replace(list="reasons" if w.label == "no reading" else "") for w in fields["seen"].inner},
        reasons=USUAL_REASONS,
        something=any(_used(w) for w in fields["seen"].inner if w.label != "quiet"),
        noted=seen_words(read.visit.seen) if read else [],
        sets=_shown(sent, told, rows, unit),
        methods=[(name, form.help) for name, form in METHODS.items()],
        gear=_gear(desk.network),
        read=read,
        same_day=same_day,
        again=sent.text("again"),
        asked=asked,
        problems=told,
        listed=listed(problems),
        status=422 if problems else 409 if asked and same_day else 200,
        **({"by": sent.text("by")} if sent.text("do") else {}),
    )


def _shown(sent: Sent, told: Mapping[str, list[Problem]], rows: Mapping[str, int], unit: str) -> list[SetShown]:
    """The sets of the page, numbered anew, and a new one when it was asked for."""
    found = []
    for number, (place, method) in enumerate(_sets(sent), 1):
        form, here = METHODS[method], f"readings[{number}]"
        counts = {name.replace(place, here, 1): count for name, count in rows.items() if name.startswith(place)}
        filled = Filled(gathered(form, sent, place), told, counts, unit)
        found.append(_set(number, form, filled, told.get(f"{here}.method", ())))
    if sent.text("do") == "add set" and sent.text("new_method") in METHODS and len(found) < MOST_SETS:
        found.append(_set(len(found) + 1, METHODS[sent.text("new_method")], Filled({}, unit=unit), ()))
    return found


def _set(number: int, form: Form, filled: Filled, problems: Sequence[Problem]) -> SetShown:
    """What is known before the first reading, then the readings; the rest folded away."""
    place = f"readings[{number}]"
    folded = [field.name for field in form.asked if field.asked in FOLDED]
    first = [field.name for field in form.asked if field.before]
    often = widgets(form, filled, place, leave_out=folded)
    often.sort(key=lambda w: w.name.removeprefix(f"{place}.") not in first)
    seldom = widgets(form, filled, place, leave_out={field.name for field in form.asked} - set(folded))
    return SetShown(number, form.name, often, seldom, problems)


def _gear(network: OpenNetwork) -> dict[str, list[str]]:
    """Serial numbers to choose from, by the list of the page they stand in."""
    shelf = sorted(gear_shelf(network).gear.items())
    asked = {field.gear for form in METHODS.values() for field in form.asked if field.gear}
    return {gear_list(types): [serial for serial, gear in shelf if gear.type in types] for types in sorted(asked)}
