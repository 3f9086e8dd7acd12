"""The whole program: the command line, and the office beside it."""

from __future__ import annotations

import sys

import click

from tapedown.cli import main, tapedown
from tapedown.cli.desk import Desk, at_desk

__all__ = ["main", "run", "tapedown"]


@click.command()
@click.option("--port", default=8765, show_default=True, help="Port to listen on.")
@click.option("--listen", "host", default="127.0.0.1", show_default=True, metavar="ADDRESS",
              help="Address to listen on; any but this machine's own asks visitors for a key.")  # fmt: skip
@click.option("--tls-cert", default=None, metavar="FILE", help="Certificate (PEM), for other machines.")
@click.option("--tls-key", default=None, metavar="FILE", help="Its private key (PEM).")
@click.option("--without-tls", is_flag=True, help="Serve other machines unencrypted: behind a proxy, or knowingly.")
@at_desk
def office(desk: Desk, port: int, host: str, tls_cert: str | None, tls_key: str | None, without_tls: bool) -> None:
    """Open the network in a browser: look, enter, correct, import. Stop it with Ctrl-C."""
    from tapedown.web.serving import plan, serve_plan  # half a second that no other command needs to pay

    desk.network().record.close()
    planned = plan(host, port, tls_cert=tls_cert, tls_key=tls_key, without_tls=without_tls)
    click.echo(f"the office is open at {planned.address}\nstop it with Ctrl-C")
    serve_plan(desk.where, planned)


tapedown.add_command(office)


def run() -> None:
    """Entry point of the installed command."""
    sys.exit(main())
