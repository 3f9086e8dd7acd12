"""One renderer for every form of values.forms: from a form and what was given to fields of a page, and back.

A field is named by its place in what is given: `casings[2].top`. Blank rows of a list are dropped when it is read back,
so the places that the checks name are the places of the page shown next.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple, TypedDict

from tapedown.exchange.shapes import FieldJson, form_to_json
from tapedown.values.forms import Field, Form, Problem
from tapedown.web.uploads import Sent

LONG = {"remarks", "permission", "hazards"}
"""Fields that may take more than a line."""
MOST_ROWS = 60
"""Rows of one list on a page."""
_INDEX = re.compile(r"\[(\d{1,3})\]")


class Widget(NamedTuple):
    """A field as a page shows it. kind is "text", "long", "choice", "ticks", "list" or "form".

    one     names one row of a list
    ticked  the words of `choices` that hold, for "ticks"
    """

    kind: str
    name: str
    label: str
    help: str
    value: str = ""
    unit: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    inner: tuple[Any, ...] = ()
    one: str = ""
    list: str = ""
    ticked: tuple[str, ...] = ()

    @property
    def anchor(self) -> str:
        """The id of the field on its page."""
        return anchor(self.name)


class Filled(NamedTuple):
    """What a form is filled with: what was given, the problems by place, how many rows a list had on the page."""

    given: Mapping[str, Any]
    problems: Mapping[str, Sequence[Problem]] = {}
    rows: Mapping[str, int] = {}
    unit: str = "ft"


def anchor(name: str) -> str:
    """A place as an id: letters, digits, hyphens.

    Example
    -------
    >>> anchor("casings[2].top")
    'f-casings-2--top'
    """
    return "f-" + re.sub(r"[^A-Za-z0-9]", "-", name)


def widgets(form: Form, filled: Filled, place: str = "", *, leave_out: Iterable[str] = ()) -> list[Widget]:
    """The fields of a form, filled."""
    given = filled.given if isinstance(filled.given, Mapping) else {}
    out = set(leave_out)
    return [
        _widget(field, given.get(field.name), filled, f"{place}.{field.name}" if place else field.name)
        for field in form.asked
        if field.name not in out
    ]


def _widget(field: Field, given: Any, filled: Filled, name: str) -> Widget:
    label = field.name.replace("_", " ")
    problems = tuple(filled.problems.get(name, ()))
    if field.many and field.kind == "choice":
        ticked = tuple(given) if isinstance(given, (list, tuple)) else ()
        wrong = tuple(p for at, found in filled.problems.items() if at.startswith(f"{name}[") for p in found)
        return Widget("ticks", name, label, field.help, required=field.required, choices=field.choices,
                      problems=problems + wrong, ticked=ticked)  # fmt: skip
    if field.many:
        rows = _rows(field, given, filled, name)
        unit = _unit(field, filled.unit) if field.form is None else ""
        return Widget("list", name, label, field.help, "", unit, field.required, (), problems, rows, _one(field))
    if field.kind == "form":
        given = given if isinstance(given, Mapping) else {}
        inner = tuple(widgets(field.form, filled._replace(given=given), name))
        return Widget("form", name, label, field.help, required=field.required, problems=problems, inner=inner)
    value = _said(given)
    if field.kind in {"choice", "flag"}:
        choices = field.choices or ("yes", "no")
        return Widget("choice", name, label, field.help, value, "", field.required, choices, problems)
    kind = "long" if field.name in LONG else "text"
    unit = _unit(field, filled.unit)
    return Widget(kind, name, label, field.help, value, unit, field.required, (), problems, list=gear_list(field.gear))


def gear_list(types: Sequence[str]) -> str:
    """The id of the list of serial numbers of these types of gear on a page; "" for none."""
    return "-".join(["serials", *types]).replace(" ", "-") if types else ""


def _said(given: Any) -> str:
    if isinstance(given, bool):
        return "yes" if given else "no"
    return "" if given is None or isinstance(given, (Mapping, list, tuple)) else str(given)


def _unit(field: Field, length_unit: str) -> str:
    return "" if field.kind in {"text", "choice", "flag", "when", "since", "form"} else field.unit(length_unit)


def _one(field: Field) -> str:
    if field.name == "people":
        return "person"
    return field.form.name if field.form is not None else field.name.replace("_", " ").removesuffix("s")


def _rows(field: Field, given: Any, filled: Filled, name: str) -> tuple[Widget, ...]:
    """The rows given, and spare ones: as many as the page had, or one, or two of what must be there."""
    listed = list(given) if isinstance(given, (list, tuple)) else [] if given in (None, "") else [given]
    least = 2 if field.required else 1 if not listed else 0
    count = min(MOST_ROWS, max(len(listed), filled.rows.get(name, 0), least))
    single = field._replace(many=False, required=False)
    listed += [None] * (count - len(listed))
    made = (_widget(single, item, filled, f"{name}[{number}]") for number, item in enumerate(listed, 1))
    return tuple(w._replace(label=f"{_one(field)} {n}", help="") for n, w in enumerate(made, 1))


class FormJson(TypedDict):
    """What a form page asks for, where it is sent (as a form, from the page), and what it starts from."""

    kind: str
    about: str
    sent_to: str
    fields: list[FieldJson]
    given: Mapping[str, Any]


def asks_for(form: Form, *, about: str, sent_to: str, unit: str, given: Mapping[str, Any]) -> FormJson:
    """A form page as JSON: what it asks for, where it is sent, what it starts from."""
    return {"kind": form.name, "about": about, "sent_to": sent_to, "fields": form_to_json(form, unit), "given": given}


def gathered(form: Form, sent: Sent, place: str = "") -> dict[str, Any]:
    """What was given, as `Form.read` takes it; fields left blank are left out."""
    return _group(form, _by_name(sent), place)


def _by_name(sent: Sent) -> dict[str, Any]:
    """Values by name; of a name sent several times, as ticks are, the list of them under "name[]"."""
    found: dict[str, Any] = {}
    for name, value in sent.fields:
        if value.strip():
            found[name] = value
            found.setdefault(f"{name}[]", []).append(value)
    return found


def _group(form: Form, values: Mapping[str, Any], place: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for field in form.asked:
        name = f"{place}.{field.name}" if place else field.name
        given = _list(field, values, name) if field.many else _one_given(field, values, name)
        if given not in ("", None, [], {}):
            found[field.name] = given
    return found


def _one_given(field: Field, values: Mapping[str, Any], name: str) -> Any:
    return _group(field.form, values, name) if field.kind == "form" else values.get(name)


def _list(field: Field, values: Mapping[str, Any], name: str) -> list[Any]:
    if field.kind == "choice":
        return list(values.get(f"{name}[]", ()))
    items = [_one_given(field, values, f"{name}[{index}]") for index in _indexes(values, name)]
    return [item for item in items if item not in (None, "", {})]


def _indexes(values: Iterable[str], name: str) -> list[int]:
    """Numbers of the rows of a list that have something in them."""
    found = {int(m[1]) for key in values if key.startswith(f"{name}[") and (m := _INDEX.match(key, len(name)))}
    return sorted(found)


def rows_sent(sent: Sent) -> dict[str, int]:
    """How many rows each list had on the page, with one more where a row was asked for (`add`)."""
    counts: dict[str, int] = {}
    for name, _ in sent.fields:
        for found in _INDEX.finditer(name):
            place = name[: found.start()]
            counts[place] = max(counts.get(place, 0), int(found[1]))
    if more := sent.text("add"):
        counts[more] = counts.get(more, 0) + 1
    return counts


class Listed(NamedTuple):
    """A problem as the top of a page lists it, with where it leads."""

    place: str
    message: str
    mend: str
    anchor: str


def by_place(problems: Iterable[Problem]) -> dict[str, list[Problem]]:
    """Problems by their place."""
    found: dict[str, list[Problem]] = {}
    for problem in problems:
        found.setdefault(problem.place, []).append(problem)
    return found


def listed(problems: Iterable[Problem]) -> list[Listed]:
    """Problems for the top of a page."""
    return [Listed(p.place, p.message, p.mend, anchor(p.place)) for p in problems]
