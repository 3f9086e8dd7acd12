"""Taking in what others hand on: our own deliveries, Data Packages, WaterML 2, GeoPackages. Looked at first if wanted.

A delivery that holds the record's entries gives them back without loss. Anything else becomes readings as reported by
others, line by line, each of them accounted for.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, NamedTuple, cast

from tapedown.exchange.formats.registry import optional_packages
from tapedown.exchange.packages.data_package_in import (
    DESCRIPTOR,
    LARGEST_DESCRIPTOR,
    read_data_package,
    read_descriptor,
)
from tapedown.exchange.packages.errors import DeliveryUnsound
from tapedown.exchange.packages.incoming import Found, Incoming, NotTaken
from tapedown.exchange.packages.manifest import NAME
from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.exchange.tables.lines import Proposed
from tapedown.exchange.tables.mapping import TableMapping
from tapedown.exchange.tables.reading import TableRow
from tapedown.record import entries
from tapedown.values.errors import TapedownError
from tapedown.values.progress import Progress, Watch, unwatched
from tapedown.work.authorship import Author
from tapedown.work.exports.export import ENTRIES_PATH
from tapedown.work.imports.packages import Handed, Package, open_package, verify_delivery, whole
from tapedown.work.imports.tables import ImportReport, LineReport, import_rows
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import UnreadableFile
from tapedown.work.sync.sending import Received, receive, receive_here

LARGEST_FILE = 500_000_000
WATERML, GEOPACKAGE = (".xml", ".wml"), ".gpkg"
_HERE = "the record holds this reading itself, as it was read"
Place = str | Path | Handed
"""Where a package lies, or a file handed over."""


class NothingWeRead(TapedownError):
    """A file or package of a kind that is not taken in."""

    def __init__(self, name: str) -> None:
        super().__init__(
            f"{name} is nothing that is taken in",
            hint="a delivery, a Data Package, WaterML 2 (.xml) or a GeoPackage (.gpkg), alone or in a folder or zip; "
            "a plain table goes in with `tapedown import`",
        )


class PackageHints(NamedTuple):
    """What the person says about a package that does not say it itself.

    quantity  key of exchange.delivery.quantities, for series whose property is not known
    datum     vertical datum of elevations
    layer     of a GeoPackage
    mappings  table -> mapping; under "" the one for a file that holds one table
    """

    quantity: str = ""
    datum: str = ""
    layer: str = ""
    mappings: Mapping[str, TableMapping] = {}


class PackageTaken(NamedTuple):
    """What became of a package: a report for every table, and what was not taken."""

    reports: tuple[ImportReport, ...]
    not_taken: tuple[NotTaken, ...]


def has_entries(place: Place) -> bool:
    """Whether a place is a delivery that holds the record's own entries."""
    if not _is_package(place):
        return False
    with open_package(place) as package:
        return {NAME, ENTRIES_PATH} <= set(package.paths())


def _is_package(place: Place) -> bool:
    if isinstance(place, Handed):
        return place.name.lower().endswith(".zip")
    return Path(place).is_dir() or str(place).lower().endswith(".zip")


def take_back(where: str, place: str | Path, *, dry_run: bool = False) -> Received:
    """Take in a delivery that holds the record's own entries, into the network at `where` or a new one.

    Raises
    ------
    DeliveryUnsound, NotADelivery, HostileZip
        Nothing was written.
    OtherNetwork, NoRoom
    """
    with open_package(place) as package:
        _sound(package)
        with _lines(package) as lines:
            return receive(where, lines, ENTRIES_PATH, dry_run=dry_run)


def take_back_here(network: OpenNetwork, place: Place, *, dry_run: bool = False) -> Received:
    """As `take_back`, into a record that is open already.

    Raises
    ------
    DeliveryUnsound, NotADelivery, HostileZip, OtherNetwork
        Nothing was written.
    """
    with open_package(place) as package:
        _sound(package)
        with _lines(package) as lines:
            return receive_here(network, lines, ENTRIES_PATH, dry_run=dry_run)


def _sound(package: Package) -> None:
    verified = verify_delivery(package)
    if not verified.sound:
        first = verified.flaws[0]
        raise DeliveryUnsound(f"{first.path}: {first.what}", len(verified.flaws))


@contextmanager
def _lines(package: Package) -> Iterator[IO[bytes]]:
    with io.BufferedReader(_Pieces(package.pieces(ENTRIES_PATH))) as lines:
        yield cast(IO[bytes], lines)


class _Pieces(io.RawIOBase):
    """Pieces of bytes as a file, so that a large one is never held whole."""

    def __init__(self, pieces: Iterator[bytes]) -> None:
        self._pieces, self._left = pieces, b""

    def readable(self) -> bool:
        """Yes."""
        return True

    def readinto(self, buffer: Any) -> int:
        """As RawIOBase has it."""
        room = memoryview(buffer).cast("B")
        if not self._left:
            self._left = next(self._pieces, b"")
        taken, self._left = self._left[: len(room)], self._left[len(room) :]
        room[: len(taken)] = taken
        return len(taken)


