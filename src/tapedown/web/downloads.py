"""Downloads: deliveries made for download, in a folder that is gone when the office closes."""

from __future__ import annotations

import secrets
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from typing import NamedTuple

from tapedown.values.errors import TapedownError
from tapedown.work.exports.export import DeliveryWritten

MOST = 3
"""Downloads kept at a time; the oldest goes first."""


class NoSuchParcel(TapedownError):
    """A delivery that is no longer kept."""

    def __init__(self) -> None:
        super().__init__("that delivery is not kept any more", hint="make it again; nothing is lost")


class Download(NamedTuple):
    """A delivery that was made: what its file is called for whoever fetches it, where it lies, what is in it."""

    name: str
    place: Path
    written: DeliveryWritten


class Downloads:
    """The folder of deliveries made."""

    def __init__(self) -> None:
        self._folder: TemporaryDirectory[str] | None = None
        self._places: list[Path] = []
        self._lock = Lock()

    def place(self) -> Path:
        """Where the next delivery may be put; the oldest is taken away."""
        with self._lock:
            self._folder = self._folder or TemporaryDirectory(prefix="tapedown-")
            place = Path(self._folder.name, f"{secrets.token_urlsafe(16)}.zip")
            self._places.append(place)
            while len(self._places) > MOST:
                self._places.pop(0).unlink(missing_ok=True)
        return place

    def close(self) -> None:
        """Put everything away."""
        with self._lock:
            self._places.clear()
            if self._folder is not None:
                self._folder.cleanup()
                self._folder = None
