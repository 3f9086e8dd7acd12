"""What others hand on: every line accounted for; what is broken or hostile is refused and nothing is written."""

from __future__ import annotations

import json
import os
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.exchange.packages.data_package_in import read_descriptor
from tapedown.exchange.packages.errors import HostileZip, NotADelivery
from tapedown.exchange.packages.manifest import NAME, read_manifest
from tapedown.exchange.packages.waterml_in import read_waterml
from tapedown.exchange.tables.errors import NotATable
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.record import entries
from tapedown.values.errors import TapedownError
from tapedown.work.authorship import Author
from tapedown.work.exports.export import deliver
from tapedown.work.exports.gathering import gather
from tapedown.work.imports.package_import import NothingWeRead, PackageHints, PackageTaken, take_in
from tapedown.work.imports.packages import open_package, verify_delivery
from tapedown.work.networks import OpenNetwork, start_network
from tests.work.test_delivering import visited

__all__ = ["visited"]
SHARED = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[3] / "shared")) / "standards"


@pytest.fixture
def other(tmp_path: Path, author: Author) -> Iterator[OpenNetwork]:
    """Another network, empty."""
    facts = {"name": "Other Fen", "length_unit": "m", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    network = start_network(tmp_path / "other", facts, author)
    with network.record:
        yield network


def totals(taken: PackageTaken) -> dict[str, int]:
    """Lines by outcome, all tables together."""
    found: dict[str, int] = {}
    for report in taken.reports:
        for outcome, count in report.totals.items():
            found[outcome] = found.get(outcome, 0) + count
    return found


def held(network: OpenNetwork) -> int:
    return len(entries(network.record, struck=True))


@pytest.mark.parametrize("form", ["csv", "waterml", "geopackage"])
def test_a_delivery_without_entries_becomes_reported_values_every_line_told(
    visited: OpenNetwork, other: OpenNetwork, author: Author, tmp_path: Path, form: str
) -> None:
    deliver(visited, gather(visited, units=("ft", "m")), [form], tmp_path / "out")
    files = {"csv": "", "waterml": "waterml/MF-07.xml", "geopackage": "geopackage/wells.gpkg"}
    place = tmp_path / "out" / files[form]
    before = held(other)
    seen = take_in(other, place, PackageHints(), author, dry_run=True)
    assert held(other) == before
    done = take_in(other, place, PackageHints(), author)
    assert totals(done) == totals(seen)
    again = take_in(other, place, PackageHints(), author)
    assert totals(again)["entered"] == 0
    well = gather(other).wells[0]
    assert well.code == "MF-07"
    assert well.identity is not None
    assert well.identity.name == "Alder Carr"
    if form == "geopackage":
        return
    ours = {row.time: row for row in gather(visited).wells[0].readings}
    for row in well.readings:
        there = ours[row.time]
        assert row.time_known or form == "waterml" or not there.time_known
        value, theirs = row.result("depth below land surface"), there.result("depth below land surface")
        assert (value is None) == (theirs is None)
        if value and theirs:
            assert value.value_m == pytest.approx(theirs.value_m, abs=0.0016)  # half of 0.01 ft
            assert value.expanded_m == pytest.approx(theirs.expanded_m, rel=0.05)


WATERML = """<?xml version="1.0"?>
<wml2:Collection xmlns:wml2="http://www.opengis.net/waterml/2.0" xmlns:om="http://www.opengis.net/om/2.0"
  xmlns:gml="http://www.opengis.net/gml/3.2" xmlns:xlink="http://www.w3.org/1999/xlink"
  xmlns:sam="http://www.opengis.net/sampling/2.0" xmlns:sams="http://www.opengis.net/samplingSpatial/2.0"
  xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" gml:id="c">
 <wml2:samplingFeatureMember><wml2:MonitoringPoint gml:id="p1"><gml:identifier codeSpace="them">MF-31</gml:identifier>
  <gml:name>Osier Holt</gml:name><sams:shape><gml:Point gml:id="g" srsName="http://www.opengis.net/def/crs/EPSG/0/4326">
  <gml:pos>43.1 -76.3</gml:pos></gml:Point></sams:shape></wml2:MonitoringPoint></wml2:samplingFeatureMember>
 <wml2:observationMember><om:OM_Observation gml:id="o1">
  <om:observedProperty xlink:href="http://example.org/property/level" xlink:title="Level"/>
  <om:featureOfInterest xlink:href="#p1"/>
  <om:result><wml2:MeasurementTimeseries gml:id="t"><wml2:defaultPointMetadata><wml2:DefaultTVPMeasurementMetadata>
   <wml2:quality xlink:href="http://www.opengis.net/def/waterml/2.0/quality/unchecked"/>{uom}
  </wml2:DefaultTVPMeasurementMetadata></wml2:defaultPointMetadata>{points}
  </wml2:MeasurementTimeseries></om:result></om:OM_Observation></wml2:observationMember></wml2:Collection>"""
"""Written by hand after 10-126r4: a feature by reference, a default unit, a property that is none of ours."""


def waterml(*points: tuple[str, str], uom: str = '<wml2:uom code="[ft_i]"/>') -> bytes:
    """A document with these times and values."""
    listed = "".join(
        f"<wml2:point><wml2:MeasurementTVP><wml2:time>{time}</wml2:time>{value}</wml2:MeasurementTVP></wml2:point>"
        for time, value in points
    )
    return WATERML.format(uom=uom, points=listed).encode()


def test_waterml_of_others_is_taken_when_somebody_says_what_it_measures(
    other: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    nil = '<wml2:value xsi:nil="true"/>'
    place = tmp_path / "theirs.xml"
    place.write_bytes(
        waterml(
            ("2026-05-14T10:20:00-04:00", "<wml2:value>12.30</wml2:value>"),
            ("2026-06-14T10:20:00", "<wml2:value>12.31</wml2:value>"),
            ("yesterday", "<wml2:value>12.31</wml2:value>"),
            ("2026-07-14T10:20:00Z", "<wml2:value>NaN</wml2:value>"),
            ("2026-08-14T10:20:00Z", nil),
            ("2026-09-14T10:20:00Z", "<wml2:value>1.25e1</wml2:value>"),
        )
    )
    unsaid = take_in(other, place, PackageHints(), author)
    assert unsaid.reports == ()
    assert [(row.lines, "not known" in row.why) for row in unsaid.not_taken] == [(6, True)]
    taken = take_in(other, place, PackageHints(quantity="depth_to_water_below_land_surface"), author)
    wells, readings = taken.reports
    assert wells.totals["entered"] == 1
    assert [line.outcome for line in readings.lines] == [
        "entered", "set aside", "set aside", "set aside", "entered", "entered",
    ]  # fmt: skip
    assert all(line.reason and line.mend for line in readings.lines if line.outcome == "set aside")
    rows = gather(other).wells[0].readings
    assert [round(r.value.main.value_m / 0.3048, 6) for r in rows if r.value and r.value.main] == [12.30, 12.5]
    assert "quality unchecked" in rows[0].remarks
    assert gather(other).wells[0].place == (-76.3, 43.1)


@pytest.mark.parametrize("uom", ["", '<wml2:uom code="furlong"/>', '<wml2:uom code="kPa"/>'])
def test_a_value_without_a_length_unit_is_set_aside(uom: str) -> None:
    data = waterml(("2026-05-14T10:20:00Z", "<wml2:value>12.3</wml2:value>"), uom=uom)
    found = read_waterml(data, "theirs.xml", quantity="depth_to_water_below_land_surface")
    (row,) = found.tables[1].table.rows
    assert "unit" in row.problem


def test_elevations_need_their_datum(other: OpenNetwork, author: Author, tmp_path: Path) -> None:
    place = tmp_path / "theirs.xml"
    place.write_bytes(waterml(("2026-05-14T10:20:00Z", "<wml2:value>12.3</wml2:value>")))
    said = PackageHints(quantity="water_level_elevation")
    assert "vertical datum" in take_in(other, place, said, author).not_taken[0].why
    taken = take_in(other, place, said._replace(datum="NAVD88"), author)
    assert totals(taken)["entered"] == 2
    assert gather(other).wells[0].readings[0].value is not None


ENTITIES = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]><x>&b;</x>'
OUTSIDE = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/hostname">]><x>&f;</x>'
DEEP = b"<x>" * 100_000


@pytest.mark.parametrize(
    "data",
    [b"", b"\x00\x01", b"<x>", ENTITIES, OUTSIDE, DEEP, b"<x/>", b"\xff\xfe<x/>", b"<x>" + b"y" * 11_000_000 + b"</x>",
     '<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>'.encode("utf-16")],
)  # fmt: skip
def test_xml_that_is_broken_or_made_to_harm_is_refused(
    data: bytes, other: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    place, before = tmp_path / "theirs.xml", held(other)
    place.write_bytes(data)
    with pytest.raises(NotATable):
        take_in(other, place, PackageHints(), author)
    assert held(other) == before


@pytest.mark.parametrize("data", [b"", b"SQLite format 3\0", b"SQLite format 3\0" + b"\x01" * 4096, b"<x/>"])
def test_a_geopackage_that_is_none_is_refused(data: bytes, other: OpenNetwork, author: Author, tmp_path: Path) -> None:
    place, before = tmp_path / "theirs.gpkg", held(other)
    place.write_bytes(data)
    with pytest.raises(NotATable):
        take_in(other, place, PackageHints(), author)
    assert held(other) == before


GPKG_MAPPING = b"""
makes = "wells"
length_unit = "m"
[well]
code = "bore_id"
name = "label"
[position]
latitude = "latitude"
longitude = "longitude"
horizontal_datum = { always = "WGS 84" }
"""


def test_wells_of_a_geopackage_in_another_projection_come_to_their_place(
    other: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    """The place by pyproj itself: EPSG 32618, easting 400 000, northing 4 770 000."""
    import pyarrow as pa
    import pyogrio
    from pyproj import Transformer

    from tapedown.exchange.formats.arrow_tables import point_wkb

    place = tmp_path / "theirs.gpkg"
    shapes = [point_wkb((400_000.0, 4_770_000.0)), None]
    table = pa.table({"bore_id": ["MF-41", "MF-42"], "label": ["Sallow", None], "geom": pa.array(shapes, pa.binary())})
    pyogrio.write_arrow(table, place, layer="bores", geometry_name="geom", geometry_type="Point", crs="EPSG:32618",
                        driver="GPKG")  # fmt: skip
    with pytest.raises(NotATable) as refused:
        take_in(other, place, PackageHints(), author)
    assert "bore_id" in refused.value.hint
    taken = take_in(other, place, PackageHints(mappings={"": read_mapping(GPKG_MAPPING)}), author)
    assert totals(taken)["entered"] == 2
    first, second = gather(other).wells
    expected = Transformer.from_crs(32618, 4326, always_xy=True).transform(400_000, 4_770_000)
    assert first.place == pytest.approx(expected, abs=1e-6)
    assert second.place is None


THEIR_MAPPING = b"""
makes = "readings"
length_unit = "m"
[well]
code = "bore"
new_wells = true
[time]
date = "when"
zone = "written"
[reading]
value = "dip"
positive = "down"
reference = "below land surface"
"""


def package(folder: Path, **more: object) -> Path:
    """A Data Package by others."""
    folder.mkdir()
    (folder / "dips.csv").write_bytes(b"bore|when|dip\nMF-51|2026-05-14T10:20Z|12.30\nMF-51|2026-06-14|-\nMF-51|x|1\n")
    resource = {"name": "dips", "path": "dips.csv", "dialect": {"delimiter": "|"}, "schema": {"missingValues": ["-"]}}
    (folder / "datapackage.json").write_text(json.dumps({"name": "theirs", "resources": [resource | more]}))
    return folder


def test_a_data_package_of_others_needs_a_mapping_and_is_then_told_line_by_line(
    other: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    place = package(tmp_path / "theirs")
    unsaid = take_in(other, place, PackageHints(), author)
    assert [(row.name, row.lines) for row in unsaid.not_taken] == [("dips", 3)]
    assert "--table dips --mapping" in unsaid.not_taken[0].mend
    taken = take_in(other, place, PackageHints(mappings={"dips": read_mapping(THEIR_MAPPING)}), author)
    assert totals(taken) == {"entered": 1, "already there": 0, "set aside": 2}


@pytest.mark.parametrize("path", ["../dips.csv", "/etc/passwd", "https://example.org/dips.csv", "C:\\dips.csv", 7])
def test_a_table_outside_the_package_is_not_fetched(
    path: object, other: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    taken = take_in(other, package(tmp_path / "theirs", path=path), PackageHints(), author)
    assert taken.reports == ()
    assert len(taken.not_taken) == 1


def test_a_link_that_leads_out_of_a_folder_is_not_followed(other: OpenNetwork, author: Author, tmp_path: Path) -> None:
    place = package(tmp_path / "theirs")
    (tmp_path / "secret.csv").write_bytes((place / "dips.csv").read_bytes())
    (place / "dips.csv").unlink()
    (place / "dips.csv").symlink_to(tmp_path / "secret.csv")
    with pytest.raises(TapedownError, match="does not hold it"):
        take_in(other, place, PackageHints(mappings={"dips": read_mapping(THEIR_MAPPING)}), author)


def test_descriptors_of_the_json_test_suite_are_refused_and_never_break_the_reader() -> None:
    """JSONTestSuite (nst, MIT): what must not parse does not; what may, is not a Data Package either."""
    folder = SHARED / "bad-input-json-testsuite" / "test_parsing"
    if not folder.is_dir():
        pytest.skip("the corpora are not beside the repository")
    files = sorted(folder.glob("*.json"))
    assert len(files) > 300
    for file in files:
        with pytest.raises(NotATable):
            read_descriptor(file.read_bytes())
        with pytest.raises(NotADelivery):
            read_manifest(file.read_bytes())


def zipped(files: dict[str, bytes], place: Path) -> Path:
    with zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return place


@pytest.mark.parametrize("name", ["../evil.csv", "/evil.csv", "a/../../evil.csv", "..\\evil.csv", "C:evil.csv", "a//b"])
def test_a_zip_that_would_write_elsewhere_is_refused(
    name: str, other: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    place = zipped({"datapackage.json": b"{}", name: b"x"}, tmp_path / "theirs.zip")
    with pytest.raises(HostileZip):
        take_in(other, place, PackageHints(), author)
    assert not list(tmp_path.rglob("*evil*"))


def test_a_zip_bomb_is_refused_before_it_is_unpacked(other: OpenNetwork, author: Author, tmp_path: Path) -> None:
    place = zipped({"datapackage.json": b"{}", "big.csv": b"0" * 50_000_000}, tmp_path / "theirs.zip")
    assert place.stat().st_size < 100_000
    with pytest.raises(HostileZip, match="unpacks to"):
        take_in(other, place, PackageHints(), author)


def test_a_zip_that_lies_about_its_sizes_or_is_cut_short_is_refused(
    other: OpenNetwork, author: Author, tmp_path: Path
) -> None:
    place = zipped({"datapackage.json": b'{"resources": [{"name": "a", "path": "a.csv"}]}' * 40}, tmp_path / "t.zip")
    data = bytearray(place.read_bytes())
    at = data.rindex(b"PK\x01\x02") + 24  # size unpacked, in the central directory
    data[at : at + 4] = (5).to_bytes(4, "little")
    place.write_bytes(data)
    with pytest.raises(TapedownError):
        take_in(other, place, PackageHints(), author)
    whole = zipped({"datapackage.json": b"{}"}, tmp_path / "w.zip").read_bytes()
    for end in range(1, len(whole)):
        place.write_bytes(whole[:end])
        with pytest.raises(TapedownError):
            take_in(other, place, PackageHints(), author)


def test_a_zip_with_one_name_twice_or_a_lock_is_refused(other: OpenNetwork, author: Author, tmp_path: Path) -> None:
    place = tmp_path / "twice.zip"
    with zipfile.ZipFile(place, "w") as archive:
        archive.writestr("datapackage.json", b"{}")
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr("datapackage.json", b"[]")
    with pytest.raises(HostileZip, match="two files"):
        take_in(other, place, PackageHints(), author)
    data = bytearray(zipped({"datapackage.json": b"{}"}, tmp_path / "locked.zip").read_bytes())
    data[data.rindex(b"PK\x01\x02") + 8] |= 1
    place.write_bytes(data)
    with pytest.raises(HostileZip, match="password"):
        take_in(other, place, PackageHints(), author)


@pytest.mark.parametrize(
    "spoil",
    [
        {"files": [{"path": "../x", "bytes": 1, "sha256": "0" * 64}]},
        {"files": [{"path": "x", "bytes": -1, "sha256": "0" * 64}]},
        {"files": [{"path": "x", "bytes": 1, "sha256": "0" * 63}]},
        {"files": "all"},
        {"version": 2},
        {"network": 7},
    ],
)
def test_a_manifest_that_says_nonsense_is_no_delivery(spoil: dict[str, object], tmp_path: Path) -> None:
    body = {"version": 1, "network": "Marrow Fen", "files": []} | spoil
    (tmp_path / NAME).write_text(json.dumps({"tapedown delivery": body}))
    with open_package(tmp_path) as found, pytest.raises(NotADelivery):
        verify_delivery(found)


def test_a_file_of_another_kind_is_told_where_it_goes(other: OpenNetwork, author: Author, tmp_path: Path) -> None:
    place = tmp_path / "levels.csv"
    place.write_text("well,depth\n")
    with pytest.raises(NothingWeRead) as refused:
        take_in(other, place, PackageHints(), author)
    assert "tapedown import" in refused.value.hint
