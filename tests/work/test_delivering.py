"""A delivery is whole or not there, comes back without loss, and shows every change."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import event

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.formats.registry import PackageMissing, UnknownFormat, optional_packages
from tapedown.exchange.packages.errors import DeliveryUnsound
from tapedown.exchange.packages.manifest import NAME
from tapedown.record import append, heads
from tapedown.values.kinds import about_well
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import correct, enter_fact, read_visit, write_visit
from tapedown.work.exports.export import EntriesAreWhole, NothingAsked, PlaceTaken, deliver, deliver_zip
from tapedown.work.exports.gathering import Gatherer, full_time, gather
from tapedown.work.imports.package_import import has_entries, take_back
from tapedown.work.imports.packages import open_package, verify_delivery
from tapedown.work.networks import OpenNetwork, network_of, open_network, start_network
from tapedown.work.refusals import NoSuchWell
from tapedown.work.wells.history import history
from tests.work.conftest import SteppingClock


@pytest.fixture
def visited(network: OpenNetwork, author: Author) -> OpenNetwork:
    """The small network with a sounding, a level, a dry visit and a reading without its time of day."""
    sounding = {"method": "weighted tape", "weight_interval": "1.20", "readings": ["84.30", "84.30"]}
    level = {"method": "electric tape", "readings": ["15.02", "15.03"]}
    for when, seen, sets in (
        ("2024-05-14 10:20", {"quiet": True}, [sounding]),
        ("2025-05-14 09:10", {"quiet": True}, [level]),
        ("2025-09-01", {"quiet": True}, [level]),
        ("2025-10-01 09:00", {"water": ["not reached"], "depth_reached": "60.2"}, []),
    ):
        visit = {"well": "MF-07", "when": when, "seen": seen, "readings": sets}
        write_visit(network, read_visit(network, visit), author)
    return network


def told(delivery: Delivery) -> list[tuple[str, object]]:
    """Every reading of a delivery with its value."""
    return [(row.entry.id, row.value) for well in delivery.wells for row in well.readings]


def test_entries_delivered_and_taken_into_an_empty_place_give_the_same_record_and_reductions(
    visited: OpenNetwork, tmp_path: Path
) -> None:
    deliver(visited, gather(visited), ["entries", "csv"], tmp_path / "out")
    assert has_entries(tmp_path / "out")
    received = take_back(str(tmp_path / "new"), tmp_path / "out")
    assert received.clean
    with open_network(tmp_path / "new").record as record:
        again = network_of(record)
        assert heads(record) == heads(visited.record)
        assert told(gather(again)) == told(gather(visited))
        assert history(again, "MF-07") == history(visited, "MF-07")


def test_a_delivery_as_of_a_day_brings_back_the_record_of_that_day(
    visited: OpenNetwork, author: Author, tmp_path: Path, clock: SteppingClock
) -> None:
    before = gather(visited)
    moment = history(visited, "MF-07").rows[-1].entry.written_at
    row = history(visited, "MF-07").rows[1]
    correct(visited, row.entry.id, {"readings": ["16.02", "16.03"]}, "read the wrong foot", author)
    then = network_of(visited.record, as_of=moment)
    assert told(gather(then)) == told(before)
    deliver_zip(then, gather(then), ["entries"], tmp_path / "then.zip")
    take_back(str(tmp_path / "new"), tmp_path / "then.zip")
    with open_network(tmp_path / "new").record as record:
        assert told(gather(network_of(record))) == told(before)


@pytest.mark.parametrize("spoil", ["change", "remove", "add"])
def test_a_delivery_that_was_changed_is_told_and_not_taken_in(visited: OpenNetwork, tmp_path: Path, spoil: str) -> None:
    place = tmp_path / "out"
    deliver(visited, gather(visited), ["entries", "csv"], place)
    with open_package(place) as package:
        assert verify_delivery(package).sound
    changed = place / "csv" / "readings.csv"
    if spoil == "change":
        changed.write_bytes(changed.read_bytes().replace(b"15.0", b"16.0", 1))
    elif spoil == "remove":
        changed.unlink()
    else:
        (place / "csv" / "more.csv").write_text("x\n")
    with open_package(place) as package:
        assert not verify_delivery(package).sound
    with pytest.raises(DeliveryUnsound):
        take_back(str(tmp_path / "new"), place)
    assert not (tmp_path / "new").exists()


def test_a_delivery_that_fails_half_way_leaves_nothing(visited: OpenNetwork, tmp_path: Path) -> None:
    delivery = gather(visited)
    well = delivery.wells[0]
    broken = delivery._replace(wells=(well._replace(readings=(*well.readings, None)),))  # type: ignore[arg-type]
    with pytest.raises(AttributeError):
        deliver(visited, broken, ["geojson", "csv"], tmp_path / "out")
    assert list(tmp_path.glob("*out*")) == []


def test_nothing_that_stands_there_is_overwritten(visited: OpenNetwork, tmp_path: Path) -> None:
    delivery = gather(visited)
    (tmp_path / "out").mkdir()
    (tmp_path / "out.zip").write_text("mine")
    with pytest.raises(PlaceTaken):
        deliver(visited, delivery, ["csv"], tmp_path / "out")
    with pytest.raises(PlaceTaken):
        deliver_zip(visited, delivery, ["csv"], tmp_path / "out.zip")
    assert (tmp_path / "out.zip").read_text() == "mine"


def test_a_wrong_format_or_none_is_refused_before_anything_is_made(visited: OpenNetwork, tmp_path: Path) -> None:
    delivery = gather(visited)
    with pytest.raises(UnknownFormat, match="no format 'shp'"):
        deliver(visited, delivery, ["csv", "shp"], tmp_path / "out")
    with pytest.raises(NothingAsked):
        deliver(visited, delivery, [], tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_entries_of_some_wells_are_refused_and_nothing_leaves(visited: OpenNetwork, tmp_path: Path) -> None:
    with pytest.raises(EntriesAreWhole):
        deliver(visited, gather(visited, wells=["MF-07"]), ["csv", "entries"], tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_missing_package_names_the_extra_that_brings_it() -> None:
    with pytest.raises(PackageMissing) as refused, optional_packages():
        raise ModuleNotFoundError(name="pyarrow.parquet")
    assert "pyarrow" in str(refused.value)
    assert "tapedown[formats]" in refused.value.hint


def test_a_well_that_is_not_there_cannot_be_asked_for(visited: OpenNetwork) -> None:
    with pytest.raises(NoSuchWell, match="MF-70"):
        gather(visited, wells=["MF-70"])


def test_a_zip_and_a_folder_hold_the_same(visited: OpenNetwork, tmp_path: Path) -> None:
    delivery = gather(visited)
    first = deliver(visited, delivery, ["csv", "geojson"], tmp_path / "out")
    second = deliver_zip(visited, delivery, ["csv", "geojson"], tmp_path / "out.zip")
    assert first == second
    with open_package(tmp_path / "out.zip") as package:
        found = verify_delivery(package)
    assert found.sound
    assert found.sha256 == first.sha256
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        assert json.loads(archive.read(NAME))["tapedown delivery"]["network"] == "Marrow Fen"


def test_a_time_of_day_that_is_not_known_is_said_and_not_made_up(visited: OpenNetwork) -> None:
    rows = gather(visited).wells[0].readings
    unknown = next(row for row in rows if row.entry.measured_at == "2025-09-01")
    assert (unknown.time, unknown.time_known) == ("2025-09-01T12:00:00-04:00", False)


def test_an_offset_from_before_standard_time_has_whole_minutes() -> None:
    """Zone data (tzdata): New York kept -4:56:02 until 18 November 1883."""
    assert full_time("1880-06-01", "America/New_York")[0] == "1880-06-01T12:00:00-04:56"


def test_gathering_asks_the_record_as_often_for_many_wells_as_for_one(
    visited: OpenNetwork, author: Author, count_queries: Callable[[OpenNetwork], int]
) -> None:
    few = count_queries(visited)
    drafts = [author.draft("well", about_well(f"W-{n:03d}"), {"code": f"W-{n:03d}"}) for n in range(50)]
    append(visited.record, author.device, drafts)
    assert count_queries(visited) == few < 12


@pytest.fixture
def count_queries() -> Callable[[OpenNetwork], int]:
    """How many statements a gathering sends."""

    def count(network: OpenNetwork) -> int:
        said: list[str] = []

        def note(_c: object, _cursor: object, statement: str, *_: object) -> None:
            said.append(statement)

        event.listen(network.record.engine, "before_cursor_execute", note)
        gather(network)
        event.remove(network.record.engine, "before_cursor_execute", note)
        return len(said)

    return count


def test_what_is_remembered_between_two_looks_never_hides_what_was_written(
    visited: OpenNetwork, author: Author
) -> None:
    gatherer = Gatherer()
    first = gatherer.delivery(visited)
    assert gatherer.delivery(visited) is first
    enter_fact(visited, "well", "MF-08", {"name": "Spring Farm"}, author)
    second = gatherer.delivery(visited)
    assert [well.code for well in second.wells] == ["MF-07", "MF-08"]
    assert second.wells[0] is first.wells[0]
    row = history(visited, "MF-07").rows[1]
    correct(visited, row.entry.id, {"readings": ["16.02", "16.03"]}, "read the wrong foot", author)
    assert told(gatherer.delivery(visited)) == told(gather(visited))
    then = network_of(visited.record, as_of=row.entry.written_at)
    assert told(gatherer.delivery(then)) == told(gather(then))


def test_an_empty_network_can_be_delivered(tmp_path: Path, author: Author) -> None:
    facts = {"name": "Empty", "length_unit": "m", "vertical_datum": "ODN", "zone": "Europe/London"}
    network = start_network(tmp_path / "empty", facts, author)
    with network.record:
        formats = ["csv", "xlsx", "geojson", "geopackage", "geoparquet", "waterml", "groundwaterml", "netcdf"]
        deliver(network, gather(network), formats, tmp_path / "out")
    with open_package(tmp_path / "out") as package:
        assert verify_delivery(package).sound
