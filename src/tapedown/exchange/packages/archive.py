"""Zip files from people we do not know: names that stay inside, sizes that were said, nothing encrypted, no links."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from typing import IO, NamedTuple

from tapedown.exchange.packages.errors import HostileZip
from tapedown.exchange.packages.manifest import MOST_FILES, is_inside

LARGEST_UNPACKED = 2_000_000_000
"""A zip that unpacks to more is refused; ours."""
MOST_RATIO = 200
"""A member that unpacks to more than this many times its packed size is refused: our own stay below 40; ours."""
SMALL = 1_000_000
"""Below this size the ratio is not looked at."""
_PIECE = 1 << 20


class Member(NamedTuple):
    """A file in a zip: its path and its size unpacked, as told."""

    path: str
    size: int


class Archive:
    """The files of a zip, looked at before anything is unpacked.

    Raises
    ------
    HostileZip
        From every method.
    """

    def __init__(self, file: IO[bytes]) -> None:
        try:
            self._zip = zipfile.ZipFile(file)
        except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
            raise HostileZip(f"it cannot be read: {error}") from None
        infos = [info for info in self._zip.infolist() if not info.is_dir()]
        if len(infos) > MOST_FILES:
            raise HostileZip(f"it holds {len(infos):,} files; {MOST_FILES:,} are taken")
        if sum(info.file_size for info in infos) > LARGEST_UNPACKED:
            raise HostileZip(f"it unpacks to more than {LARGEST_UNPACKED:,} bytes")
        self._infos: dict[str, zipfile.ZipInfo] = {}
        for info in infos:
            self._look_at(info)
            self._infos[info.filename] = info

    def _look_at(self, info: zipfile.ZipInfo) -> None:
        name = info.orig_filename
        if not is_inside(name) or name != info.filename:
            raise HostileZip(f"a file in it would land elsewhere: {name[:80]!r}")
        if name in self._infos:
            raise HostileZip(f"two files in it are called {name[:80]!r}")
        if info.flag_bits & 0x1:
            raise HostileZip(f"{name[:80]} is locked with a password")
        if (info.external_attr >> 16) & 0o170000 == 0o120000:
            raise HostileZip(f"{name[:80]} is a link")
        if info.file_size > SMALL and info.file_size > MOST_RATIO * max(info.compress_size, 1):
            raise HostileZip(f"{name[:80]} unpacks to {info.file_size:,} bytes from {info.compress_size:,}")

    @property
    def members(self) -> list[Member]:
        """The files, in the order of the zip."""
        return [Member(info.filename, info.file_size) for info in self._infos.values()]

    def pieces(self, path: str) -> Iterator[bytes]:
        """The bytes of a file, piece by piece; never more than it said."""
        info = self._infos[path]
        left = info.file_size
        try:
            with self._zip.open(info) as member:
                while piece := member.read(_PIECE):
                    left -= len(piece)
                    if left < 0:
                        raise HostileZip(f"{path} is longer than it says")
                    yield piece
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError) as error:
            raise HostileZip(f"{path} cannot be unpacked: {error}") from None

    def read(self, path: str, *, largest: int = LARGEST_UNPACKED) -> bytes:
        """The bytes of a file."""
        if self._infos[path].file_size > largest:
            raise HostileZip(f"{path} unpacks to more than {largest:,} bytes")
        return b"".join(self.pieces(path))
