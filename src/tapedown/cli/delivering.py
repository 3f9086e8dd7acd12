"""Commands that hand on to others: deliver."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tapedown.cli.desk import Desk, as_json, as_of_option, at_desk, print_json
from tapedown.exchange.delivery import UNITS
from tapedown.exchange.formats import ENTRIES, FORMATS
from tapedown.work.delivering import Written, deliver, deliver_zip
from tapedown.work.gathering import gather

_ROWS = [f"  {name:<14} {row.what}" for name, row in FORMATS.items()]
_ROWS += [f"  {ENTRIES:<14} the record's own entries without loss, notes on keys and access included"]
HELP = "\n".join([
    "Write the network into a new FOLDER for others, in open formats, with a manifest.",
    "", "A FOLDER that ends in .zip is written as one zip file.",
    "", "\b", *_ROWS,
    "", "Values stand at full precision in metres and rounded as their digits allow, with the expanded uncertainty",
    "beside them. Check a delivery with `tapedown verify --delivery FOLDER`.",
])  # fmt: skip


@click.command(name="deliver", help=HELP)
@click.argument("folder")
@click.option("--as", "formats", multiple=True, metavar="FORMAT", help="A format; may be given several times.")
@click.option("--unit", "units", multiple=True, type=click.Choice(UNITS),
              help="Round in this unit; give both for both. The network's when left out.")  # fmt: skip
@click.option("--well", "wells", multiple=True, metavar="CODE", help="Only this well; may be given several times.")
@as_of_option
@as_json
@at_desk
def deliver_command(
    desk: Desk,
    folder: str,
    formats: tuple[str, ...],
    units: tuple[str, ...],
    wells: tuple[str, ...],
    as_of: str,
    as_json: bool,
) -> None:
    """Hand the network on."""
    network = desk.network(as_of)
    delivery = gather(network, units=units, wells=wells, tell=_progress)
    write = deliver_zip if folder.lower().endswith(".zip") else deliver
    written = write(network, delivery, formats, Path(folder), tell=_progress)
    _done()
    if as_json:
        print_json({"place": folder, "sha256": written.sha256, **written.manifest._asdict()})
    else:
        click.echo("\n".join(_lines(folder, written, len(delivery.wells))))


def _lines(place: str, written: Written, wells: int) -> list[str]:
    files = len(written.manifest.files)
    return [
        f"wrote {place}: {wells} wells, {files} files, {written.size / 1e6:.1f} MB",
        f"  the manifest has SHA-256 {written.sha256}; tell it to whoever gets the delivery",
    ]


def _progress(what: str, done: int, of: int) -> None:
    """One line on a terminal that is written over; nothing into a pipe."""
    if sys.stderr.isatty():
        click.echo(f"\r\x1b[K{what}: {done} of {of}", nl=False, err=True)


def _done() -> None:
    if sys.stderr.isatty():
        click.echo("\r\x1b[K", nl=False, err=True)


COMMANDS = (deliver_command,)
"""The commands of this module."""
