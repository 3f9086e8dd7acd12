"""`tapedown office`: opens on this machine alone, says where, and stops when told."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from tapedown.main import main
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
