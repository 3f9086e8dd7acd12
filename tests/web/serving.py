"""An office in a process of its own, on this machine: clients that drive it cannot hang with it."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx

SERVE = "import sys; from tapedown.web.serving import serve; serve(sys.argv[1], port=int(sys.argv[2]))"


@contextmanager
def served(where: str | Path) -> Iterator[str]:
    """The address of an office of the network at `where`."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    source = str(Path(__file__).parents[2] / "src")
    process = subprocess.Popen([sys.executable, "-c", SERVE, str(where), str(port)],
                               env={**os.environ, "PYTHONPATH": source})  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(f"{address}/services", process)
        yield address
    finally:
        process.terminate()
        process.wait(timeout=20)


def _wait_for(url: str, process: subprocess.Popen[bytes], patience_s: float = 60.0) -> None:
    until = time.monotonic() + patience_s
    while True:
        try:
            httpx.get(url, timeout=10, trust_env=False).raise_for_status()
        except httpx.TransportError:
            if process.poll() is not None or time.monotonic() > until:
                raise
            time.sleep(0.1)
        else:
            return
