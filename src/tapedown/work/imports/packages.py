"""A delivery or another package on disk: a folder or a zip file, looked at without unpacking anything."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, NamedTuple, Protocol

from tapedown.exchange.packages.archive import Archive
from tapedown.exchange.packages.errors import NotADelivery
from tapedown.exchange.packages.manifest import MOST_FILES, NAME, Flaw, Manifest, flaws, is_inside, read_manifest
from tapedown.work.refusals import UnreadableFile

_PIECE = 1 << 20
LARGEST_MANIFEST = 100_000_000


class Handed(NamedTuple):
    """A file handed over with its bytes: it lies nowhere. `name` is what it is called, and tells its kind."""

    name: str
    data: bytes


class Package(Protocol):
    """Files by their path inside a folder or a zip."""

    name: str

    def paths(self) -> list[str]:
        """Every file, sorted."""
        ...

    def pieces(self, path: str) -> Iterator[bytes]:
        """The bytes of a file, piece by piece."""
        ...


class FolderPackage:
    """A folder. What lies outside of it, links included, is not looked at."""

    def __init__(self, folder: Path) -> None:
        self.name, self._folder = folder.name, folder

    def paths(self) -> list[str]:
        """Every file, sorted."""
        inside = [p for p in self._folder.rglob("*") if p.is_file() and not p.is_symlink()]
        if len(inside) > MOST_FILES:
            raise NotADelivery(f"the folder holds {len(inside):,} files; {MOST_FILES:,} are looked at")
        return sorted(p.relative_to(self._folder).as_posix() for p in inside)

    def pieces(self, path: str) -> Iterator[bytes]:
        """The bytes of a file, piece by piece."""
        place = self._folder / path
        if not is_inside(path) or place.is_symlink():
            raise NotADelivery(f"{path[:80]!r} lies outside of it")
        with place.open("rb") as file:
            while piece := file.read(_PIECE):
                yield piece


class ZipPackage:
    """A zip file."""

    def __init__(self, file: IO[bytes], name: str) -> None:
        self.name, self._archive = name, Archive(file)
        self._below = _one_folder([member.path for member in self._archive.members])

    def paths(self) -> list[str]:
        """Every file, sorted; without the one folder that holds them all, where there is one."""
        return sorted(member.path.removeprefix(self._below) for member in self._archive.members)

    def pieces(self, path: str) -> Iterator[bytes]:
        """The bytes of a file, piece by piece."""
        return self._archive.pieces(self._below + path)


def _one_folder(paths: list[str]) -> str:
    tops = {path.partition("/")[0] for path in paths}
    return f"{tops.pop()}/" if len(tops) == 1 and all("/" in path for path in paths) else ""


@contextmanager
def open_package(place: str | Path | Handed) -> Iterator[Package]:
    """A folder or a zip file, or a zip that was handed over.

    Raises
    ------
    UnreadableFile, HostileZip
    """
    if isinstance(place, Handed):
        yield ZipPackage(io.BytesIO(place.data), place.name)
        return
    path = Path(place)
    if path.is_dir():
        yield FolderPackage(path)
        return
    try:
        file = path.open("rb")
    except OSError as error:
        hint = "check the name; is the folder or the file there?"
        raise UnreadableFile(str(place), error.strerror or str(error), hint) from None
    with file:
        yield ZipPackage(file, path.name)


def whole(package: Package, path: str, *, largest: int) -> bytes:
    """The bytes of one file. Raises NotADelivery when there are more than are read."""
    data = bytearray()
    for piece in package.pieces(path):
        data += piece
        if len(data) > largest:
            raise NotADelivery(f"{path} has more than {largest:,} bytes")
    return bytes(data)


class Verified(NamedTuple):
    """A delivery held against its manifest."""

    manifest: Manifest
    flaws: tuple[Flaw, ...]
    sha256: str

    @property
    def sound(self) -> bool:
        """Whether every file is there and as it was written, and no other."""
        return not self.flaws


def verify_delivery(package: Package) -> Verified:
    """Hold every file of a delivery against its manifest. `sha256` is of the manifest itself.

    Raises
    ------
    NotADelivery, HostileZip
    """
    paths = package.paths()
    if NAME not in paths:
        raise NotADelivery(f"there is no {NAME} in it")
    manifest_bytes = whole(package, NAME, largest=LARGEST_MANIFEST)
    manifest = read_manifest(manifest_bytes)
    digests = {path: _digest(package, path) for path in paths if path != NAME}
    return Verified(manifest, tuple(flaws(manifest, digests)), hashlib.sha256(manifest_bytes).hexdigest())


def _digest(package: Package, path: str) -> tuple[int, str]:
    size, digest = 0, hashlib.sha256()
    for piece in package.pieces(path):
        size += len(piece)
        digest.update(piece)
    return size, digest.hexdigest()
