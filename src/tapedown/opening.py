"""The command that opens the office: the one command that needs the web as well as the desk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from tapedown.cli.desk import Desk, at_desk
from tapedown.values.errors import TapedownError

if TYPE_CHECKING:
    from tapedown.web.serving import Plan

OK = 200
PAGES = (
    "/",
    "/rounds",
    "/review",
    "/repeats",
    "/signed",
    "/gear",
    "/import",
    "/deliver",
    "/record",
    "/settings",
    "/about",
    "/pair",
    "/sheet/",
    "/openapi.json",
)
"""Pages that every network has."""
TOUR = (
    ("/wells/MF-02", "a well that fills: the hole beside its history, and when the screen will be buried"),
    ("/wells/MF-03", "a deep leaning hole; open its last total depth for every tape term"),
    ("/wells/MF-04", "a casing cut down and noted late: try it as known on 2024-03-01"),
    ("/wells/MF-12", "the classic blunders, told as findings"),
    ("/wells/MF-01/visit", "enter a visit from a paper sheet"),
    ("/review", "where a second look is worth most; what is signed and how well readings repeat"),
    ("/wells/MF-11/series/level", "a logger that drifts, pulled onto the tape; drag, wheel, click a place"),
    ("/rounds", "make a round, then pair a phone at /pair and take it along"),
)


@click.command()
@click.option("--port", default=8765, show_default=True, help="Port to listen on.")
@click.option("--listen", "host", default="127.0.0.1", show_default=True, metavar="ADDRESS",
              help="Address to listen on; any but this machine's own asks visitors for a key.")  # fmt: skip
@click.option("--tls-cert", default=None, metavar="FILE", help="Certificate (PEM), for other machines.")
@click.option("--tls-key", default=None, metavar="FILE", help="Its private key (PEM).")
@click.option("--without-tls", is_flag=True, help="Serve other machines unencrypted: behind a proxy, or knowingly.")
@click.option("--tour", is_flag=True, help="Say what to look at in the Marrow Fen demo.")
@click.option("--only-check", is_flag=True, help="Serve for a moment, see that every page answers, stop.")
@at_desk
def office(desk: Desk, **asked: Any) -> None:
    """Open the network in a browser: look, enter, correct, import. Stop it with Ctrl-C."""
    from tapedown.web import serving  # half a second that no other command needs to pay

    desk.network().record.close()
    source = click.get_current_context().get_parameter_source("port")
    host, tls = asked["host"], {name: asked[name] for name in ("tls_cert", "tls_key", "without_tls")}
    serving.plan(host, asked["port"], **tls)  # refuses before any port is tried
    port = serving.free_port(host, asked["port"], search=source is ParameterSource.DEFAULT)
    planned = serving.plan(host, port, **tls)
    if asked["only_check"]:
        _check(desk, planned)
        return
    click.echo(f"the office is open at {planned.address}")
    if asked["tour"]:
        click.echo("\n".join(f"  {path:<24} {what}" for path, what in TOUR))
    click.echo("stop it with Ctrl-C")
    serving.serve_plan(desk.where, planned)


def _check(desk: Desk, planned: Plan) -> None:
    from tapedown.web.serving import answers

    for path, status in answers(desk.where, planned, PAGES):
        click.echo(f"  {status} {planned.address.rstrip('/')}{path}")
        if status != OK:
            raise TapedownError(f"{path} answered {status}", hint="please report it")
    click.echo("every page answers; `tapedown office` keeps them open")
