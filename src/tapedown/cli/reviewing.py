"""Commands for reviews: queue, accept, remeasure, draw, repeats, compared."""

from __future__ import annotations

import click
from tabulate import tabulate

from tapedown.analysis.repeat_error import RepeatError
from tapedown.cli.desk import Desk, as_json, at_desk, print_json
from tapedown.engine.tape.side_by_side import EDITIONS
from tapedown.engine.uncertainty.digits import spread
from tapedown.exchange.shapes import entry_to_json
from tapedown.reports.words import day_text, headline, when_text
from tapedown.values.units import from_si
from tapedown.work.authorship import now
from tapedown.work.entry.comparing import ComparisonEntered, calibrate_by, comparisons, find_comparison
from tapedown.work.networks import OpenNetwork
from tapedown.work.review.queue import Item, ReviewQueue
from tapedown.work.review.remeasures import ask_again, blind_repeats, draw
from tapedown.work.review.reviewing import accept
from tapedown.work.review.to_json import compared_to_json, queue_to_json, repeats_to_json
from tapedown.work.rounds.planning import round_now
from tapedown.work.wells.history import find_row, history


@click.command()
@click.option("--most", default=20, show_default=True, help="How many values are listed.")
@as_json
@at_desk
def queue(desk: Desk, most: int, as_json: bool) -> None:
    """Values nobody has signed or looked at enough, where a look is worth most first."""
    network = desk.network()
    waiting = ReviewQueue().at(network, now())
    if as_json:
        print_json(queue_to_json(waiting))
        return
    rows = [_queue_row(item, network.unit) for item in waiting.items[:most]]
    header = [
        "well",
        "when",
        "what",
        "value",
        f"worth, {network.unit}",
        "chance wrong",
        "findings",
        "review",
        "id ends",
    ]
    if rows:
        click.echo(tabulate(rows, header, tablefmt="simple", disable_numparse=True))
    rest = max(0, len(waiting.items) - most)
    older = f"; {waiting.older} older readings are not looked through" if waiting.older else ""
    click.echo(f"{len(waiting.items)} values wait for a look, {rest} not shown{older}")


def _queue_row(item: Item, unit: str) -> list[str]:
    value, entry = item.row.value, item.row.entry
    checks = list(dict.fromkeys(f.check for f in value.findings if f.weight != "note")) if value else []
    checks += ["to be measured again"] if item.again else []
    worth, chance = from_si(item.worth.worth_m, unit, "length"), 100 * item.worth.chance
    return [item.code, when_text(entry.measured_at), item.row.what, headline(value) if value else "", f"{worth:.3f}",
            f"{chance:.0f} %", ", ".join(checks), item.review.words, entry.id[-8:]]  # fmt: skip


@click.command(name="accept")
@click.argument("well")
@click.argument("which")
@click.option("--remarks", default="", help="Anything worth saying.")
@at_desk
def accept_command(desk: Desk, well: str, which: str, remarks: str) -> None:
    """Say that you looked at a value and it stands, with the quality it has."""
    network = desk.network()
    well_history = history(network, well)
    row = find_row(well_history, which)
    accept(network, well_history.file, row, remarks, desk.author())
    click.echo(f"{well}, {when_text(row.entry.measured_at)}: accepted as {row.quality}")


@click.command()
@click.argument("well")
@click.argument("which")
@click.option("--why", required=True, help="Why.")
@at_desk
def remeasure(desk: Desk, well: str, which: str, why: str) -> None:
    """Ask for WELL to be measured again: it is proposed for the next round, and goes there without the old values."""
    network = desk.network()
    row = find_row(history(network, well), which)
    ask_again(network, well, row.entry.id, why, desk.author())
    click.echo(f"{well}, {when_text(row.entry.measured_at)}: to be measured again ({why})")


@click.command(name="draw")
@click.argument("name", metavar="ROUND")
@as_json
@at_desk
def draw_command(desk: Desk, name: str, as_json: bool) -> None:
    """Draw wells of a ROUND to be measured again blind, from a key anybody can repeat the draw with.

    ROUND is a name or an id. Draw when the round is done, so that nobody knows beforehand.
    """
    network = desk.network()
    drawing, *requests = draw(network, round_now(network, name).entry.id, desk.author())
    if as_json:
        print_json([entry_to_json(one) for one in (drawing, *requests)])
        return
    drawn = drawing.data
    click.echo(f"drawn {len(drawn['wells'])} of {len(drawn['candidates'])} wells read: {', '.join(drawn['wells'])}")
    click.echo("repeat the draw: order the wells by the SHA-256 of KEY, a line feed, the code; take the first")
    click.echo(f"  KEY {drawn['key']}, share {drawn['share']}")


