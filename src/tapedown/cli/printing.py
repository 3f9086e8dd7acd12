"""Commands that print: a well sheet, the network report, figures.

What sets a page is imported by the command that needs it: a third of a second that no other command has to pay.
"""

from __future__ import annotations

from pathlib import Path

import click

from tapedown.cli.desk import Desk, as_of_option, at_desk
from tapedown.values.errors import TapedownError
from tapedown.values.settings import CHOICES


class NotWritten(TapedownError):
    """The file cannot be written."""

    def __init__(self, path: str, why: str) -> None:
        super().__init__(
            f"{path} cannot be written: {why}", hint="name another place, or close the program that shows it"
        )


class NotPrinted(TapedownError):
    """A file of that name holds something else than a sheet."""

    def __init__(self, path: str) -> None:
        super().__init__(f"{path} is there and is no PDF and no drawing; it was left as it is",
                         hint="name another file, or move that one away")  # fmt: skip


paper_option = click.option("--paper", type=click.Choice(CHOICES["paper"]), default=None,
                            help="Paper size; without it the network's setting.")  # fmt: skip


@click.group(name="print")
def print_group() -> None:
    """Sheets on paper: a well, the network, figures.

    The same record and --as-of date give the same file, byte for byte.
    """


@print_group.command(name="well")
@click.argument("code")
@click.argument("path", metavar="FILE")
@paper_option
@as_of_option
@at_desk
def well_command(desk: Desk, code: str, path: str, paper: str | None, as_of: str) -> None:
    """Write the sheet of a well to FILE (PDF, two pages at most)."""
    from tapedown.work.printing.well_sheets import print_well

    _write(path, print_well(desk.network(as_of), code, paper=paper or ""))


@print_group.command(name="network")
@click.argument("path", metavar="FILE")
@click.option("--round", "which_round", default="", metavar="NAME", help="Only the wells of this round.")
@paper_option
@as_of_option
@at_desk
def network_command(desk: Desk, path: str, which_round: str, paper: str | None, as_of: str) -> None:
    """Write the report of the network, or of a round, to FILE (PDF)."""
    from tapedown.work.printing.network_report import print_network

    _write(path, print_network(desk.network(as_of), which_round=which_round, paper=paper or ""))


@print_group.command(name="figure")
@click.argument("code")
@click.argument("path", metavar="FILE")
@as_of_option
@at_desk
def figure_command(desk: Desk, code: str, path: str, as_of: str) -> None:
    """Write the figure of a well, section and history on one depth axis, to FILE (SVG)."""
    from tapedown.work.printing.well_sheets import print_figure

    _write(path, print_figure(desk.network(as_of), code).encode())


@print_group.command(name="map")
@click.argument("path", metavar="FILE")
@as_of_option
@at_desk
def map_command(desk: Desk, path: str, as_of: str) -> None:
    """Write the map of the wells to FILE (SVG)."""
    from tapedown.work.printing.network_report import print_map

    _write(path, print_map(desk.network(as_of)).encode())


def _write(path: str, made: bytes) -> None:
    """Write a file; one of ours is replaced, anything else under that name is left alone."""
    place = Path(path)
    try:
        if place.exists() and place.stat().st_size and place.read_bytes()[:5] not in {b"%PDF-", b"<svg "}:
            raise NotPrinted(path)
        place.write_bytes(made)
    except OSError as error:
        raise NotWritten(path, error.strerror or str(error)) from None
    click.echo(f"wrote {path} ({len(made) / 1000:.0f} kB)")


"""What the command line adds."""
