"""Ink: who writes, on which device, when. Facts get their id and their time here and nowhere else."""

from __future__ import annotations

import os
import re
import secrets
import socket
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

import uuid_utils

from tapedown.values.ledger.entries import Draft, canonical
from tapedown.values.times import written_form


def now() -> datetime:
    """The time, UTC."""
    return datetime.now(UTC)


class Author(NamedTuple):
    """Who writes, on which device, by which clock."""

    by: str
    device: str
    clock: Callable[[], datetime] = now

    def draft(
        self,
        kind: str,
        about: str,
        body: Mapping[str, Any],
        *,
        measured_at: str = "",
        strikes: str | None = None,
        reason: str = "",
    ) -> Draft:
        """A fact with its id (UUIDv7) and the time it is written."""
        moment = self.clock()
        identity = str(uuid_utils.uuid7(nanoseconds=int(moment.timestamp() * 1_000_000) * 1000))
        return Draft(
            identity, kind, about, measured_at, written_form(moment), self.by, canonical(body), strikes, reason
        )


def this_device() -> str:
    """Name of this device, made once and kept outside the network's folder.

    A folder copied to a second machine is then written under a second name, so the two chains never fork.
    `TAPEDOWN_DEVICE` overrides it.
    """
    named = os.environ.get("TAPEDOWN_DEVICE")
    if named:
        return named
    place = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "tapedown" / "device"
    if place.is_file():
        return place.read_text(encoding="utf-8").strip()
    host = re.sub(r"[^A-Za-z0-9-]", "-", socket.gethostname())[:24] or "device"
    name = f"{host}-{secrets.token_hex(4)}"
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(name + "\n", encoding="utf-8")
    return name