@click.command()
@as_json
@at_desk
def repeats(desk: Desk, as_json: bool) -> None:
    """The repeat error that blind second readings show, beside the uncertainty claimed."""
    network = desk.network()
    outcome = blind_repeats(network)
    if as_json:
        print_json(repeats_to_json(outcome))
        return
    rows = [
        [one.again.code, when_text(one.first.entry.measured_at), when_text(one.second.entry.measured_at),
         _signed(one.difference_m, network.unit), spread(one.u_m, network.unit), "too late" if one.late else ""]
        for one in outcome.repeats
    ]  # fmt: skip
    if rows:
        header = ["well", "first", "second", f"second less first, {network.unit}", "u claimed", ""]
        click.echo(tabulate(rows, header, tablefmt="simple", disable_numparse=True) + "\n")
    click.echo("\n".join(error_lines(outcome.error, network.unit)))
    for method, error in outcome.by_method.items() if len(outcome.by_method) > 1 else ():
        click.echo("\n".join([f"\n{method}", *(f"  {line}" for line in error_lines(error, network.unit))]))
    if outcome.waiting:
        click.echo(f"still to be measured again: {', '.join(one.code for one in outcome.waiting)}")


def _signed(length_m: float, unit: str) -> str:
    return f"{round(from_si(length_m, unit, 'length'), 3) + 0.0:+.3f}"


def error_lines(error: RepeatError, unit: str) -> list[str]:
    """The observed repeat error in words, a line each."""
    lines = []
    if error.mean_m is not None and error.mean_low_m is not None and error.mean_high_m is not None:
        mean, low, high = (_signed(x, unit) for x in (error.mean_m, error.mean_low_m, error.mean_high_m))
        lines.append(f"mean of {error.n} differences: {mean} {unit} (between {low} and {high})")
    if error.sd_m is not None and error.sd_low_m is not None and error.sd_high_m is not None:
        sd, low, high = (f"{from_si(x, unit, 'length'):.4f}" for x in (error.sd_m, error.sd_low_m, error.sd_high_m))
        lines.append(f"standard deviation of the differences: {sd} {unit} (between {low} and {high})")
        lines.append(f"of one reading: {from_si(error.repeat_m or 0.0, unit, 'length'):.4f} {unit}")
    if error.chi2 is not None:
        claimed = from_si(error.claimed_m or 0.0, unit, "length")
        lines.append(f"claimed for a difference: {claimed:.4f} {unit}; chi-square {error.chi2:.1f} of {error.n} "
                     f"(an honest claim: {error.chi2_low:.1f} to {error.chi2_high:.1f})")  # fmt: skip
    return [*lines, error.verdict]


@click.command()
@click.argument("serial")
@click.argument("which", default="last")
@click.option("--calibrate", is_flag=True, help="Enter it as the tape's calibration.")
@click.option("--apply", default="", type=click.Choice(["", "checked", "straight line", "between marks"]),
              help="How it is applied; as the comparison suggests without this.")  # fmt: skip
@as_json
@at_desk
def compared(desk: Desk, serial: str, which: str, calibrate: bool, apply: str, as_json: bool) -> None:
    """What a side-by-side comparison of a tape comes to; --calibrate makes it the tape's calibration.

    \b
    Enter the comparison first, from a file with the pairs:
      tapedown add "side by side" ET-006 --file pairs.toml --from 2026-02-04
    """
    network = desk.network()
    comparison = find_comparison(network, serial, which)
    if calibrate:
        calibrate_by(network, comparison, desk.author(), apply)
        comparison = next(one for one in comparisons(network, serial) if one.entry.id == comparison.entry.id)
    if as_json:
        print_json(compared_to_json(comparison, network.settings.si("coverage")))
    else:
        click.echo("\n".join(_compared_lines(comparison, network)))


def _compared_lines(one: ComparisonEntered, network: OpenNetwork) -> list[str]:
    unit, comparison = network.unit, one.found
    rows = []
    for mark in comparison.marks:
        at = comparison.at(mark.shown_m, network.settings.si("coverage"))
        line = f"{_signed(at[0], unit)} ± {spread(at[1], unit)}" if at else ""
        rows.append([f"{from_si(mark.shown_m, unit, 'length'):.2f}", _signed(mark.add_m, unit), line])
    lines = [f"{one.value.serial} against {one.value.reference}, {day_text(one.entry.measured_at)}", ""]
    lines.append(tabulate(rows, [f"shown, {unit}", "add", "by the line"], tablefmt="simple", disable_numparse=True))
    lines += ["", *limit_words(comparison.within), f"best applied as: {comparison.apply}"]
    return lines + ([f"entered as a calibration (id ends {one.used_by.id[-8:]})"] if one.used_by else [])


def limit_words(within: dict[str, bool]) -> list[str]:
    """Whether the differences are allowed, by document."""
    return [f"{'within' if ok else 'NOT within'} {EDITIONS[edition]}" for edition, ok in within.items()]
