"""`tapedown office`: opens on this machine alone, says where, and stops when told."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import threading
from pathlib import Path

import httpx
import pytest

from tapedown.main import main
from tapedown.opening import PAGES
from tapedown.web import serving, working
from tapedown.work.networks import OpenNetwork

PROGRAM = (sys.executable, "-c", "from tapedown.main import run; run()")


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def test_the_office_says_where_it_is_open_and_answers_there(fen: OpenNetwork) -> None:
    folder = str(Path(fen.record.where).parent)
    command = [*PROGRAM, "-n", folder, "office", "--port", str(free_port())]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as office:
        assert office.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:\d+/", office.stdout.readline())
        assert found is not None
        transport = httpx.HTTPTransport(retries=8)
        with httpx.Client(transport=transport, timeout=20) as client:
            assert "Marrow Fen" in client.get(found[0]).text
        office.send_signal(signal.SIGINT)
        assert office.wait(20) in {0, 3, -signal.SIGINT, 130}


def test_other_machines_are_refused_in_the_clear(fen: OpenNetwork, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(Path(fen.record.where).parent)
    assert main(["-n", folder, "office", "--listen", "192.0.2.7"]) == 3
    assert "--without-tls" in capsys.readouterr().err


def test_an_office_needs_a_network(tmp_path: Path) -> None:
    assert main(["-n", str(tmp_path), "office"]) == 5


def test_a_taken_port_is_told_when_it_was_asked_for_and_passed_over_when_not(
    fen: OpenNetwork, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(Path(fen.record.where).parent)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["-n", folder, "office", "--port", str(port)]) == 3
        assert "--port" in capsys.readouterr().err
        assert port < serving.free_port("127.0.0.1", port, search=True) <= port + 20


def test_the_check_sees_every_page_answer_and_stops(fen: OpenNetwork, capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(Path(fen.record.where).parent)
    assert main(["-n", folder, "office", "--only-check"]) == 0
    told = capsys.readouterr().out
    assert [line.rpartition(":")[2].lstrip("0123456789") for line in told.splitlines()[:-1]] == list(PAGES)


def test_the_check_waits_for_a_page_that_shows_how_far_its_work_has_come(
    fen: OpenNetwork, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a slow machine the first look at every well takes longer than a page waits."""
    monkeypatch.setattr(working, "PATIENCE_S", 0.0)
    quick = threading.Timer(3.0, monkeypatch.setattr, (working, "PATIENCE_S", 30.0))
    quick.start()
    try:
        assert main(["-n", str(Path(fen.record.where).parent), "office", "--only-check"]) == 0
    finally:
        quick.cancel()
    assert "303" not in [line.split()[0] for line in capsys.readouterr().out.splitlines()]
