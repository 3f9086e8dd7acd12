"""Serving the office: on this machine alone unless somebody says otherwise in so many words."""

from __future__ import annotations

import errno
import http.client
import ipaddress
import secrets
import socket
import threading
import time
from collections.abc import Sequence
from http import HTTPStatus
from pathlib import Path
from typing import NamedTuple

import uvicorn

from tapedown.values.errors import TapedownError
from tapedown.web.app import create_app
from tapedown.web.security import LOCAL_NAMES, Doors, new_doors


class InTheClear(TapedownError):
    """Serving other machines without encryption was not asked for in so many words."""

    def __init__(self, host: str) -> None:
        super().__init__(
            f"{host} can be reached by other machines, and without a certificate everything goes in the clear",
            hint="give --tls-cert and --tls-key, or say --without-tls behind a proxy or on a network you trust",
        )


class HalfTls(TapedownError):
    """A certificate without its key, or a key without its certificate."""

    def __init__(self) -> None:
        super().__init__("a certificate and its key go together", hint="give both --tls-cert and --tls-key")


class PortTaken(TapedownError):
    """Another program listens on the port."""

    def __init__(self, port: int) -> None:
        super().__init__(
            f"port {port} is taken by another program, perhaps another office",
            hint="stop that one, or give another port: --port 8800",
        )


class NoSuchAddress(TapedownError):
    """The address to listen on is not this machine's, or may not be used."""

    def __init__(self, host: str, why: str) -> None:
        super().__init__(
            f"cannot listen on {host}: {why}",
            hint="127.0.0.1 is this machine alone, 0.0.0.0 every address it has; ports below 1024 need rights",
        )


class Plan(NamedTuple):
    """How an office is going to be served. address is where a person opens it, with the key when one is asked for."""

    host: str
    port: int
    tls_cert: Path | None
    tls_key: Path | None
    doors: Doors
    address: str


def plan(
    host: str = "127.0.0.1",
    port: int = 8765,
    *,
    tls_cert: str | Path | None = None,
    tls_key: str | Path | None = None,
    without_tls: bool = False,
) -> Plan:
    """Decide names, key and address of an office.

    Raises
    ------
    InTheClear, HalfTls
    """
    if (tls_cert is None) != (tls_key is None):
        raise HalfTls
    tls = tls_cert is not None
    scheme = "https" if tls else "http"
    if is_loopback(host):
        shown = f"[{host}]" if ":" in host else host
        return Plan(host, port, _path(tls_cert), _path(tls_key), new_doors(tls=tls), f"{scheme}://{shown}:{port}/")
    if not tls and not without_tls:
        raise InTheClear(host)
    key, machine = secrets.token_urlsafe(32), socket.gethostname()
    names = {*LOCAL_NAMES, host, machine, machine.lower(), f"{machine.lower()}.local", socket.getfqdn().lower()}
    doors = new_doors(names=frozenset(names), any_address=True, key=key, tls=tls)
    shown = machine if host in {"0.0.0.0", "::"} else f"[{host}]" if ":" in host else host  # noqa: S104 - compared
    return Plan(host, port, _path(tls_cert), _path(tls_key), doors, f"{scheme}://{shown}:{port}/enter?key={key}")


def free_port(host: str, port: int, *, search: bool) -> int:
    """The port, when it is free; with `search` the first free one of the next twenty.

    Raises
    ------
    PortTaken
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for candidate in range(port, port + (20 if search else 1)):
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, candidate))
            except OSError as error:
                if error.errno != errno.EADDRINUSE:
                    raise NoSuchAddress(host, error.strerror or str(error)) from None
            else:
                return candidate
    raise PortTaken(port)


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach the host.

    Example
    -------
    >>> is_loopback("127.0.0.1"), is_loopback("localhost"), is_loopback("0.0.0.0")
    (True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _path(given: str | Path | None) -> Path | None:
    return None if given is None else Path(given)


def serve_plan(where: str | Path, planned: Plan) -> None:
    """Serve the network at `where` until told to stop."""
    uvicorn.Server(_config(where, planned)).run()


def answers(where: str | Path, planned: Plan, paths: Sequence[str]) -> list[tuple[str, int]]:
    """Serve for a moment and ask for these paths over the wire: path and status of each."""
    server = uvicorn.Server(_config(where, planned))
    running = threading.Thread(target=server.run, daemon=True)
    running.start()
    try:
        return [(path, _status(planned, path)) for path in paths]
    finally:
        server.should_exit = True
        running.join(timeout=10)


def _status(planned: Plan, path: str, patience_s: float = 60.0) -> int:
    """What a page answers. One that shows how far its work has come first is asked again until the work is done."""
    until = time.monotonic() + patience_s
    while True:
        connection = http.client.HTTPConnection(planned.host, planned.port, timeout=patience_s)
        try:
            connection.request("GET", path)
            status = connection.getresponse().status
            if status != HTTPStatus.SEE_OTHER or time.monotonic() > until:
                return status
        except ConnectionRefusedError:
            if time.monotonic() > until:
                raise
        finally:
            connection.close()
        time.sleep(0.1)


def _config(where: str | Path, planned: Plan) -> uvicorn.Config:
    return uvicorn.Config(
        create_app(where, doors=planned.doors),
        host=planned.host,
        port=planned.port,
        ssl_certfile=planned.tls_cert,
        ssl_keyfile=planned.tls_key,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        h11_max_incomplete_event_size=64_000,
    )


def serve(
    where: str | Path,
    *,
    host: str = "127.0.0.1",
    port: int = 8765,
    tls_cert: str | Path | None = None,
    tls_key: str | Path | None = None,
    without_tls: bool = False,
) -> None:
    """Plan and serve in one go; prints nothing. Raises InTheClear, HalfTls, NoNetwork."""
    serve_plan(where, plan(host, port, tls_cert=tls_cert, tls_key=tls_key, without_tls=without_tls))
