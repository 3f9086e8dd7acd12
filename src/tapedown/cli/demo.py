"""The demo: Marrow Fen built and shown."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import click

from tapedown.cli.desk import closed_with_command
from tapedown.cli.keeping import proof_lines
from tapedown.cli.show import bottom_lines, reduction_lines
from tapedown.record import verify
from tapedown.reports.words import headline, when_text
from tapedown.work.marrow_fen import build
from tapedown.work.networks import OpenNetwork, gear_shelf, open_network, place_of_record
from tapedown.work.wells.history import find_row, history

SHOWN = (
    ("A total depth, line by line", "MF-02", "last weighted tape"),
    ("A deep leaning well, every tape term applied", "MF-03", "last weighted tape"),
    ("Two repeats that do not agree", "MF-10", "2024-05-13"),
)


@click.command()
@click.argument("folder", default="marrow-fen")
def demo(folder: str) -> None:
    """Build the invented Marrow Fen network in FOLDER and show the main job on it."""
    network = closed_with_command(_network(folder))
    for title, code, which in SHOWN:
        _title(title)
        row = find_row(history(network, code), which)
        click.echo(f"{code}, {when_text(row.entry.measured_at)}, by {row.entry.by}")
        if row.value is not None:
            click.echo("\n".join(reduction_lines(row.value)))
    _title("A well that fills")
    well_history = history(network, "MF-02")
    if well_history.bottom is not None:
        click.echo("\n".join(["MF-02 Alder Carr", *bottom_lines(well_history.bottom, network.unit)]))
    _struck(folder)
    _title("The record, proved")
    click.echo("\n".join(proof_lines(verify(network.record))))
    _next(folder)


def _network(folder: str) -> OpenNetwork:
    place = place_of_record(folder)
    if isinstance(place, Path) and place.exists():
        click.echo(f"{folder} is there already; showing it as it is")
        return open_network(folder)
    click.echo(f"building Marrow Fen (twelve invented wells, six years of rounds) in {folder} ...")
    return build(folder)


def _title(text: str) -> None:
    click.echo(f"\n{text}\n{'-' * len(text)}")


def _struck(folder: str) -> None:
    """One reading as known before and after it was corrected."""
    _title("A struck entry, seen as of two dates")
    for day in ("2024-09-10", "2024-09-30"):
        network = open_network(folder, as_of=f"{day}T23:59:59.999999Z")
        row = find_row(history(network, "MF-01", shelf=gear_shelf(network)), "2024-09-04 chalked tape")
        network.record.close()
        click.echo(f"MF-01, reading of 4 September 2024, as known on {day}:")
        if row.value is not None:
            click.echo(f"  {headline(row.value)}   entered by {row.entry.by}, id ends {row.entry.id[-8:]}")
        if row.entry.reason:
            click.echo(f"  strikes {(row.entry.strikes or '')[-8:]}: {row.entry.reason}")


def _next(folder: str) -> None:
    """What to type next."""
    _title("Try next")
    for line in (
        f"-n {folder} wells",
        f"-n {folder} history MF-12",
        f"-n {folder} history MF-04 --as-of 2024-03-01     (before the cut-down casing was known)",
        f"-n {folder} explain MF-08 last",
        f"-n {folder} --by 'your name' visit MF-01         (enter a visit by questions)",
        f"-n {folder} verify",
        f"-n {folder} office --tour                       (the same in a browser)",
    ):
        click.echo(f"  {_program()} {line}")


def _program() -> str:
    """This program as it was called: by its name where that finds this very program, else by its place."""
    place = Path(sys.argv[0])
    command = shutil.which("tapedown")
    by_name = command is not None and Path(command).resolve().with_suffix("") == place.resolve().with_suffix("")
    if by_name or place.stem != "tapedown" or os.sep not in sys.argv[0]:
        return "tapedown"
    return f'"{sys.argv[0]}"' if " " in sys.argv[0] else sys.argv[0]
