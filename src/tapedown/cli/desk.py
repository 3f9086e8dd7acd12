"""What every command needs: the network, the writer, output as text or JSON."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import click

from tapedown.exchange.plain import plain
from tapedown.exchange.sheets import read_sheet
from tapedown.values.progress import Progress, Watch, unwatched
from tapedown.work.authorship import Author, this_device
from tapedown.work.networks import OpenNetwork, as_of_text, open_network
from tapedown.work.refusals import NobodyNamed, UnreadableFile

F = TypeVar("F", bound=Callable[..., Any])


class Desk(NamedTuple):
    """Options that stand before the command."""

    where: str
    by: str

    def author(self, by: str = "") -> Author:
        """The writer. Raises NobodyNamed when no name was given anywhere."""
        name = by or self.by
        if not name.strip():
            raise NobodyNamed
        return Author(name.strip(), this_device())

    def network(self, as_of: str = "") -> OpenNetwork:
        """The network, as it is or as it was known at the end of a day or at a time."""
        as_it_is = closed_with_command(open_network(self.where))
        if not as_of:
            return as_it_is
        return closed_with_command(open_network(self.where, as_of=as_of_text(as_of, as_it_is.facts.zone)))


def closed_with_command(network: OpenNetwork) -> OpenNetwork:
    """The network, whose record is let go of when the command ends, however it ends."""
    click.get_current_context().call_on_close(network.record.close)
    return network


def read_file(path: str) -> dict[str, Any]:
    """A TOML or JSON file as a mapping; numbers keep their digits."""
    return read_sheet(read_bytes(path), Path(path).name)


def read_bytes(path: str) -> bytes:
    """The bytes of a file. Raises UnreadableFile with the mend."""
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise UnreadableFile(
            path, error.strerror or str(error), "check the name; is the file there and readable?"
        ) from None


def print_json(data: Any) -> None:
    """Data as JSON on standard output."""
    click.echo(json.dumps(plain(data), indent=2, ensure_ascii=False))


@contextmanager
def progress_shown() -> Iterator[Watch]:
    """Long work tells how far it has come, on one line of a terminal's standard error; elsewhere it is silent."""
    if not sys.stderr.isatty():
        yield unwatched
        return

    def show(step: Progress) -> None:
        click.echo(f"\r\033[K{step}", err=True, nl=False)

    try:
        yield show
    finally:
        click.echo("\r\033[K", err=True, nl=False)


def as_json(command: F) -> F:
    """The --json option."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON.")(command)


def as_of_option(command: F) -> F:
    """The --as-of option."""
    text = "As known at the end of this day, or at this time."
    return click.option("--as-of", default="", metavar="DATE", help=text)(command)


def at_desk(command: F) -> F:
    """Pass the desk as first argument."""

    @wraps(command)
    @click.pass_context
    def wrapped(context: click.Context, *args: Any, **kwargs: Any) -> Any:
        return command(context.obj, *args, **kwargs)

    return wrapped  # type: ignore[return-value]
