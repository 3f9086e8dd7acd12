"""Questions in the order of the work, each answer checked at once, every reading worked out as soon as it is given.

Nothing typed is lost: when the questions stop early, what was given is saved as a sheet that `tapedown visit` reads.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from tapedown.cli.show import finding_lines
from tapedown.engine.checks.at_the_well import said_of
from tapedown.reports.words import headline
from tapedown.values.forms import Field, Form, Problem
from tapedown.values.kinds import KINDS
from tapedown.values.reading_forms import METHODS
from tapedown.values.seen import HUNG_UP, NO_PUMP, NONE_SEEN, NOT_REACHED, OIL, SEEN
from tapedown.values.times import zone
from tapedown.work.authorship import now
from tapedown.work.entry.entering import read_visit, when_written
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import WrittenWrong
from tapedown.work.wells.files import well_file

CAUTIONS = (
    "Permission first. Stand clear of a well under pressure; open it slowly. Never enter a pit without the training",
    "and permit it asks for; keep steel tape off live parts; never sound a pumping well. Local rules come first.",
)


def ask_fields(form: Form, length_unit: str) -> dict[str, Any]:
    """Ask for the plain fields of a form; groups and lists of groups are for a file."""
    given: dict[str, Any] = {}
    for field in form.asked:
        if field.form is None:
            answer = _ask(field, length_unit)
            if answer:
                given[field.name] = _parts(field, answer)
    return given


def _parts(field: Field, answer: str) -> Any:
    """An answer, or the answers where a field takes several."""
    between = "," if field.kind == "choice" else ";"
    return [part.strip() for part in answer.split(between) if part.strip()] if field.many else answer


def ask_visit(network: OpenNetwork, code: str) -> dict[str, Any]:
    """A visit by questions. Raises NoSuchWell before the first one."""
    file = well_file(network, code)
    for line in CAUTIONS:
        click.echo(line)
    identity = file.identity
    click.echo(f"\n{code} {identity.name if identity else ''}: {identity.place if identity else ''}".rstrip(": "))
    point = file.in_force("measuring point", "")
    if point is not None:
        click.echo(f"measuring point {point.name}: {point.description} ({point.height} {point.side} land surface)")
    given: dict[str, Any] = {"well": code}
    try:
        _ask_rest(network, given)
    except (click.Abort, KeyboardInterrupt, EOFError):
        _save(given)
        raise click.Abort from None
    return given


def _ask_rest(network: OpenNetwork, given: dict[str, Any]) -> None:
    clock = now().astimezone(zone(network.facts.zone))
    given["when"] = click.prompt("when", default=f"{clock:%Y-%m-%dT%H:%M}")
    given["seen"] = {}
    _ask_seen(given["seen"], network)
    _tell_seen(given, network)
    plain = [field for field in KINDS["visit"].asked if field.form is None]
    for field in plain:
        if field.before:
            _put(given, field, network.unit)
    given["readings"] = []
    while method := _method(first=not given["readings"]):
        given["readings"].append({"method": method, "readings": []})
        _ask_set(network, given, given["readings"][-1])
    for field in plain:
        if not field.before and field.asked != "seldom":
            _put(given, field, network.unit)


ASKED_OF = {
    "water": ("water", "depth_reached"),
    "pump": ("pump", "pump_since"),
    "near by": ("near_by",),
    "hole": ("in_the_hole", "oil_thickness", "hung_up_at"),
    "no reading": ("no_reading", "gone"),
}
"""What a person may want to tell of what goes on, and the fields asked for it."""
_ONLY_WITH = {"depth_reached": NOT_REACHED, "oil_thickness": OIL, "hung_up_at": HUNG_UP}
_NOTHING_TO_TIME = ("", NO_PUMP)


def _ask_seen(seen: dict[str, Any], network: OpenNetwork) -> None:
    """What goes on: Enter for a quiet well, else only what there is to tell."""
    click.echo(f"what goes on at the well? Enter: as usual, nothing. Else name it, with commas: {', '.join(ASKED_OF)}")
    while True:
        answer = click.prompt("what goes on", default="as usual")
        words = [word.strip() for word in answer.split(",") if word.strip()]
        if words == ["as usual"]:
            seen["quiet"] = True
            return
        unknown = [word for word in words if word not in ASKED_OF]
        if words and not unknown:
            break
        click.echo(f"  not known: {', '.join(unknown)}; it is one or more of: {', '.join(ASKED_OF)}")
    fields = {field.name: field for field in SEEN.asked}
    for name in (name for word in words for name in ASKED_OF[word]):
        _ask_fact(seen, fields[name], network.unit)


def _tell_seen(given: dict[str, Any], network: OpenNetwork) -> None:
    """What follows from what goes on, while the person still stands there."""
    seen, _ = SEEN.read(given["seen"], network.unit)
    when, _ = when_written(given["when"], network)
    for line in finding_lines(said_of(seen, when, network.settings) if seen else ()):
        click.echo(line)


def _ask_fact(seen: dict[str, Any], field: Field, length_unit: str) -> None:
    facts = [*seen.get("water", ()), *seen.get("in_the_hole", ())]
    if field.name in _ONLY_WITH and _ONLY_WITH[field.name] not in facts:
        return
    if field.name == "pump_since" and seen.get("pump", "") in _NOTHING_TO_TIME:
        return
    if field.form is not None:
        while one := _ask_near_by(field.form, length_unit):
            seen.setdefault(field.name, []).append(one)
        return
    answer = _ask(field, length_unit)
    if answer:
        seen[field.name] = _parts(field, answer)


def _ask_near_by(form: Form, length_unit: str) -> dict[str, Any]:
    """One well, work or water near by; {} when there is no other."""
    what, *rest = form.asked
    does = _ask(what._replace(required=False), length_unit, f"near by ({' | '.join(what.choices)}), Enter for no other")
    if not does or does == NONE_SEEN:
        return {what.name: does} if does else {}
    return {what.name: does, **ask_fields(form._replace(fields=tuple(rest)), length_unit)}


def _method(*, first: bool) -> str:
    numbered = list(METHODS)
    if first:
        click.echo("methods: " + ", ".join(f"{i} {name}" for i, name in enumerate(numbered, 1)))
    while True:
        word = "method" if first else "another method"
        answer: str = click.prompt(f"{word} (number or name, Enter for none)", default="", show_default=False)
        if not answer or answer in numbered:
            return answer
        if answer.isdigit() and 1 <= int(answer) <= len(numbered):
            return numbered[int(answer) - 1]
        click.echo(f"  {answer!r} is not one of them")


def _ask_set(network: OpenNetwork, given: dict[str, Any], group: dict[str, Any]) -> None:
    form = METHODS[group["method"]]
    seen, _ = SEEN.read(given["seen"], network.unit)
    moves = seen is not None and seen.moves
    fields = {field.name: field for field in form.fields}
    if group["method"] == "weighted tape":
        click.echo("  (the weight interval may stay empty when the weight is known with its own)")
    for field in form.fields:
        if field.before or (field.asked == "moving" and moves):
            _put(group, field, network.unit)
    number = 1
    while True:
        answer = _ask_reading(fields["readings"], number, network.unit)
        if answer is None:
            break
        group["readings"].append(answer)
        if not _tell(network, given):
            group["readings"].pop()
            continue
        number += 1


def _ask_reading(field: Field, number: int, length_unit: str) -> Any:
    """One repeat: a number, or the numbers of a pair; None when there is no other."""
    more = "" if number == 1 else ", Enter when there is no other"
    if field.form is None:
        single = field._replace(many=False, required=number == 1)
        return _ask(single, length_unit, f"reading {number}{more}") or None
    pair: dict[str, str] = {}
    for inner in field.form.fields:
        answer = _ask(inner._replace(required=bool(pair) or number == 1), length_unit, f"{inner.name} {number}{more}")
        if not answer:
            return None
        pair[inner.name] = answer
    return pair


def _tell(network: OpenNetwork, given: dict[str, Any]) -> bool:
    """Work out what there is so far and show it; False when it cannot be read."""
    try:
        read = read_visit(network, given)
    except WrittenWrong as error:
        for problem in error.problems:
            click.echo(f"  {problem.place}: {problem.message}; {problem.mend}")
        return False
    value = read.sets[-1].value
    click.echo(f"    {headline(value)}   {value.agreement}")
    for line in finding_lines([f for f in value.findings if f.weight != "note"]):
        click.echo(f"  {line}")
    return True


def _put(group: dict[str, Any], field: Field, length_unit: str) -> None:
    answer = _ask(field, length_unit)
    if answer:
        group[field.name] = answer


def _ask(field: Field, length_unit: str, label: str = "") -> str:
    """Ask until the answer can be read; an empty answer leaves out what is not required."""
    choices = f" ({' | '.join(field.choices)})" if field.choices else ""
    text = label or f"{field.name.replace('_', ' ')}: {field.help}{choices}"
    while True:
        answer: str = click.prompt(text, default="", show_default=False).strip()
        problems = _problems(field, answer, length_unit)
        if not problems:
            return answer
        for problem in problems:
            click.echo(f"  {problem.message}; {problem.mend}")


def _problems(field: Field, answer: str, length_unit: str) -> list[Problem]:
    keep: Callable[..., Any] = lambda **values: values  # noqa: E731
    given = {field.name: _parts(field, answer)} if answer else {}
    return Form("answer", keep, "", (field,)).read(given, length_unit)[1]


def _save(given: dict[str, Any]) -> None:
    """Keep what was typed so far as a sheet beside the person."""
    if len(given) < 2:
        return
    path = Path(f"visit-{given['well']}-{now():%Y%m%dT%H%M%S}.json")
    path.write_text(json.dumps(given, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    click.echo(f"\nwhat was given so far is in {path}; go on with: tapedown visit {path}", err=True)
