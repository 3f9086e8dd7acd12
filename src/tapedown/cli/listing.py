"""Commands that list: wells, what is known of one, gear, the fields of what can be written."""

from __future__ import annotations

from typing import Any

import click
from tabulate import tabulate

from tapedown.cli.desk import Desk, as_json, as_of_option, at_desk, print_json
from tapedown.cli.show import title_of
from tapedown.engine.checks.at_the_well import RULES
from tapedown.engine.checks.named import CHECKS
from tapedown.exchange.shapes import form_to_json
from tapedown.reports.words import day_text, headline, when_text
from tapedown.values.forms import Form
from tapedown.values.kinds import KINDS
from tapedown.values.reading_forms import METHODS
from tapedown.values.units import UNITS
from tapedown.work.networks import gear_shelf
from tapedown.work.wells.files import well_file
from tapedown.work.wells.standing import WellNow, wells_now
from tapedown.work.wells.to_json import fact_to_json, standing_to_json

NOT_FACTS = {"readings", "visit", "strike", "review", "acceptance", "re-measure"}
"""Kinds about a well that `history` tells."""


@click.command()
@as_of_option
@as_json
@at_desk
def wells(desk: Desk, as_of: str, as_json: bool) -> None:
    """All wells with their last reading."""
    listed = wells_now(desk.network(as_of))
    if as_json:
        print_json([standing_to_json(w) for w in listed])
        return
    if not listed:
        click.echo("no wells yet; add the first: tapedown add well MF-01 name='...'")
        return
    rows = [_well_row(w) for w in listed]
    header = ["well", "name", "last visited", "noted", "water below land", "bottom below land", "look at"]
    click.echo(tabulate(rows, header, tablefmt="simple", disable_numparse=True))


def _well_row(now: WellNow) -> list[str]:
    checks = ", ".join(dict.fromkeys(f.check for f in now.to_look_at))
    return [
        now.code,
        now.name,
        when_text(now.last.entry.measured_at) if now.last else "never",
        ", ".join(now.last.noted) if now.last else "",
        *(f"{headline(row.value)}" if row and row.value else "" for row in (now.level, now.bottom)),
        checks,
    ]


@click.command()
@click.argument("code")
@as_of_option
@as_json
@at_desk
def well(desk: Desk, code: str, as_of: str, as_json: bool) -> None:
    """What is known about a well: every fact with its date, writer and source."""
    file = well_file(desk.network(as_of), code)
    facts = [f for f in file.facts if f.entry.kind not in NOT_FACTS]
    if as_json:
        print_json([fact_to_json(fact) for fact in facts])
        return
    click.echo(title_of(file))
    for fact in facts:
        struck = " [struck]" if fact.struck_by else ""
        since = f"from {day_text(fact.entry.measured_at)}, " if fact.entry.measured_at else ""
        click.echo(f"\n{fact.entry.kind}{struck} ({since}by {fact.entry.by}, id ends {fact.entry.id[-8:]})")
        for line in _body_lines(fact.entry.data):
            click.echo(f"  {line}")
        for problem in fact.problems:
            click.echo(f"  cannot be read: {problem.place}: {problem.message}")


def _body_lines(body: dict[str, Any], indent: str = "") -> list[str]:
    lines: list[str] = []
    for name, value in body.items():
        rows = value if isinstance(value, list) else [value]
        for row in rows:
            if isinstance(row, dict):
                lines.append(f"{indent}{name}: " + ", ".join(f"{k} {v}" for k, v in row.items()))
            else:
                lines.append(f"{indent}{name}: {row}")
    return lines


@click.command()
@as_of_option
@as_json
@at_desk
def gear(desk: Desk, as_of: str, as_json: bool) -> None:
    """All gear with its last calibration."""
    shelf = gear_shelf(desk.network(as_of))
    last = {serial: dated[-1] for serial, dated in shelf.calibrations.items()}
    if as_json:
        print_json(
            [{"serial": s, "gear": KINDS["gear"].body(g), "calibrated_on": last[s].on if s in last else None}
             for s, g in sorted(shelf.gear.items())]
        )  # fmt: skip
        return
    rows = [
        [serial, g.type, g.description, day_text(last[serial].on) if serial in last else "never",
         last[serial].calibration.against if serial in last else ""]
        for serial, g in sorted(shelf.gear.items())
    ]  # fmt: skip
    click.echo(tabulate(rows, ["serial", "type", "description", "calibrated", "against"], disable_numparse=True))


@click.command()
@click.argument("kind", required=False)
@click.option("--unit", "length_unit", type=click.Choice(["ft", "m"]), default="ft", show_default=True,
              help="Show the units taken in a network of this unit.")  # fmt: skip
@as_json
def fields(kind: str | None, length_unit: str, as_json: bool) -> None:
    """The fields of a kind of fact or of a method; without KIND, all kinds, methods, rules of the well, and checks."""
    forms = {**KINDS, **METHODS}
    if kind is None:
        _tell_kinds(as_json)
        return
    if kind not in forms:
        raise click.BadParameter(f"{kind!r} is neither a kind nor a method; `tapedown fields` lists them")
    if as_json:
        print_json(form_to_json(forms[kind], length_unit))
        return
    click.echo(f"{kind}: {forms[kind].help}")
    click.echo("\n".join(_form_lines(forms[kind], length_unit, "  ")))


def _tell_kinds(as_json: bool) -> None:
    kinds = {name: form.help for name, form in KINDS.items() if form.fields}
    if as_json:
        print_json({"kinds": list(kinds), "methods": list(METHODS), "rules": [rule.fact for rule in RULES],
                    "checks": list(CHECKS)})  # fmt: skip
        return
    for title, rows in (
        ("kinds of fact", list(kinds.items())),
        ("methods", [(name, form.help) for name, form in METHODS.items()]),
        ("what goes on at a well", [(rule.fact, rule.advice) for rule in RULES]),
        ("checks", [(name, check.looks_for) for name, check in CHECKS.items()]),
    ):
        click.echo(f"{title}\n" + tabulate([("  " + a, b) for a, b in rows], tablefmt="plain") + "\n")


def _form_lines(form: Form, length_unit: str, indent: str) -> list[str]:
    lines = []
    for field in form.asked:
        need = ", required" if field.required else ""
        many = ", several" if field.many else ""
        choices = f" ({' | '.join(field.choices)})" if field.choices else ""
        unit = f" in {field.unit(length_unit)}" if field.kind in UNITS and field.unit(length_unit) else ""
        lines.append(f"{indent}{field.name} [{field.kind}{unit}{need}{many}]: {field.help}{choices}")
        if field.form is not None:
            lines += _form_lines(field.form, length_unit, indent + "    ")
    return lines
