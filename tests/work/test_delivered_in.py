"""What a delivery's tables carry comes back: Marrow Fen taken into an empty record, from csv and from a GeoPackage."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tapedown.exchange.delivery.contents import Delivered, DeliveredWell, reported, reporting_step
from tapedown.values.results import BELOW_LAND, ELEVATION
from tapedown.values.seen import Seen
from tapedown.values.wells import Interval
from tapedown.values.written import Written
from tapedown.work.authorship import Author
from tapedown.work.exports.export import deliver
from tapedown.work.exports.gathering import gather
from tapedown.work.imports.package_import import PackageHints, PackageTaken, take_in
from tapedown.work.marrow_fen import build
from tapedown.work.networks import OpenNetwork, start_network
from tests.work.conftest import SteppingClock


@pytest.fixture(scope="module")
def fen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    """The invented network with all of its years."""
    network = build(tmp_path_factory.mktemp("marrow") / "fen")
    with network.record:
        yield network


@pytest.fixture(scope="module")
def package(fen: OpenNetwork, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The network handed on."""
    place = tmp_path_factory.mktemp("handed") / "on"
    deliver(fen, gather(fen), ["csv", "geopackage"], place)
    return place


@pytest.fixture(scope="module", params=["csv", "geopackage"])
def place(request: pytest.FixtureRequest, package: Path) -> Path:
    return package if request.param == "csv" else package / "geopackage" / "wells.gpkg"


def start_empty(fen: OpenNetwork, place: Path, author: Author) -> OpenNetwork:
    """A record that holds nothing, of a network with the same unit, datum and zone."""
    facts = fen.facts._asdict() | {"name": "Copy", "settings": [row._asdict() for row in fen.facts.settings]}
    return start_network(place, facts, author)


@pytest.fixture
def empty(tmp_path: Path, author: Author, fen: OpenNetwork) -> Iterator[OpenNetwork]:
    """A record that holds nothing."""
    network = start_empty(fen, tmp_path / "copy", author)
    with network.record:
        yield network


@pytest.fixture(scope="module")
def pairs(
    fen: OpenNetwork, place: Path, tmp_path_factory: pytest.TempPathFactory
) -> list[tuple[DeliveredWell, DeliveredWell]]:
    """Every well as it was and as it came back."""
    author = Author("R. Alder", "desk", SteppingClock())
    network = start_empty(fen, tmp_path_factory.mktemp("copies") / "copy", author)
    with network.record:
        take_in(network, place, PackageHints(), author)
        theirs, ours = gather(fen).wells, gather(network).wells
    assert [well.code for well in ours] == [well.code for well in theirs]
    return list(zip(theirs, ours))


def metres(value: Written | None) -> float | None:
    return None if value is None else round(value.si, 8)


def built(lengths: tuple[Interval, ...]) -> list[tuple[object, ...]]:
    return [(metres(i.top), metres(i.bottom), metres(i.inside_diameter), i.material, i.remarks) for i in lengths]


def test_wells_come_back_with_their_names_place_datum_depths_and_lengths_of_casing(
    pairs: list[tuple[DeliveredWell, DeliveredWell]],
) -> None:
    for was, now in pairs:
        assert was.identity is not None
        assert now.identity is not None
        assert now.identity[:6] == was.identity[:6]
        if was.position:
            assert now.position is not None
            for name in ("latitude", "longitude", "land_surface", "u_elevation"):
                assert metres(getattr(now.position, name)) == metres(getattr(was.position, name)), name
            for name in ("horizontal_datum", "position_method", "vertical_datum", "elevation_method"):
                assert getattr(now.position, name) == getattr(was.position, name), name
        if was.construction:
            assert now.construction is not None
            assert metres(now.construction.completed_depth) == metres(was.construction.completed_depth)
            assert metres(now.construction.hole_depth) == metres(was.construction.hole_depth)
            assert built(now.construction.casings) == built(was.construction.casings)
            assert built(now.construction.screens) == built(was.construction.screens)


def test_measuring_points_come_back_with_the_days_they_held(pairs: list[tuple[DeliveredWell, DeliveredWell]]) -> None:
    assert any(len(was.points) > 1 for was, _ in pairs)
    for was, now in pairs:
        listed = [
            [(p.since, p.until, p.point.name, round(p.point.height_m, 8), metres(p.point.u_height),
              p.point.description, p.point.why) for p in well.points]
            for well in (was, now)
        ]  # fmt: skip
        assert listed[1] == listed[0]


def when(row: Delivered) -> tuple[str, bool, str]:
    return row.time, row.time_known, row.quantity


def digits(row: Delivered, stage: str) -> tuple[str, str] | None:
    found, bound = row.result(stage), row.bound(stage)
    if found is None or row.value is None or bound is not None:
        return None
    return reported(found, row.value.digits, "ft"), f"{found.u_m:.5f}"


def facts_of(seen: Seen) -> list[Any]:
    """What goes on, lengths to a tenth of a millimetre: a delivery carries them in m."""
    return [round(value.si, 4) if isinstance(value, Written) else value for value in seen._replace(as_written=())]


