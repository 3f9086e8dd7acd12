"""Commands that write: start, add, visit, strike, correct, settings, attach, review, reduce, import."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from tapedown.cli.ask import ask_fields, ask_visit
from tapedown.cli.desk import Desk, as_json, at_desk, print_json, progress_shown, read_bytes, read_file
from tapedown.cli.exits import SET_ASIDE
from tapedown.cli.show import finding_lines, reduction_lines
from tapedown.exchange.shapes import ReductionJson, entry_to_json
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.exchange.to_json import reduction_to_json
from tapedown.reports.words import day_text, headline, when_text
from tapedown.values.kinds import KINDS
from tapedown.values.ledger import reviews
from tapedown.values.seen import seen_words
from tapedown.values.settings import SETTINGS
from tapedown.work.entry.documents import attach
from tapedown.work.entry.entering import (
    Entered,
    VisitRead,
    correct,
    enter_fact,
    read_visit,
    same_day_visits,
    strike,
    write_visit,
)
from tapedown.work.imports.tables import import_table, report_lines, report_to_json
from tapedown.work.networks import change_settings, shown_place, start_network
from tapedown.work.one_off import reduce_once
from tapedown.work.wells.files import well_file
from tapedown.work.wells.history import entry_meant, find_row, history

OTHERWISE = {"readings", "network", "visit", "document", "review", "strike", "import", "round", "device", "logger file",
             "treatment", *reviews.FORMS}  # fmt: skip
"""Kinds with a command or a page of their own."""
FACTS = [kind for kind in KINDS if kind not in OTHERWISE]


@click.command()
@click.argument("folder")
@click.option("--name", prompt="Name of the network", help="What the network is called.")
@click.option("--unit", "length_unit", type=click.Choice(["ft", "m"]), prompt="Lengths are written in", help="ft or m.")
@click.option("--datum", prompt="Vertical datum of elevations", help="Vertical datum, such as NAVD88.")
@click.option("--zone", prompt="Time zone of the wells", help="Time zone, such as Europe/London.")
@at_desk
def start(desk: Desk, folder: str, name: str, length_unit: str, datum: str, zone: str) -> None:
    """Start a network in FOLDER (or at a database address)."""
    given = {"name": name, "length_unit": length_unit, "vertical_datum": datum, "zone": zone}
    start_network(folder, given, desk.author()).record.close()
    shown = shown_place(folder)
    click.echo(f"started {name} in {shown}: lengths in {length_unit}, elevations in {datum}, clock {zone}")
    click.echo(f"next: tapedown -n '{shown}' add well MF-01 name='...'")


@click.command()
@click.argument("kind", type=click.Choice(FACTS))
@click.argument("about")
@click.argument("fields", nargs=-1, metavar="[FIELD=VALUE]...")
@click.option("--from", "since", default="", metavar="DATE", help="The day or time from which it holds.")
@click.option("--file", "path", default="", help="A TOML or JSON file with the fields.")
@as_json
@at_desk
def add(desk: Desk, kind: str, about: str, fields: Sequence[str], since: str, path: str, as_json: bool) -> None:
    """Add a fact: what KIND of fact, ABOUT which well or serial number, and its fields.

    Without fields it asks for them. `tapedown fields KIND` lists them.

    \b
      tapedown add well MF-07 name="Alder Carr" place="200 m north of the sluice"
      tapedown add "measuring point" MF-07 name=MP-1 height="3.40 ft" side=above \\
          description="notch in the steel casing, north side" --from 2015-05-01
    """
    network = desk.network()
    given = {**(read_file(path) if path else {}), **pairs(fields)}
    if not given and kind != "well":
        given = ask_fields(KINDS[kind], network.unit)
    since = since or str(given.pop("from", ""))
    entered = enter_fact(network, kind, about, given, desk.author(), measured_at=since)
    _tell_entered(entered, as_json)


def pairs(fields: Sequence[str]) -> dict[str, Any]:
    """FIELD=VALUE words as a mapping; a field given twice becomes a list, seen.pump is the field pump of seen."""
    values: dict[str, Any] = {}
    for field in fields:
        name, equals, value = field.partition("=")
        if not equals:
            raise click.BadParameter(f"{field!r} is not FIELD=VALUE", param_hint="FIELD=VALUE")
        group, _, own = name.rpartition(".")
        within = values.setdefault(group, {}) if group else values
        if own in within:
            before = within[own] if isinstance(within[own], list) else [within[own]]
            within[own] = [*before, value]
        else:
            within[own] = value
    return values


def _tell_entered(entered: Entered, as_json: bool) -> None:
    if as_json:
        print_json({"entry": entry_to_json(entered.entry), "findings": entered.findings})
        return
    entry = entered.entry
    since = f" from {day_text(entry.measured_at)}" if entry.measured_at else ""
    click.echo(f"entered {entry.kind} of {entry.subject or entry.about}{since} (id ends {entry.id[-8:]})")
    for line in finding_lines(entered.findings):
        click.echo(line)


@click.command()
@click.argument("what", metavar="FILE|WELL")
@click.option("--dry-run", is_flag=True, help="Work it out and show it, write nothing.")
@click.option("--again", is_flag=True, help="Enter it although this well has a visit on that day already.")
@as_json
@at_desk
def visit(desk: Desk, what: str, dry_run: bool, again: bool, as_json: bool) -> None:
    """Enter a visit: from FILE (TOML or JSON), or by questions at WELL.

    Questions come in the order of the work, and every reading is worked out as soon as it is given.
    """
    network = desk.network()
    from_file = Path(what).suffix.lower() in {".toml", ".json"} or Path(what).is_file()
    given = read_file(what) if from_file else ask_visit(network, what)
    read = read_visit(network, given)
    if not as_json:
        _show_visit(read)
    if dry_run:
        _finish_dry(read, as_json)
        return
    before = same_day_visits(well_file(network, read.code), read.measured_at)
    if before and not again:
        click.echo(
            f"{read.code} has a visit on {read.measured_at[:10]} already (id ends {before[-1].id[-8:]})", err=True
        )
        click.echo("  -> nothing was written; if this is another visit, enter it with --again", err=True)
        click.get_current_context().exit(3)
    entries = write_visit(network, read, desk.author(str(given.get("by", ""))))
    if as_json:
        print_json({"entries": [entry_to_json(e) for e in entries], "reductions": _reductions(read)})
        return
    sets = f" with {len(entries) - 1} reading set{'s' if len(entries) != 2 else ''}" if len(entries) > 1 else ""
    click.echo(f"entered the visit to {read.code}{sets} (id ends {entries[0].id[-8:]})")
    click.echo(f"next: tapedown explain {read.code} last    |    tapedown history {read.code}")


def _reductions(read: VisitRead) -> list[ReductionJson]:
    return [reduction_to_json(s.value) for s in read.sets]


def _finish_dry(read: VisitRead, as_json: bool) -> None:
    if as_json:
        print_json({"reductions": _reductions(read)})
    else:
        click.echo("dry run: nothing was written")


def _show_visit(read: VisitRead) -> None:
    noted = ", ".join(seen_words(read.visit.seen))
    click.echo(f"{read.code}, {when_text(read.measured_at)}: {noted or 'what goes on is not noted'}")
    for line in finding_lines(read.said):
        click.echo(line)
    for reduced in read.sets:
        click.echo(
            f"  {reduced.readings.method}: {headline(reduced.value)}, {reduced.value.use}, {reduced.value.quality}"
        )
        click.echo(f"    {reduced.value.agreement}")
        for line in finding_lines(reduced.value.findings):
            click.echo(f"  {line}")
    if read.reached is not None:
        click.echo(f"  {headline(read.reached)}")


@click.command(name="strike")
@click.argument("about", metavar="WELL|SERIAL")
@click.argument("which")
@click.option("--reason", default="", help="What was wrong.")
@at_desk
def strike_command(desk: Desk, about: str, which: str, reason: str) -> None:
    """Strike an entry about a WELL or a piece of gear. It stays readable, with the reason.

    WHICH is the end of the entry's id, or for a reading a date, a method or 'last'.
    """
    network = desk.network()
    written = strike(network, entry_meant(network, about, which), reason, desk.author())
    plural = "entries" if len(written) > 1 else "entry"
    click.echo(f"struck {len(written)} {plural} about {about}: {reason}")
    click.echo(f"what was known before: tapedown history {about} --as-of DATE; with struck entries: --struck")


@click.command(name="correct")
@click.argument("about", metavar="WELL|SERIAL")
@click.argument("which")
@click.argument("fields", nargs=-1, metavar="[FIELD=VALUE]...")
@click.option("--file", "path", default="", help="A TOML or JSON file with the changed fields (pairs, groups).")
@click.option("--reason", default="", help="Why the old entry was wrong.")
@as_json
@at_desk
def correct_command(
    desk: Desk, about: str, which: str, fields: Sequence[str], path: str, reason: str, as_json: bool
) -> None:
    """Correct an entry: a new one with the changed fields strikes the old one.

    \b
      tapedown correct MF-07 2026-05-14 readings="84.30" readings="84.31" --reason "read 48 for 84"
    """
    network = desk.network()
    target = entry_meant(network, about, which)
    changes = {**(read_file(path) if path else {}), **pairs(fields)}
    if not changes:
        raise click.UsageError("say what changes: FIELD=VALUE, or --file FILE")
    entered = correct(network, target, changes, reason, desk.author())
    _tell_entered(entered, as_json)
    if not as_json:
        click.echo(f"it strikes the entry ending {target[-8:]}: {reason}")
        if entered.entry.kind == "readings":
            row = find_row(history(network, about), entered.entry.id[-8:])
            click.echo(f"now: {headline(row.value) if row.value else 'no value'}, quality {row.quality}")


@click.command()
@click.argument("changes", nargs=-1, metavar="[NAME=VALUE]...")
@click.option("--reason", default="changed by hand", help="Why.")
@as_json
@at_desk
def settings(desk: Desk, changes: Sequence[str], reason: str, as_json: bool) -> None:
    """Show the network's settings with their sources, or change some."""
    network = desk.network()
    if changes:
        change_settings(network, {k: str(v) for k, v in pairs(changes).items()}, desk.author(), reason)
        network.record.close()
        network = desk.network()
    rows = [
        {"name": s.name, "value": network.settings.text(s.name), "meaning": s.meaning,
         "source": network.settings.source(s.name)}
        for s in SETTINGS
    ]  # fmt: skip
    if as_json:
        print_json(rows)
        return
    for row in rows:
        click.echo(f"{row['name']} = {row['value']}\n    {row['meaning']} ({row['source']})")


