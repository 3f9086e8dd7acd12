"""Commands that look: wells, well, history, explain, surprises, bottom, expect, gear, fields."""

from __future__ import annotations

import click

from tapedown.cli.desk import Desk, as_json, as_of_option, at_desk, print_json
from tapedown.cli.show import bottom_lines, finding_lines, history_table, reduction_lines, title_of
from tapedown.engine.expected.next_reading import range_of
from tapedown.engine.explaining.weigh import how_likely, in_percent
from tapedown.exchange.shapes import condition_to_json
from tapedown.reports.words import day_text, expected_text, length_text, when_text
from tapedown.work.expected.expecting import expected_now, expected_on
from tapedown.work.expected.explaining import Surprise, crossed_findings, record_findings
from tapedown.work.expected.explaining import surprises as surprises_of
from tapedown.work.expected.to_json import expected_to_json, surprise_to_json
from tapedown.work.networks import gear_shelf
from tapedown.work.review.reviewing import looks_of, reviewed
from tapedown.work.review.signing import covering
from tapedown.work.rounds.planning import day_or_today
from tapedown.work.wells.files import well_codes
from tapedown.work.wells.history import find_row, history
from tapedown.work.wells.to_json import history_to_json, row_to_json


@click.command(name="history")
@click.argument("code")
@click.option("--struck", is_flag=True, help="Show struck entries too.")
@as_of_option
@as_json
@at_desk
def history_command(desk: Desk, code: str, struck: bool, as_of: str, as_json: bool) -> None:
    """Everything that was read at a well, worked out, as a table; the state of its bottom below it."""
    network = desk.network(as_of)
    well_history = history(network, code)
    if as_json:
        print_json(history_to_json(well_history, struck=struck))
        return
    known = f", as known on {as_of}" if as_of else ""
    click.echo(f"{title_of(well_history.file)}{known}\n")
    click.echo(history_table(well_history, struck=struck))
    if well_history.bottom is not None:
        click.echo("\nbottom of the well")
        click.echo("\n".join(bottom_lines(well_history.bottom, network.unit)))
    for line in finding_lines(well_history.levels):
        click.echo(line)
    for signed in covering(network, code):
        click.echo(f"\nsigned: {signed.words}\n  its values as they stood: tapedown signed {signed.entry.id[-8:]}")
    for fact in well_history.unreadable:
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
    well_history = history(network, code)
    row = find_row(well_history, which)
    if as_json:
        print_json(row_to_json(row))
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
        click.echo(reviewed(row, well_history.file, looks_of(well_history.file), network).words)
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
    listed, records, histories = [], [], []
    for one in [code] if code else well_codes(network):
        well_history = history(network, one, shelf=shelf)
        histories.append(well_history)
        listed += [(one, surprise) for surprise in surprises_of(network, well_history, shelf, struck=struck)]
        records += [whole._replace(about=one) for whole in record_findings(well_history)]
    records += crossed_findings(histories)
    if as_json:
        readings = [{"well": one, **surprise_to_json(surprise)} for one, surprise in listed]
        print_json({"readings": readings, "records": records})
        return
    for whole in records:
        click.echo(f"{whole.about}: {whole.message}\n  -> {whole.hint}\n")
    if not listed and not records:
        click.echo("nothing stands out from the wells' own histories")
    for one, surprise in listed:
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
        print_json(condition_to_json(condition) if condition else None)
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
    well_history = history(network, code)
    expected = (
        expected_on(well_history, day_or_today(network, day), network.settings)
        if day
        else expected_now(well_history, network)
    )
    if as_json:
        print_json(expected_to_json(expected))
        return
    click.echo(f"{title_of(well_history.file)}, on {day_text(expected.day)}, below land surface:")
    for what, predictive in (("water", expected.level), ("bottom", expected.bottom)):
        text = expected_text(predictive, network.unit) if predictive else "nothing was read yet, so nothing is expected"
        click.echo(f"  {what}: {text}")


def surprise_lines(code: str, surprise: Surprise, unit: str) -> list[str]:
    """A reading unlike its well: what was expected, what may have happened, what would tell."""
    row, explained = surprise.row, surprise.explained
    struck = " [struck]" if row.struck_by else ""
    expected = range_of(explained.expected)
    ends = f"{length_text(expected.low_m, unit)} to {length_text(expected.high_m, unit)}"
    lines = [
        f"{code}, {when_text(row.entry.measured_at)}, {row.what}{struck}, id ends {row.entry.id[-8:]}",
        f"  {length_text(explained.depth_m, unit)} below land surface; expected {ends} ({expected.how})",
    ]
    for place, one in enumerate(explained.first(), 1):
        then = "" if one.corrected_m is None else f" -> {length_text(one.corrected_m, unit)}"
        lines.append(
            f"  {place}. {one.name}, {how_likely(one.probability)} ({in_percent(one.probability)}): {one.words}{then}"
        )
    return [*lines, f"  what would tell: {explained.action}"]
