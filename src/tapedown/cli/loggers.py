"""Commands for loggers: look at a file, read it, treat the series, check it, show it, hand it on.

What works on columns is loaded inside the commands that need it: it would cost every other command its start.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from tabulate import tabulate

from tapedown.cli.desk import Desk, as_json, as_of_option, at_desk, print_json, read_bytes
from tapedown.cli.exits import SET_ASIDE
from tapedown.cli.show import finding_lines
from tapedown.exchange.loggers.profiles import profile_text, read_profile
from tapedown.reports.words import length_text
from tapedown.values.errors import TapedownError
from tapedown.values.series.series import LoggerFile
from tapedown.values.series.treatments import TREATMENTS, treatment_body, treatment_name
from tapedown.work.wells.files import series_of, well_codes, well_file

CLEAR = 0.7
"""Correlation of changes from which two clocks are worth comparing; ours."""
if TYPE_CHECKING:
    from tapedown.work.series.corrected import Corrected


def of_series(command: Callable[..., Any]) -> Callable[..., Any]:
    """The arguments WELL and SERIES, which name a series."""
    return click.argument("well")(click.argument("series")(command))


@click.group()
def logger() -> None:
    """Series of loggers: read, treat, check, show, export.

    A series is named by its well and its name there: MF-11 level. Its raw bytes are kept as they came; every treatment
    is an entry, and what they come to is worked out anew whenever one is added or struck.
    """


@logger.command()
@click.argument("file")
@click.option("--sheet", default="", help="Sheet of a spreadsheet.")
@click.option("--out", default="", metavar="PROFILE", help="Write the profile to this file.")
def look(file: str, sheet: str, out: str) -> None:
    """Look at a FILE of a logger and propose how it is laid out (TOML), with the questions that remain."""
    from tapedown.exchange.loggers.proposals import propose_profile

    proposal = propose_profile(read_bytes(file), sheet=sheet)
    text = profile_text(proposal.profile, proposal.questions)
    if out:
        Path(out).write_text(text, encoding="utf-8")
        click.echo(f"written to {out}; answer what stands at its top, then: tapedown logger read WELL SERIES {file}")
        return
    click.echo(text)
    click.echo("# its columns, with the first cell found in each:")
    for name, cell in proposal.columns:
        click.echo(f"#   {name!r}: {cell}")


@logger.command()
@of_series
@click.argument("file")
@click.option("--profile", "-p", required=True, help="How the file is laid out (TOML).")
@click.option("--logger", "serial", default="", help="Serial number of the logger.")
@click.option("--remarks", default="", help="Anything else.")
@click.option("--dry-run", is_flag=True, help="Say what would become of every line; write nothing.")
@as_json
@at_desk
def read(desk: Desk, well: str, series: str, file: str, **asked: Any) -> int:
    """Take a FILE in as part of a SERIES of a WELL. Every line is accounted for."""
    from tapedown.work.series.files import account_lines, take_logger_file

    profile = read_profile(read_bytes(asked["profile"]), Path(asked["profile"]).name)
    given = LoggerFile(series, Path(file).name, "", asked["serial"], profile, asked["remarks"])
    taken = take_logger_file(desk.network(), well, given, read_bytes(file), desk.author(), dry_run=asked["dry_run"])
    if asked["as_json"]:
        print_json({**taken.account._asdict(), "entry": taken.entry.id if taken.entry else None})
    else:
        click.echo("\n".join(account_lines(taken.account)))
        for line in finding_lines(taken.account.findings):
            click.echo(line)
        done = "there already" if taken.there_already else "entered" if taken.entry else "nothing written"
        click.echo(done)
    return SET_ASIDE if taken.account.aside else 0


@logger.command()
@of_series
@click.argument("does", type=click.Choice(list(TREATMENTS)))
@click.argument("fields", nargs=-1, metavar="FIELD=VALUE...")
@click.option("--why", required=True, help="Why.")
@at_desk
def treat(desk: Desk, well: str, series: str, does: str, fields: tuple[str, ...], why: str) -> None:
    """Add a treatment to a series. `tapedown fields treatment` lists the fields; strike takes one back."""
    from tapedown.work.series.changes import add_treatment

    entered = add_treatment(desk.network(), well, series, does, _given(fields), why=why, author=desk.author())
    click.echo(f"{does} entered, id ends {entered.entry.id[-8:]}")


def _given(fields: tuple[str, ...]) -> dict[str, Any]:
    """FIELD=VALUE pairs; a field given twice is a list."""
    given: dict[str, Any] = {}
    for field in fields:
        name, _, value = field.partition("=")
        given[name] = value if name not in given else [*_listed(given[name]), value]
    return given


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


@logger.command(name="list")
@as_of_option
@at_desk
def list_series(desk: Desk, as_of: str) -> None:
    """All series of the network."""
    network = desk.network(as_of)
    for code in well_codes(network):
        for name in series_of(well_file(network, code)):
            click.echo(f"{code} {name}")


@logger.command()
@of_series
@as_of_option
@as_json
@at_desk
def check(desk: Desk, well: str, series: str, as_of: str, as_json: bool) -> None:
    """What a person should see in a series: gaps, handling, spikes, drift, checks that do not fit."""
    from tapedown.work.series.corrected import corrected

    corrected_series = corrected(desk.network(as_of), well, series)
    if as_json:
        print_json(corrected_series.about)
        return
    for line in finding_lines(corrected_series.findings) or ["nothing stands out"]:
        click.echo(line)


@logger.command()
@of_series
@as_of_option
@as_json
@at_desk
def show(desk: Desk, well: str, series: str, as_of: str, as_json: bool) -> None:
    """A series: its files, its treatments, the tape readings it is held to."""
    from tapedown.work.series.corrected import corrected

    network = desk.network(as_of)
    corrected_series = corrected(network, well, series)
    if as_json:
        print_json({**corrected_series.about, "treatments": _treatments_plain(corrected_series)})
        return
    about, unit = corrected_series.about, network.unit
    click.echo(f"{well}/{series}: {about['rows']} rows from {_when(about['first_s'])} to {_when(about['last_s'])}")
    for fact in corrected_series.story.files:
        click.echo(f"  file {fact.value.file}, by {fact.entry.by}, id ends {fact.entry.id[-8:]}")
    for fact in (*corrected_series.story.treatments, *corrected_series.story.struck):
        struck = " [struck]" if fact.struck_by else ""
        [part] = fact.value.given
        values = ", ".join(f"{name} {value}" for name, value in treatment_body(part).items())
        click.echo(
            f"  {treatment_name(part)}{struck}: {values} ({fact.value.why}; {fact.entry.by}, {fact.entry.id[-8:]})"
        )
    rows = [
        [_when(c["at_s"]), length_text(c["depth_m"], unit), length_text(c["offset_m"], unit, 0.001)]
        for c in about["checks"]
    ]
    if rows:
        click.echo("\n" + tabulate(rows, ["check", "tape", "zero of the logger at"], disable_numparse=True))


def _treatments_plain(series: Corrected) -> list[dict[str, Any]]:
    return [
        {"entry": fact.entry.id, "struck_by": fact.struck_by, **fact.entry.data}
        for fact in (*series.story.treatments, *series.story.struck)
    ]


def _when(at_s: float) -> str:
    return f"{datetime.fromtimestamp(at_s, UTC):%Y-%m-%d %H:%M} UTC"


@logger.command()
@of_series
@as_of_option
@at_desk
def learn(desk: Desk, well: str, series: str, as_of: str) -> None:
    """What a series tells of its well: barometric efficiency by three ways, earth tides, the barometer to take."""
    from tapedown.work.series.corrected import corrected
    from tapedown.work.series.learning import best_barometer
    from tapedown.work.series.learning import learn as learnt_from

    network = desk.network(as_of)
    corrected_series = corrected(network, well, series)
    learnt = learnt_from(network, corrected_series)
    for way in learnt.efficiencies:
        click.echo(f"barometric efficiency {way.efficiency:.3f} by {way.method}")
    for line in learnt.tides:
        size, u = (length_text(part, network.unit, 0.0001) for part in (line.amplitude_m, line.u_amplitude_m))
        click.echo(f"tide {line.name}: {size} +- {u}, {line.phase_deg:.0f} deg after the start of 1970")
    for untold in learnt.untold:
        click.echo(f"not told: {untold}")
    choice, odd = best_barometer(network, corrected_series)
    click.echo(f"barometer: {choice.reason if choice else 'there is none in this network'}")
    for text in finding_lines(odd):
        click.echo(text)


@logger.command()
@of_series
@click.argument("other_well")
@click.argument("other_series")
@at_desk
def clocks(desk: Desk, well: str, series: str, other_well: str, other_series: str) -> None:
    """How far apart the clocks of two loggers are that saw the same changes."""
    from tapedown.work.series.corrected import corrected
    from tapedown.work.series.learning import clocks as clocks_of

    network = desk.network()
    try:
        apart = clocks_of(corrected(network, well, series), corrected(network, other_well, other_series))
    except ValueError as error:
        raise TapedownError(str(error), hint="take two series of the same weeks") from None
    click.echo(f"add {apart.add_s / 60:+.1f} min to {other_well}/{other_series} (correlation {apart.correlation:.2f})")
    if apart.correlation < CLEAR:
        click.echo("the two do not tell the same story clearly enough to say so")


@logger.command(name="daily")
@of_series
@as_of_option
@at_desk
def daily_command(desk: Desk, well: str, series: str, as_of: str) -> None:
    """Daily values by the days of the network's clock, as CSV."""
    from tapedown.work.series.corrected import corrected, daily

    network = desk.network(as_of)
    click.echo(daily(corrected(network, well, series), network).write_csv(float_precision=4), nl=False)


@logger.command()
@of_series
@click.argument("file")
@as_of_option
@at_desk
def export(desk: Desk, well: str, series: str, file: str, as_of: str) -> None:
    """Write the corrected series to FILE: CSV, or Parquet when its name ends in .parquet."""
    from tapedown.work.series.corrected import corrected, exported

    number = exported(corrected(desk.network(as_of), well, series), Path(file))
    click.echo(f"{number} rows written to {file}")