def take_in(
    network: OpenNetwork,
    place: Place,
    said: PackageHints,
    author: Author,
    *,
    dry_run: bool = False,
    watch: Watch = unwatched,
) -> PackageTaken:
    """Take in what others wrote; each table as a whole or not at all.

    Raises
    ------
    NothingWeRead, NotATable, TableTooLarge, HostileZip, PackageMissing, MappingDoesNotFit
        Nothing was written.
    """
    watch(Progress("reading the package"))
    brought, origin = _found(place, said)
    ids = _entries_here(network, brought)
    foreseen: list[Proposed] = []

    def taken(table: Incoming, **more: Any) -> ImportReport:
        ours = {number for number, of in table.ids.items() if of in ids}
        rows = [
            TableRow(row.number, (), _HERE, "nothing to do") if row.number in ours else row for row in table.table.rows
        ]
        left, name = table.table._replace(rows=rows), (table.name, origin)
        report = import_rows(network, left, name, table.mapping, author, watch=watch, **more)
        return report._replace(lines=tuple(_there(line) if line.number in ours else line for line in report.lines))

    # before a real run too: a mapping that does not fit shows before anything is written
    reports = [taken(table, dry_run=True, foreseen=foreseen) for table in brought.tables]
    if not dry_run:
        reports = [taken(table) for table in brought.tables]
    return PackageTaken(tuple(reports), brought.not_taken)


def _entries_here(network: OpenNetwork, brought: Found) -> set[str]:
    """Ids of entries that the record holds and tables of the package were made of."""
    if not any(table.ids for table in brought.tables):
        return set()
    return {held.entry.id for held in entries(network.record, kinds=("readings", "visit"), struck=True)}


def _there(line: LineReport) -> LineReport:
    return line._replace(outcome="already there", mend="")


def _found(place: Place, hints: PackageHints) -> tuple[Found, str]:
    """What a place holds, and the SHA-256 of the file that says so."""
    name = place.name if isinstance(place, Handed) else Path(place).name
    if _is_package(place):
        return _package(place, name, hints)
    if Path(name).suffix.lower() not in {*WATERML, GEOPACKAGE}:
        raise NothingWeRead(name)
    data = place.data if isinstance(place, Handed) else _bytes_at(Path(place))
    return _file(data, name, hints), hashlib.sha256(data).hexdigest()


def _file(data: bytes, name: str, hints: PackageHints) -> Found:
    """What a GeoPackage or a document of WaterML holds."""
    with optional_packages():
        if name.lower().endswith(GEOPACKAGE):
            from tapedown.exchange.packages.geopackage_in import read_geopackage

            mapping = next(iter(hints.mappings.values()), None)
            return read_geopackage(data, name, layer=hints.layer, mapping=mapping)
        from tapedown.exchange.packages.waterml_in import read_waterml

        return read_waterml(data, name, quantity=hints.quantity, datum=hints.datum)


def _bytes_at(place: Path) -> bytes:
    try:
        return place.read_bytes()
    except OSError as error:
        raise UnreadableFile(str(place), error.strerror or str(error), "check the name; is the file there?") from None


def _package(place: Place, name: str, hints: PackageHints) -> tuple[Found, str]:
    with open_package(place) as package:
        paths = package.paths()
        if NAME in paths:
            _sound(package)
        at = next((path for path in (DESCRIPTOR, f"csv/{DESCRIPTOR}") if path in paths), "")
        if at:
            return _described(package, set(paths), at, hints)
        files = [path for path in paths if path.lower().endswith(GEOPACKAGE)]
        files = files or [path for path in paths if path.lower().endswith(WATERML)]
        if not files:
            raise NothingWeRead(name)
        return _each(package, files, hints)


def _described(package: Package, paths: set[str], at: str, hints: PackageHints) -> tuple[Found, str]:
    """The tables of a Data Package of these files, whose descriptor lies at `at`."""
    below = at.removesuffix(DESCRIPTOR)
    data = whole(package, at, largest=LARGEST_DESCRIPTOR)

    def read(path: str) -> bytes:
        if below + path not in paths:
            raise UnreadableFile(path, "the package does not hold it", "ask for the package again")
        return whole(package, below + path, largest=LARGEST_FILE)

    return read_data_package(read_descriptor(data), read, hints.mappings), hashlib.sha256(data).hexdigest()


def _each(package: Package, files: Sequence[str], hints: PackageHints) -> tuple[Found, str]:
    """What several files hold; one that cannot be read is said not to be taken, with the reason."""
    tables: list[Incoming] = []
    aside: list[NotTaken] = []
    digest = hashlib.sha256()
    for path in files:
        data = whole(package, path, largest=LARGEST_FILE)
        digest.update(data)
        try:
            of_file = _file(data, Path(path).name, hints)
        except (NotATable, TableTooLarge) as error:
            aside.append(NotTaken(path, 0, str(error), error.hint))
        else:
            tables += of_file.tables
            aside += (row for row in of_file.not_taken if row not in aside)
    return Found(tuple(tables), tuple(aside)), digest.hexdigest()