@click.command(name="attach")
@click.argument("well")
@click.argument("path", metavar="FILE")
@click.option("--caption", default="", help="What it shows.")
@click.option("--on", "day", default="", help="The day it was taken.")
@at_desk
def attach_command(desk: Desk, well: str, path: str, caption: str, day: str) -> None:
    """Keep a photo or paper (JPEG, PNG, PDF, text) with WELL."""
    entered = attach(desk.network(), well, read_bytes(path), Path(path).name, caption, desk.author(), measured_at=day)
    click.echo(f"kept {Path(path).name} with {well} (sha256 {entered.data['sha256'][:12]}...)")


@click.command()
@click.argument("well")
@click.argument("which")
@click.argument("quality", type=click.Choice(["good", "suspect", "estimate", "poor", "unchecked", "missing"]))
@click.option("--why", required=True, help="Why.")
@at_desk
def review(desk: Desk, well: str, which: str, quality: str, why: str) -> None:
    """Give a reading a quality after a second person looked at it."""
    network = desk.network()
    row = find_row(history(network, well), which)
    given = {"entry": row.entry.id, "quality": quality, "why": why}
    enter_fact(network, "review", well, given, desk.author(), measured_at=row.entry.measured_at)
    click.echo(f"{well}, {when_text(row.entry.measured_at)}: {quality} ({why})")


