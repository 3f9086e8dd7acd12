"""The whole program: what comes before a command, and what becomes of a refusal."""

from __future__ import annotations

import io
import sys

import click

from tapedown.cli.commands import SECTIONS, Commands
from tapedown.cli.exits import EXITS
from tapedown.values.errors import TapedownError
from tapedown.version import VERSION

EPILOG = "Exit codes: " + "; ".join(f"{code} {meaning}" for code, meaning in EXITS)


@click.group(cls=Commands, sections=SECTIONS, epilog=EPILOG,
             context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})  # fmt: skip
@click.option("--network", "-n", "where", default=".", envvar="TAPEDOWN_NETWORK", metavar="PLACE",
              help="Folder of the network, or the address of its database. TAPEDOWN_NETWORK sets it.")  # fmt: skip
@click.option("--by", default="", envvar="TAPEDOWN_BY", metavar="NAME",
              help="Who writes. TAPEDOWN_BY sets it.")  # fmt: skip
@click.version_option(VERSION, prog_name="tapedown")
@click.pass_context
def tapedown(context: click.Context, where: str, by: str) -> None:
    """From the tape at the well to a number others can rely on.

    Start a network, add wells, measuring points and gear, enter visits, and look at what they come to. Nothing that was
    entered is ever changed; a correction strikes the old entry and keeps it.
    """
    from tapedown.cli.desk import Desk  # the database: help does without it

    context.obj = Desk(where, by)


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; returns the exit code (see cli.exits)."""
    try:
        result = tapedown.main(arguments, prog_name="tapedown", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("\nstopped; nothing more was written", err=True)
        return 3
    except TapedownError as error:
        from tapedown.cli.refused import exit_code  # every class of refusal: only where there is one

        click.echo(f"tapedown: {error}", err=True)
        if error.hint:
            click.echo(f"  -> {error.hint}", err=True)
        return exit_code(error)
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    return result if isinstance(result, int) else 0


def run() -> None:
    """Entry point of the installed command. What it prints is UTF-8, also into a file on Windows."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors=stream.errors)
    sys.exit(main())
