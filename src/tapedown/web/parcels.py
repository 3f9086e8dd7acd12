"""Parcels: deliveries made for download, one after another, in a folder that is gone when the office closes."""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tapedown.values.errors import TapedownError
from tapedown.work.delivering import Written
from tapedown.work.gathering import Tell

MOST = 3
"""Parcels kept at a time; the oldest goes first."""
Make = Callable[[Path, Tell], Written]


class NoSuchParcel(TapedownError):
    """A parcel that is no longer kept."""

    def __init__(self) -> None:
        super().__init__("that delivery is not kept any more", hint="make it again; nothing is lost")


class ParcelInHand(TapedownError):
    """Another delivery is being made."""

    def __init__(self) -> None:
        super().__init__("another delivery is being made", hint="wait until it is ready, then ask again")


@dataclass
class Parcel:
    """A delivery being made, made, or failed: how far it is, the zip file, why it failed."""

    name: str
    place: Path
    doing: str = "beginning"
    done: int = 0
    of: int = 1
    written: Written | None = None
    failed: TapedownError | None = None

    @property
    def ready(self) -> bool:
        """Whether it can be fetched."""
        return self.written is not None

    @property
    def waiting(self) -> bool:
        """Whether it is still being made."""
        return self.written is None and self.failed is None


class Parcels:
    """Parcels by a name nobody can guess."""

    def __init__(self) -> None:
        self._folder: TemporaryDirectory[str] | None = None
        self._parcels: OrderedDict[str, Parcel] = OrderedDict()
        self._lock = threading.Lock()
        self._threads: list[threading.Thread] = []

    def start(self, name: str, make: Make) -> str:
        """Begin to make a parcel called `name`; gives the name to ask for it by.

        Raises
        ------
        ParcelInHand
        """
        with self._lock:
            if any(parcel.waiting for parcel in self._parcels.values()):
                raise ParcelInHand
            self._folder = self._folder or TemporaryDirectory(prefix="tapedown-")
            token = secrets.token_urlsafe(16)
            parcel = Parcel(name, Path(self._folder.name, f"{token}.zip"))
            self._parcels[token] = parcel
            while len(self._parcels) > MOST:
                self._parcels.popitem(last=False)[1].place.unlink(missing_ok=True)
        thread = threading.Thread(target=_made, args=(parcel, make), daemon=True)
        self._threads = [t for t in self._threads if t.is_alive()] + [thread]
        thread.start()
        return token

    def get(self, token: str) -> Parcel:
        """The parcel of a name. Raises NoSuchParcel."""
        with self._lock:
            found = self._parcels.get(token)
        if found is None:
            raise NoSuchParcel
        return found

    def close(self) -> None:
        """Wait for what is being made, and put everything away."""
        for thread in self._threads:
            thread.join()
        with self._lock:
            self._parcels.clear()
            if self._folder is not None:
                self._folder.cleanup()
                self._folder = None


def _made(parcel: Parcel, make: Make) -> None:
    def tell(what: str, done: int, of: int) -> None:
        parcel.doing, parcel.done, parcel.of = what, done, max(of, 1)

    try:
        parcel.written = make(parcel.place, tell)
    except TapedownError as error:
        parcel.failed = error
    except Exception as error:
        parcel.failed = TapedownError(f"it could not be made: {error}", hint="please report it")
        raise
