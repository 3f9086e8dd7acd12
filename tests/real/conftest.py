"""Where the open data lies, and networks with it taken in. Skipped, with the reason, where it is not there."""

from __future__ import annotations

import csv
import io
import os
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.work.authorship import Author
from tapedown.work.imports.tables import ImportReport, import_table
from tapedown.work.networks import OpenNetwork, start_network

SHARED = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[3] / "shared"))
MAPPINGS = Path(__file__).parent / "mappings"
PEN = Author("R. Alder", "desk")


def data_of(path: str) -> bytes:
    """The bytes of a file under the open data; of a zip, of the one file in it."""
    place = SHARED / "data" / path
    if not place.is_file():
        pytest.skip(f"the open data is not beside the repository: {path}")
    if place.suffix != ".zip":
        return place.read_bytes()
    with zipfile.ZipFile(place) as archive:
        return archive.read(archive.namelist()[0])


def rows_of(path: str) -> list[dict[str, str]]:
    """The lines of a file by the csv module alone: the independent count."""
    return list(csv.DictReader(io.StringIO(data_of(path).decode("utf-8-sig"), newline="")))


def take_in(network: OpenNetwork, path: str, mapping: str) -> ImportReport:
    """Import one file by one of the mappings of this folder."""
    read = read_mapping((MAPPINGS / f"{mapping}.toml").read_bytes(), mapping)
    return import_table(network, data_of(path), Path(path).name, read, PEN)


def new_network(folder: Path, zone: str) -> Iterator[OpenNetwork]:
    """An empty network in feet."""
    facts = {"name": "open data", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": zone}
    network = start_network(folder / "record.db", facts, PEN)
    with network.record:
        yield network