@click.command()
@click.argument("path", metavar="FILE")
@as_json
def reduce(path: str, as_json: bool) -> None:
    """Work out one reading set from a TOML or JSON FILE, without any record."""
    value, _ = reduce_once(read_file(path))
    if as_json:
        print_json(reduction_to_json(value))
        return
    click.echo("\n".join(reduction_lines(value)))


@click.command(name="import")
@click.argument("table")
@click.argument("mapping")
@click.option("--dry-run", is_flag=True, help="Show what would be entered, write nothing.")
@click.option("--most", default=20, show_default=True, help="How many examples of each reason are shown.")
@as_json
@at_desk
def import_command(desk: Desk, table: str, mapping: str, dry_run: bool, most: int, as_json: bool) -> int:
    """Take in a TABLE (CSV, xlsx) of readings or wells as MAPPING (TOML) describes it.

    Every line is accounted for: entered, already there, or set aside with its number, the reason and the mend; --json
    lists each. docs/examples has mappings to start from.
    """
    described = read_mapping(read_bytes(mapping), Path(mapping).name)
    network, data, author = desk.network(), read_bytes(table), desk.author()
    with progress_shown() as watch:
        report = import_table(network, data, Path(table).name, described, author, dry_run=dry_run, watch=watch)
    if as_json:
        print_json(report_to_json(report))
    else:
        click.echo("\n".join(report_lines(report, most)))
    return SET_ASIDE if report.totals["set aside"] else 0
