"""Handing on: the network written in the formats asked for, with a manifest, whole or not at all."""

from __future__ import annotations

import hashlib
import shutil
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp
from typing import NamedTuple

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.formats.registry import ENTRIES, writer, written_as
from tapedown.exchange.packages.manifest import NAME, DeliveredFile, Manifest, manifest_bytes, manifest_of
from tapedown.record import heads
from tapedown.values.errors import TapedownError
from tapedown.values.progress import Progress, Watch, unwatched
from tapedown.work.networks import OpenNetwork
from tapedown.work.sync.sending import sending

ENTRIES_PATH = "entries/entries.jsonl"
READ_ME = "READ ME.txt"


class PlaceTaken(TapedownError):
    """Something stands where the delivery should go."""

    def __init__(self, place: str) -> None:
        super().__init__(f"there is something at {place} already", hint="name a new folder; nothing is overwritten")


class NothingAsked(TapedownError):
    """No format was asked for."""

    def __init__(self) -> None:
        super().__init__("no format is named", hint="name one or more: --as csv --as waterml")


class EntriesAreWhole(TapedownError):
    """Entries were asked for of some wells only."""

    def __init__(self) -> None:
        super().__init__(
            "the record's entries go whole or not at all: a chain with gaps proves nothing",
            hint="leave --well out, or deliver the wells in the other formats",
        )


class DeliveryWritten(NamedTuple):
    """A delivery that was written: its manifest and the manifest's own SHA-256."""

    manifest: Manifest
    sha256: str

    @property
    def size(self) -> int:
        """Bytes of all files."""
        return sum(piece.size for piece in self.manifest.files)


def deliver(
    network: OpenNetwork, delivery: Delivery, formats: Sequence[str], folder: str | Path, *, watch: Watch = unwatched
) -> DeliveryWritten:
    """Write a delivery into a new folder. It appears there whole, or not at all.

    Raises
    ------
    UnknownFormat, PackageMissing, NothingAsked, EntriesAreWhole, PlaceTaken
    """
    place = Path(folder)
    checked_formats(formats, delivery)
    if place.exists():
        raise PlaceTaken(str(place))
    place.parent.mkdir(parents=True, exist_ok=True)
    making = Path(mkdtemp(prefix=f".{place.name}-", dir=place.parent))
    try:
        written = _write(network, delivery, formats, making, watch)
        making.chmod(0o755)
        making.rename(place)
    except BaseException:
        shutil.rmtree(making, ignore_errors=True)
        raise
    return written


def deliver_zip(
    network: OpenNetwork, delivery: Delivery, formats: Sequence[str], file: Path, *, watch: Watch = unwatched
) -> DeliveryWritten:
    """Write a delivery into a zip file. Raises as `deliver`."""
    checked_formats(formats, delivery)
    if file.exists():
        raise PlaceTaken(str(file))
    with TemporaryDirectory() as folder:
        written = _write(network, delivery, formats, Path(folder), watch)
        try:
            with zipfile.ZipFile(file, "x", zipfile.ZIP_DEFLATED) as archive:
                for name in (NAME, *(piece.path for piece in written.manifest.files)):
                    archive.write(Path(folder, name), name)
        except BaseException:
            file.unlink(missing_ok=True)
            raise
    return written


def checked_formats(formats: Sequence[str], delivery: Delivery | None = None) -> None:
    """Everything that can be refused before an hour of work: names, and packages that are not installed.

    Raises
    ------
    UnknownFormat, PackageMissing, NothingAsked, EntriesAreWhole
    """
    if not formats:
        raise NothingAsked
    if ENTRIES in formats and delivery is not None and delivery.chosen:
        raise EntriesAreWhole
    for name in formats:
        if name != ENTRIES:
            writer(name)


def _write(
    network: OpenNetwork, delivery: Delivery, formats: Sequence[str], folder: Path, watch: Watch
) -> DeliveryWritten:
    asked, made = list(dict.fromkeys(formats)), Tables(delivery)
    pieces = []
    for done, name in enumerate(asked):
        watch(Progress(f"writing {name}", done, len(asked)))
        if name == ENTRIES:
            pieces.append(_keep(folder, ENTRIES_PATH, sending(network).lines()))
            continue
        pieces += [_keep(folder, f"{name}/{path}", [data]) for path, data in written_as(made, name)]
    pieces.append(_keep(folder, READ_ME, [_read_me(delivery, asked).encode("utf-8", "replace")]))
    ends = [(*head,) for head in heads(network.record)] if not delivery.as_of else []
    manifest = manifest_of(delivery, asked, ends, pieces)
    data = manifest_bytes(manifest)
    _keep(folder, NAME, [data])
    return DeliveryWritten(manifest, hashlib.sha256(data).hexdigest())


def _keep(folder: Path, path: str, pieces: Iterable[bytes]) -> DeliveredFile:
    place = folder / path
    place.parent.mkdir(parents=True, exist_ok=True)
    size, digest = 0, hashlib.sha256()
    with place.open("xb") as file:
        for piece in pieces:
            size += file.write(piece)
            digest.update(piece)
    return DeliveredFile(path, size, digest.hexdigest())


_LOGGERS = """
What loggers recorded is in the formats csv, geoparquet, waterml and netcdf whole, and in xlsx as far as a sheet takes
it; the daily means are in each of them. Geojson, geopackage and groundwaterml hold readings by hand alone.
"""


def _read_me(delivery: Delivery, formats: Sequence[str]) -> str:
    network, readings = delivery.network, sum(len(well.readings) for well in delivery.wells)
    known = f"As known at {delivery.as_of}." if delivery.as_of else f"As known at {delivery.made_at}."
    loggers = any(well.series for well in delivery.wells)
    return f"""{delivery.title}

{len(delivery.wells)} wells, {readings} readings. {known}
Made by {delivery.program}, engine {delivery.engine}. Formats: {", ".join(formats)}.

Depths are positive down, elevations positive up, in {network.vertical_datum} unless a well says otherwise.
Columns that end in _m are in metres at full precision; rounded columns are as the digits of each reading allow, with
the expanded uncertainty beside them. Times carry their offset; the wells lie in the zone {network.zone}. Where the time
of day is not known, noon stands for it and the reading says so. A dry well has no level: it is deeper than the depth
given. A quality that is not "good" has its reasons in the findings.
{_LOGGERS if loggers else ""}
{NAME} holds the SHA-256 of every file. To check this delivery: tapedown verify --delivery THIS-FOLDER
"""
