"""The office at work for the field sheet's tests: the real application on a copy of Marrow Fen, started and stopped."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from pathlib import Path
from typing import Any

import uvicorn
from starlette.responses import JSONResponse

from tapedown.record import Record, entries_after, open_record
from tapedown.values.ledger.entries import Entry
from tapedown.web.app import create_app
from tapedown.web.sheet_files import version as sheet_version
from tapedown.work.authorship import Author
from tapedown.work.field.pairing import Codes
from tapedown.work.networks import open_network
from tapedown.work.rounds.planning import make_round

PEN = Author("M. Teasel", "office")


class FenOffice:
    """An office on its own copy of the network. It may be stopped, as a lost signal, and started again."""

    def __init__(self, fen: Path, folder: Path) -> None:
        self.folder = Path(shutil.copytree(fen, folder / "fen"))
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        self.codes = Codes()
        self.released: dict[str, object] = {}
        self.start()

    @property
    def address(self) -> str:
        """Where the sheet is opened."""
        return f"http://127.0.0.1:{self.port}/sheet/"

    def start(self) -> None:
        """Open the office; the codes that wait stay the same."""
        self.app = app = create_app(self.folder)
        app.state.codes = self.codes

        async def answer(scope: Any, receive: Any, send: Any) -> None:
            if self.released and scope["type"] == "http" and scope["path"] == "/sheet/version.json":
                await JSONResponse(self.released)(scope, receive, send)
            else:
                await app(scope, receive, send)

        config = uvicorn.Config(answer, port=self.port, log_level="error", ws="none", timeout_graceful_shutdown=1)
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()
        until = time.monotonic() + 20
        while not self.server.started:
            if time.monotonic() > until:
                raise TimeoutError("the office did not open within 20 s")
            time.sleep(0.02)

    def release(self, version: str, *, extra: str = "") -> None:
        """From now on the office says that the sheet has another version, perhaps with a file that is not there."""
        files = sheet_version()["files"]
        assert isinstance(files, list)
        self.released = {"version": version, "files": [*files, *([extra] if extra else [])]}

    def stop(self) -> None:
        """Close the office: nobody answers at its address."""
        self.server.should_exit = True
        self.thread.join(20)

    def plan(self, name: str, wells: list[str]) -> str:
        """Plan a round; gives its id."""
        network = open_network(self.folder)
        with network.record:
            return make_round(network, {"name": name, "day": "2026-05-14", "wells": wells}, PEN).id

    def code(self) -> str:
        """A fresh pairing code."""
        return self.codes.make(PEN.by).text

    def record(self) -> Record:
        """The record, opened beside the running office."""
        return open_record(self.folder / "record.db")

    def from_phones(self) -> list[Entry]:
        """Everything phones have handed in, in the order of their chains."""
        with self.record() as record:
            return [entry for entry in entries_after(record) if entry.device.startswith("phone-")]
