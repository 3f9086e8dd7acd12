"""Commands that look: wells, well, history, explain, surprises, bottom, expect, gear, fields."""

from __future__ import annotations

from typing import Any

import click
from tabulate import tabulate

from tapedown.cli.desk import Desk, as_json, as_of_option, at_desk, print_json
from tapedown.cli.show import bottom_lines, finding_lines, history_table, reduction_lines, surprise_lines
from tapedown.engine.checks.at_the_well import RULES
from tapedown.engine.checks.named import CHECKS
from tapedown.exchange.to_json import condition_plain, entry_plain, finding_plain, form_plain
from tapedown.reports.words import day_text, expected_text, headline, when_text
from tapedown.values.forms import Form
from tapedown.values.kinds import KINDS
from tapedown.values.reading_forms import METHODS
from tapedown.values.units import UNITS
from tapedown.work.expected.expecting import expected_now, expected_on
from tapedown.work.expected.explaining import crossed_findings, record_findings
from tapedown.work.expected.explaining import surprises as surprises_of
from tapedown.work.networks import gear_shelf
from tapedown.work.review.reviewing import looks_of, reviewed
from tapedown.work.review.signing import covering
from tapedown.work.rounds.planning import day_or_today
from tapedown.work.to_json import expected_plain, history_plain, row_plain, surprise_plain, well_now_plain
from tapedown.work.wells.files import WellFile, well_codes, well_file
from tapedown.work.wells.history import find_row, history
from tapedown.work.wells.standing import WellNow, wells_now

NOT_FACTS = {"readings", "visit", "strike", "review", "acceptance", "re-measure"}
"""Kinds about a well that `history` tells."""


@click.command()
@as_of_option
@as_json
@at_desk
def wells(desk: Desk, as_of: str, as_json: bool) -> None:
    """All wells with their last reading."""
    found = wells_now(desk.network(as_of))
    if as_json:
        print_json([well_now_plain(w) for w in found])
        return
    if not found:
        click.echo("no wells yet; add the first: tapedown add well MF-01 name='...'")
        return
    rows = [_well_row(w) for w in found]
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
        print_json([{**entry_plain(f.entry), "struck_by": f.struck_by} for f in facts])
        return
    click.echo(_title(file))
    for fact in facts:
        struck = " [struck]" if fact.struck_by else ""
        since = f"from {day_text(fact.entry.measured_at)}, " if fact.entry.measured_at else ""
        click.echo(f"\n{fact.entry.kind}{struck} ({since}by {fact.entry.by}, id ends {fact.entry.id[-8:]})")
        for line in _body_lines(fact.entry.data):
            click.echo(f"  {line}")
        for problem in fact.problems:
            click.echo(f"  cannot be read: {problem.place}: {problem.message}")


def _title(file: WellFile) -> str:
    identity = file.identity
    return f"{file.code}  {identity.name}".rstrip() if identity else file.code


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


@click.command(name="history")
@click.argument("code")
@click.option("--struck", is_flag=True, help="Show struck entries too.")
@as_of_option
@as_json
@at_desk
def history_command(desk: Desk, code: str, struck: bool, as_of: str, as_json: bool) -> None:
    """Everything that was read at a well, worked out, as a table; the state of its bottom below it."""
    network = desk.network(as_of)
    told = history(network, code)
    if as_json:
        print_json(history_plain(told, struck=struck))
        return
    known = f", as known on {as_of}" if as_of else ""
    click.echo(f"{_title(told.file)}{known}\n")
    click.echo(history_table(told, struck=struck))
    if told.bottom is not None:
        click.echo("\nbottom of the well")
        click.echo("\n".join(bottom_lines(told.bottom, network.unit)))
    for line in finding_lines(told.levels):
        click.echo(line)
    for signed in covering(network, code):
        click.echo(f"\nsigned: {signed.words}\n  its values as they stood: tapedown signed {signed.entry.id[-8:]}")
    for fact in told.unreadable:
        click.echo(f"\nentry {fact.entry.id} cannot be read: {'; '.join(p.message for p in fact.problems)}")