def test_readings_come_back_with_the_same_digits_and_the_same_uncertainty(
    pairs: list[tuple[DeliveredWell, DeliveredWell]],
) -> None:
    """The elevation follows from the depth as reported, so it may lie half a step from that of the unrounded mean."""
    compared = 0
    for was, now in pairs:
        assert sorted(map(when, now.readings)) == sorted(map(when, was.readings))
        for before, after in zip(sorted(was.readings, key=when), sorted(now.readings, key=when)):
            assert digits(after, BELOW_LAND) == digits(before, BELOW_LAND), (was.code, before.time)
            assert facts_of(after.seen) == facts_of(before.seen), (was.code, before.time)
            high, low = before.result(ELEVATION), after.result(ELEVATION)
            assert (high is None) == (low is None)
            if high and low and before.value:
                step_m = 0.3048 * reporting_step(high, before.value.digits, "ft")
                assert low.value_m == pytest.approx(high.value_m, abs=0.5 * step_m + 1e-9)
                assert low.u_m == pytest.approx(high.u_m, abs=1e-6)
            compared += 1
    assert compared > 300


def test_how_a_reading_was_made_is_said_in_words(
    fen: OpenNetwork, empty: OpenNetwork, author: Author, place: Path
) -> None:
    take_in(empty, place, PackageHints(), author)
    row = gather(empty).wells[0].readings[0]
    told = row.entry.data["read"]
    assert told["how"] == "chalked tape; static level; 19.76 ft below MP-1; with ST-014, W-03; by J. Sedge"
    assert "readings 1 and 2 agree" in told["remarks"]


def test_what_tables_cannot_carry_is_said_before_anything_is_written(
    empty: OpenNetwork, author: Author, place: Path
) -> None:
    seen = take_in(empty, place, PackageHints(), author, dry_run=True)
    said = " ".join(row.why for row in seen.not_taken)
    for words in ("lean and survey", "calibrations", "behind each value", "access"):
        assert words in said
    assert "measuring-points" not in {row.name for row in seen.not_taken}
    assert not any(report.totals["set aside"] for report in seen.reports)
    assert outcomes(take_in(empty, place, PackageHints(), author)) == outcomes(seen)


def outcomes(taken: PackageTaken) -> list[tuple[str, dict[str, int]]]:
    return [(report.file_name, report.totals) for report in taken.reports]


def test_a_delivery_taken_into_its_own_record_says_that_all_of_it_is_there(
    fen: OpenNetwork, author: Author, place: Path
) -> None:
    seen = take_in(fen, place, PackageHints(), author, dry_run=True)
    for name, totals in outcomes(seen):
        assert totals["entered"] == totals["set aside"] == 0, name
        assert totals["already there"] > 0


@pytest.mark.parametrize("number", ["1e999999999", "nan", "-", "1" * 5000, "0x10", "1e-99", "Infinity"])
def test_numbers_made_to_harm_set_the_line_aside(
    number: str, package: Path, empty: OpenNetwork, author: Author
) -> None:
    """In every column of numbers at once, in a package that looks like ours and has no manifest."""
    folder = empty.record.where
    theirs = Path(str(folder)).parent / "theirs"
    theirs.mkdir()
    for name in ("wells", "measuring_points", "intervals", "readings"):
        header, first, *_ = (package / "csv" / f"{name}.csv").read_text().splitlines()
        cells = dict(zip(header.split(","), first.split(",")))
        spoilt = [number if c.endswith(("_m", "_ft", "_deg")) else text for c, text in cells.items()]
        (theirs / f"{name}.csv").write_text(f"{header}\n{','.join(spoilt)}\n")
    told = json.loads((package / "csv" / "datapackage.json").read_text())
    kept = [r for r in told["resources"] if (theirs / r["path"]).exists()]
    (theirs / "datapackage.json").write_text(json.dumps(told | {"resources": kept}))
    taken = take_in(empty, theirs, PackageHints(), author)
    for report in taken.reports:
        assert all(line.outcome == "set aside" and line.reason and line.mend for line in report.lines), report.file_name


def test_a_delivery_without_tables_gives_what_its_geopackage_holds(
    fen: OpenNetwork, empty: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    deliver(fen, gather(fen), ["geopackage", "waterml"], tmp_path / "on")
    seen = take_in(empty, tmp_path / "on", PackageHints(), author, dry_run=True)
    alone = take_in(empty, tmp_path / "on" / "geopackage" / "wells.gpkg", PackageHints(), author, dry_run=True)
    assert outcomes(seen) == outcomes(alone)
    assert seen.not_taken == alone.not_taken


def test_documents_of_waterml_come_in_together_and_a_broken_one_is_named(
    fen: OpenNetwork, empty: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    deliver(fen, gather(fen, wells=["MF-01", "MF-02", "MF-03"]), ["waterml"], tmp_path / "on")
    some = tmp_path / "on" / "waterml"
    (some / "MF-03.xml").write_bytes((some / "MF-03.xml").read_bytes()[:500])
    taken = take_in(empty, some, PackageHints(), author)
    assert [well.code for well in gather(empty).wells] == ["MF-01", "MF-02"]
    assert {name.partition(",")[0] for name, _ in outcomes(taken)} == {"MF-01.xml", "MF-02.xml"}
    assert [(row.name, "not XML" in row.why) for row in taken.not_taken] == [("MF-03.xml", True)]
