"""A small network for use-case tests, in a folder of its own."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.networks import OpenNetwork, start_network


class SteppingClock:
    """A clock that moves on by a second at each look, and can be set ahead."""

    def __init__(self) -> None:
        self.moment = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.moment += timedelta(seconds=1)
        return self.moment


@pytest.fixture
def clock() -> SteppingClock:
    return SteppingClock()


@pytest.fixture
def author(clock: SteppingClock) -> Author:
    return Author("R. Alder", "desk", clock)


@pytest.fixture
def network(tmp_path: Path, author: Author) -> Iterator[OpenNetwork]:
    """Marrow Fen with one well, its measuring point, position and construction."""
    facts = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    found = start_network(tmp_path / "fen", facts, author)
    enter_fact(found, "well", "MF-07", {"name": "Alder Carr"}, author)
    point = {"name": "MP-1", "height": "3.40", "side": "above", "description": "notch, north side"}
    enter_fact(found, "measuring point", "MF-07", point, author, measured_at="2015-05-01")
    position = {"land_surface": "39.84", "vertical_datum": "NAVD88", "u_elevation": "0.02"}
    enter_fact(found, "position", "MF-07", position, author, measured_at="2015-05-01")
    construction = {"completed_depth": "82.1", "screens": [{"top": "70", "bottom": "80"}]}
    enter_fact(found, "construction", "MF-07", construction, author, measured_at="2015-05-01")
    yield found
    found.record.close()