@click.command()
@click.argument("code")
@click.argument("which", default="last")
@as_of_option
@as_json
@at_desk
def explain(desk: Desk, code: str, which: str, as_of: str, as_json: bool) -> None:
    """One value with every step, sign, size, source and uncertainty.

    WHICH is a date, the end of an entry's id, or 'last'.
    """
    network = desk.network(as_of)
    told = history(network, code)
    row = find_row(told, which)
    if as_json:
        print_json(row_plain(row))
        return
    entry = row.entry
    click.echo(f"{code}, {when_text(entry.measured_at)}, by {entry.by}, id {entry.id}")
    if row.struck_by is not None:
        click.echo(f"STRUCK by {row.struck_by}")
    if row.noted:
        click.echo(f"noted: {', '.join(row.noted)}")
    if row.review is not None:
        click.echo(f"reviewed: {row.review.quality} ({row.review.why})")
    if row.what != "visit":
        click.echo(reviewed(row, told.file, looks_of(told.file), network).words)
    if row.value is not None:
        click.echo("\n".join(["", *reduction_lines(row.value)]))


@click.command()
@click.argument("code", required=False)
@click.option("--struck", is_flag=True, help="Look at struck readings too.")
@as_of_option
@as_json
@at_desk
def surprises(desk: Desk, code: str | None, struck: bool, as_of: str, as_json: bool) -> None:
    """Readings unlike their well, each with what may have happened, and what would tell at the well.

    Every reading is held against what was known before it. Nothing is changed: the likeliest explanation is a question
    to the person who read. Without CODE, all wells.
    """
    network = desk.network(as_of)
    shelf = gear_shelf(network)
    found, records, histories = [], [], []
    for one in [code] if code else well_codes(network):
        told = history(network, one, shelf=shelf)
        histories.append(told)
        found += [(one, surprise) for surprise in surprises_of(network, told, shelf, struck=struck)]
        records += [whole._replace(about=one) for whole in record_findings(told)]
    records += crossed_findings(histories)
    if as_json:
        readings = [{"well": one, **surprise_plain(surprise)} for one, surprise in found]
        print_json({"readings": readings, "records": [finding_plain(whole) for whole in records]})
        return
    for whole in records:
        click.echo(f"{whole.about}: {whole.message}\n  -> {whole.hint}\n")
    if not found and not records:
        click.echo("nothing stands out from the wells' own histories")
    for one, surprise in found:
        click.echo("\n".join([*surprise_lines(one, surprise, network.unit), ""]))


@click.command()
@click.argument("code")
@as_of_option
@as_json
@at_desk
def bottom(desk: Desk, code: str, as_of: str, as_json: bool) -> None:
    """Is the well filling in? Fill, screen buried, rate, and when a chosen share will be buried."""
    network = desk.network(as_of)
    condition = history(network, code).bottom
    if as_json:
        print_json(condition_plain(condition) if condition else None)
    elif condition is None:
        click.echo(f"{code} has no usable sounding yet")
    else:
        click.echo("\n".join([f"{code}", *bottom_lines(condition, network.unit)]))


@click.command()
@click.argument("code")
@click.option(
    "--on", "day", default="", metavar="DATE", help="The day of the reading; today without it, or the day of --as-of."
)
@as_of_option
@as_json
@at_desk
def expect(desk: Desk, code: str, day: str, as_of: str, as_json: bool) -> None:
    """What the next reading of a well should show, from its own history."""
    network = desk.network(as_of)
    told = history(network, code)
    found = expected_on(told, day_or_today(network, day), network.settings) if day else expected_now(told, network)
    if as_json:
        print_json(expected_plain(found))
        return
    click.echo(f"{_title(told.file)}, on {day_text(found.day)}, below land surface:")
    for what, predictive in (("water", found.level), ("bottom", found.bottom)):
        said = expected_text(predictive, network.unit) if predictive else "nothing was read yet, so nothing is expected"
        click.echo(f"  {what}: {said}")


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
        print_json(form_plain(forms[kind], length_unit))
        return
    click.echo(f"{kind}: {forms[kind].help}")
    click.echo("\n".join(_form_lines(forms[kind], length_unit, "  ")))


def _tell_kinds(as_json: bool) -> None:
    if as_json:
        print_json({"kinds": list(KINDS), "methods": list(METHODS), "rules": [rule.fact for rule in RULES],
                    "checks": list(CHECKS)})  # fmt: skip
        return
    for title, rows in (
        ("kinds of fact", [(name, form.help) for name, form in KINDS.items()]),
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


COMMANDS = (wells, well, history_command, explain, surprises, bottom, expect, gear, fields)
