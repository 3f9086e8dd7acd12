"""Commands for rounds: due, round, rounds."""

from __future__ import annotations

from collections.abc import Sequence

import click
from tabulate import tabulate

from tapedown.cli.desk import Desk, as_json, at_desk, print_json
from tapedown.exchange.shapes import entry_to_json
from tapedown.reports.words import day_text
from tapedown.values.wells import DIRTIER
from tapedown.work.field.packs import round_now_to_json
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.review.remeasures import open_remeasures
from tapedown.work.rounds.loading import load_list
from tapedown.work.rounds.planning import (
    WellDue,
    day_or_today,
    make_round,
    outlines,
    round_now,
    rounds_now,
    way_m,
    wells_due,
    withdraw_round,
)
from tapedown.work.wells.files import well_file


@click.command()
@click.option("--day", default="", metavar="DATE", help="Due on this day; today without it.")
@click.option("--all", "everything", is_flag=True, help="Show wells that are not due, too.")
@as_json
@at_desk
def due(desk: Desk, day: str, everything: bool, as_json: bool) -> None:
    """Wells that are due for a visit, the longest overdue first, and those to be measured again."""
    network = desk.network()
    listed, again = wells_due(outlines(network), day_or_today(network, day)), open_remeasures(network)
    shown = [well for well in listed if well.due or everything or well.code in again]
    if as_json:
        print_json(
            [{**w._asdict(), "cleanness": DIRTIER[w.cleanness], "measure_again": w.code in again} for w in shown]
        )
        return
    if not shown:
        click.echo("no well is due; --all shows when each will be")
        return
    rows = [
        [
            w.code,
            w.name,
            w.last or "never",
            _due_text(w) + (", measure again" if w.code in again else ""),
            f"{w.every_d} d",
            DIRTIER[w.cleanness],
            ", ".join(w.noted),
        ]
        for w in shown
    ]
    header = ["well", "name", "last visit", "due", "every", "water", "noted then"]
    click.echo(tabulate(rows, header, tablefmt="simple", disable_numparse=True))


def _due_text(well: WellDue) -> str:
    if well.overdue_d is None:
        return "never visited"
    if not well.due:
        return f"on {well.due_on}" if well.overdue_d < 0 else "not any more"
    return f"{well.overdue_d} d overdue" if well.overdue_d else "today"


@click.command(name="round")
@click.argument("name")
@click.option("--day", default="", metavar="DATE", help="The day it begins; today without it.")
@click.option("--wells", "codes", default="", metavar="CODE,CODE,...", help="The wells to visit.")
@click.option("--due", "take_due", is_flag=True, help="All wells that are due that day or to be measured again.")
@click.option("--as-given", is_flag=True, help="Keep the order of --wells.")
@click.option("--who", multiple=True, metavar="NAME", help="Who goes; may be given again.")
@as_json
@at_desk
def round_command(
    desk: Desk, name: str, day: str, codes: str, take_due: bool, as_given: bool, who: Sequence[str], as_json: bool
) -> None:
    """Plan a round: cleaner wells before dirtier ones, a short way within each, and what to load.

    \b
      tapedown round "North fen" --day 2026-05-14 --wells MF-01,MF-02,MF-08
      tapedown round "May round" --due --who "R. Alder"
    """  # fmt: skip
    network = desk.network()
    if take_due == bool(codes):
        raise click.UsageError("name the wells with --wells, or take those that are due with --due")
    on = day_or_today(network, day)
    wells = _proposed(network, on) if take_due else codes.split(",")
    given = {"name": name, "day": on, "wells": [code.strip() for code in wells], "who": list(who)}
    made = make_round(network, given, desk.author(), as_given=as_given)
    if as_json:
        print_json(entry_to_json(made))
    else:
        _tell(network, made.id)


def _proposed(network: OpenNetwork, day: str) -> list[str]:
    """Wells due on a day, and those to be measured again."""
    again = open_remeasures(network)
    return [well.code for well in wells_due(outlines(network), day) if well.due or well.code in again]


def _tell(network: OpenNetwork, round_id: str) -> None:
    """A round in order, and what to load."""
    planned, known = round_now(network, round_id).planned, outlines(network)
    click.echo(f"{planned.name}, {day_text(planned.day)} (id ends {round_id[-8:]})\n")
    rows = [
        [
            number,
            code,
            known[code].name,
            DIRTIER[known[code].cleanness],
            "" if known[code].position_deg else "no position",
        ]
        for number, code in enumerate(planned.wells, 1)
    ]
    click.echo(tabulate(rows, ["", "well", "name", "water", ""], tablefmt="simple", disable_numparse=True))
    if way := way_m(known, planned.wells):
        click.echo(f"\n{way / 1000:.1f} km as the crow flies")
    load = load_list([well_file(network, code) for code in planned.wells], gear_shelf(network))
    click.echo("\nto load\n" + tabulate([[f"  {one.what}", one.why] for one in load], tablefmt="plain"))


@click.command()
@click.option("--all", "everything", is_flag=True, help="Show closed and withdrawn rounds, too.")
@click.option("--withdraw", default="", metavar="NAME", help="Strike the newest round of this name; needs --reason.")
@click.option("--reason", default="", help="Why it is withdrawn.")
@as_json
@at_desk
def rounds(desk: Desk, everything: bool, withdraw: str, reason: str, as_json: bool) -> None:
    """Open rounds, newest first, and how far each has come."""
    if withdraw:
        withdraw_round(desk.network(), withdraw, reason, desk.author())
    network = desk.network()
    shown = [one for one in rounds_now(network, outlines(network), struck=everything) if one.open or everything]
    if as_json:
        print_json([round_now_to_json(one) for one in shown])
        return
    if not shown:
        click.echo("no round is open; plan one: tapedown round NAME --due")
        return
    rows = [
        [r.planned.day, r.planned.name, ", ".join(r.planned.who), f"{len(r.visited)} of {len(r.planned.wells)}",
         "withdrawn" if r.struck_by else "open" if r.open else "closed", r.entry.id[-8:]]
        for r in shown
    ]  # fmt: skip
    header = ["day", "round", "who", "visited", "", "id ends"]
    click.echo(tabulate(rows, header, tablefmt="simple", disable_numparse=True))
