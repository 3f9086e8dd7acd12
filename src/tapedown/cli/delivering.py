"""Commands that hand on to others and take in from them: deliver, take-in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from tapedown.cli.desk import Desk, as_json, as_of_option, at_desk, print_json, progress_shown, read_bytes
from tapedown.cli.exits import SET_ASIDE
from tapedown.cli.sending import told_received
from tapedown.exchange.formats.registry import ENTRIES, FORMATS, UNITS
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.work.authorship import Author, this_device
from tapedown.work.imports.tables import report_lines, report_to_json

if TYPE_CHECKING:
    from tapedown.work.exports.export import DeliveryWritten
    from tapedown.work.imports.package_import import PackageTaken

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
    from tapedown.work.exports.export import deliver, deliver_zip  # no other command needs to pay for it
    from tapedown.work.exports.gathering import gather

    network = desk.network(as_of)
    write = deliver_zip if folder.lower().endswith(".zip") else deliver
    with progress_shown() as watch:
        delivery = gather(network, units=units, wells=wells, watch=watch)
        written = write(network, delivery, formats, Path(folder), watch=watch)
    if as_json:
        print_json({"place": folder, "sha256": written.sha256, **written.manifest._asdict()})
    else:
        click.echo("\n".join(_lines(folder, written, len(delivery.wells))))


def _lines(place: str, written: DeliveryWritten, wells: int) -> list[str]:
    files = len(written.manifest.files)
    return [
        f"wrote {place}: {wells} wells, {files} files, {written.size / 1e6:.1f} MB",
        f"  the manifest has SHA-256 {written.sha256}; tell it to whoever gets the delivery",
    ]


@click.command(name="take-in")
@click.argument("place")
@click.option("--quantity", default="", metavar="NAME",
              help="What a WaterML series holds, where it does not say.")  # fmt: skip
@click.option("--datum", default="", help="Vertical datum of its elevations, where it does not say.")
@click.option("--layer", default="", help="Layer of a GeoPackage that holds the wells.")
@click.option("--table", "tables", multiple=True, metavar="NAME", help="A table of a Data Package, with its --mapping.")
@click.option("--mapping", "mappings", multiple=True, metavar="FILE",
              help="What its columns mean (see the guide to importing); one for each --table.")  # fmt: skip
@click.option("--dry-run", is_flag=True, help="Tell what would become of each line, write nothing.")
@as_json
@at_desk
def take_in_command(
    desk: Desk, place: str, tables: tuple[str, ...], mappings: tuple[str, ...], dry_run: bool, as_json: bool, **of: str
) -> None:
    """Take in what others hand on: PLACE is a delivery, a Data Package, WaterML 2 (.xml) or a GeoPackage (.gpkg),
    alone or in a folder or zip.

    A delivery with the record's own entries comes back without loss; with -n NEWFOLDER a new record is made of it.
    Everything else is entered as reported by others. Every line is entered, already there or set aside with the reason.
    """
    from tapedown.work.imports.package_import import PackageHints, has_entries, take_back, take_in  # as above

    if has_entries(place):
        told_received(take_back(desk.where, place, dry_run=dry_run), dry_run=dry_run, as_json=as_json)
        return
    if len(tables) not in (len(mappings), 0) or (len(mappings) > 1 and not tables):
        raise click.UsageError("give one --mapping for each --table")
    read = [read_mapping(read_bytes(path), path) for path in mappings]
    hints = PackageHints(of["quantity"], of["datum"], of["layer"], dict(zip(tables or ("",), read)))
    author = Author(desk.by or "nobody", this_device()) if dry_run else desk.author()
    taken = take_in(desk.network(), place, hints, author, dry_run=dry_run)
    if as_json:
        reports = [report_to_json(report) for report in taken.reports]
        print_json({"reports": reports, "not_taken": taken.not_taken})
    else:
        click.echo("\n".join(_taken_lines(taken)))
    if taken.not_taken or any(report.totals["set aside"] for report in taken.reports):
        click.get_current_context().exit(SET_ASIDE)


def _taken_lines(taken: PackageTaken) -> list[str]:
    lines = [line for report in taken.reports for line in report_lines(report)]
    for row in taken.not_taken:
        counted = f"{row.lines} lines" if row.lines else "all of it"
        lines += [f"not taken: {row.name} ({counted}): {row.why}", f"      -> {row.mend}"]
    return lines


"""The commands of this module."""
