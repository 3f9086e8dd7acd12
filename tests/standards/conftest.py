"""Marrow Fen as a delivery, and the standards beside the repository."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.exchange.delivery.contents import Delivery
from tapedown.work.exports.gathering import gather
from tapedown.work.marrow_fen import build
from tapedown.work.networks import OpenNetwork

SHARED = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[3] / "shared")) / "standards"


def standard(path: str) -> Path:
    """A file or folder of the standards; the test is skipped where they are not beside the repository."""
    place = SHARED / path
    if not place.exists():
        pytest.skip(f"the standards are not beside the repository: {path}")
    return place


@pytest.fixture(scope="session")
def fen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    """The demonstration network."""
    network = build(str(tmp_path_factory.mktemp("demo") / "fen"))
    with network.record:
        yield network


@pytest.fixture(scope="session")
def delivery(fen: OpenNetwork) -> Delivery:
    """All of it, rounded in both units."""
    return gather(fen, units=("ft", "m"))


@pytest.fixture(scope="session")
def written(delivery: Delivery, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a delivery in every format, each in a folder of its name."""
    from tapedown.exchange.delivery.tables import Tables
    from tapedown.exchange.formats.registry import FORMATS, written_as

    folder, made = tmp_path_factory.mktemp("delivered"), Tables(delivery)
    for name in FORMATS:
        (folder / name).mkdir()
        for path, data in written_as(made, name):
            (folder / name / path).write_bytes(data)
    return folder
