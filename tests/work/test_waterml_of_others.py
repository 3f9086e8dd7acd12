"""WaterML 2 as others write it: every point accounted for, whatever a document leaves out or says its own way.

The documents are written by us after OGC 10-126r4 (WaterML 2.0 Part 1) and OGC 10-025r1 (Observations and Measurements
in XML), with invented content. Documents by others are tried from a folder of your own: TAPEDOWN_WATERML=FOLDER.
OGC's own examples lie in the npm package ogc-schemas (tests/WaterML/2.0), answers of a service in terriajs
(wwwroot/test/sos).
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.record import entries
from tapedown.values.errors import TapedownError
from tapedown.work.authorship import Author
from tapedown.work.exports.gathering import gather
from tapedown.work.imports.package_import import PackageHints
from tapedown.work.imports.package_report import PackageAccount, take_package
from tapedown.work.imports.packages import Handed
from tapedown.work.networks import OpenNetwork, start_network

NAMESPACES = """xmlns:wml2="http://www.opengis.net/waterml/2.0" xmlns:om="http://www.opengis.net/om/2.0"
 xmlns:gml="http://www.opengis.net/gml/3.2" xmlns:xlink="http://www.w3.org/1999/xlink"
 xmlns:sam="http://www.opengis.net/sampling/2.0" xmlns:sams="http://www.opengis.net/samplingSpatial/2.0"
 xmlns:swe="http://www.opengis.net/swe/2.0" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" """
DEPTH = PackageHints(quantity="depth_to_water_below_land_surface")
NIL = '<wml2:value xsi:nil="true"/>'
FEET = '<wml2:uom code="[ft_i]"/>'


def document(*members: str) -> bytes:
    listed = "".join(f"<wml2:observationMember>{member}</wml2:observationMember>" for member in members)
    return f'<?xml version="1.0"?><wml2:Collection {NAMESPACES}>{listed}</wml2:Collection>'.encode()


def observation(result: str, *, well: str = "", before: str = "") -> str:
    feature = well or '<om:featureOfInterest xlink:href="http://example.org/bores/MF-61"/>'
    return f"""<om:OM_Observation>{before}
 <om:observedProperty xlink:href="http://example.org/depth" xlink:title="depth to water"/>{feature}
 <om:result>{result}</om:result></om:OM_Observation>"""


def series(*points: tuple[str, str], default: str = FEET) -> str:
    """A measured series with these times and elements of value."""
    listed = "".join(
        f"<wml2:point><wml2:MeasurementTVP><wml2:time>{time}</wml2:time>{value}</wml2:MeasurementTVP></wml2:point>"
        for time, value in points
    )
    about = f"<wml2:DefaultTVPMeasurementMetadata>{default}</wml2:DefaultTVPMeasurementMetadata>"
    about = f"<wml2:defaultPointMetadata>{about}</wml2:defaultPointMetadata>"
    return f"<wml2:MeasurementTimeseries>{about}{listed}</wml2:MeasurementTimeseries>"


def value(text: str) -> str:
    return f"<wml2:value>{text}</wml2:value>"


ONE = ("2026-05-14T10:20:00Z", value("12.30"))


def monitoring_point(code: str, *, more: str = "", crs: str = "", position: str = "") -> str:
    shape = f'<sams:shape><gml:Point srsName="{crs}"><gml:pos>{position}</gml:pos></gml:Point></sams:shape>'
    return f"""<om:featureOfInterest><wml2:MonitoringPoint><gml:identifier codeSpace="them">{code}</gml:identifier>
 {shape if position else ""}{more}</wml2:MonitoringPoint></om:featureOfInterest>"""


@pytest.fixture
def network(tmp_path: Path, author: Author) -> Iterator[OpenNetwork]:
    facts = {"name": "Other Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    found = start_network(tmp_path / "other", facts, author)
    with found.record:
        yield found


def taken(network: OpenNetwork, data: bytes, author: Author, said: PackageHints = DEPTH) -> PackageAccount:
    """Looked at, then taken in: both say the same."""
    handed = Handed("theirs.xml", data)
    seen = take_package(network, handed, said, author, dry_run=True)
    done = take_package(network, handed, said, author)
    assert done.totals == seen.totals
    return done


def feet(network: OpenNetwork) -> list[float]:
    rows = [row for well in gather(network).wells for row in well.readings]
    return [round(r.value.main.value_m / 0.3048, 4) for r in rows if r.value and r.value.main]


def test_several_members_come_in_each_at_its_well(network: OpenNetwork, author: Author) -> None:
    well = '<om:featureOfInterest xlink:href="http://example.org/bores/{0}" xlink:title="{0}"/>'
    data = document(*(observation(series(ONE), well=well.format(code)) for code in ("MF-61", "MF-62", "MF-61")))
    done = taken(network, data, author)
    assert [well.code for well in gather(network).wells] == ["MF-61", "MF-62"]
    assert [len(table.lines) for table in done.tables] == [2, 3]
    assert done.totals["already there"] == 1, "the third says what the first says"


@pytest.mark.parametrize(
    ("unit", "expected"),
    [('<wml2:uom code="m"/>', 12.30 / 0.3048), (FEET, 12.30), ('<wml2:uom code="ft"/>', 12.30),
     ('<wml2:uom xlink:title="ft"/>', 12.30), ('<wml2:uom xlink:href="urn:ogc:def:uom:UCUM:m"/>', 12.30 / 0.3048),
     ('<wml2:uom xlink:href="http://www.opengis.net/def/uom/UCUM/0/%5Bft_i%5D"/>', 12.30)],
)  # fmt: skip
def test_the_unit_of_the_whole_series_holds_for_its_points(
    unit: str, expected: float, network: OpenNetwork, author: Author
) -> None:
    taken(network, document(observation(series(ONE, default=unit))), author)
    assert feet(network) == [round(expected, 4)]


def test_points_without_a_value_become_visits_that_say_so(network: OpenNetwork, author: Author) -> None:
    points = [("2026-05-14T10:20:00Z", NIL), ("2026-06-14T10:20:00Z", "<wml2:value/>"), ("2026-07-14T10:20:00Z", "")]
    done = taken(network, document(observation(series(*points))), author)
    assert done.tables[1].written == {"visit": 3}
    assert all(row.seen.no_reading == "no value was given" for row in gather(network).wells[0].readings)


def test_a_procedure_that_is_only_linked_says_how_it_was_read(network: OpenNetwork, author: Author) -> None:
    linked = '<om:procedure xlink:href="http://example.org/procedures/steel%20tape"/>'
    taken(network, document(observation(series(ONE), before=linked)), author)
    (held,) = entries(network.record, kinds=["readings"])
    assert held.entry.data["read"]["how"] == "steel tape"


def test_a_time_without_an_offset_is_set_aside_unless_the_monitoring_point_tells_its_own(
    network: OpenNetwork, author: Author
) -> None:
    bare = series(("2026-05-14T10:20:00", value("12.30")))
    done = taken(network, document(observation(bare)), author)
    (line,) = done.tables[1].lines
    assert line.outcome == "set aside"
    assert line.reason
    assert line.mend
    zone = "<wml2:timeZone><wml2:TimeZone><wml2:zoneOffset>-05:00</wml2:zoneOffset></wml2:TimeZone></wml2:timeZone>"
    taken(network, document(observation(bare, well=monitoring_point("MF-63", more=zone))), author)
    (held,) = entries(network.record, kinds=["readings"])
    assert held.entry.measured_at == "2026-05-14T10:20:00-05:00"
    assert "offset, -05:00" in held.entry.data["read"]["remarks"]


@pytest.mark.parametrize(
    ("href", "code"),
    [("http://example.org/bores/MF%2064", "MF 64"), ("http://example.org/bores?id=MF-64", "MF-64"),
     ("urn:ogc:object:feature:MF-64", "MF-64"), ("http://example.org/bores#MF-64", "MF-64")],
)  # fmt: skip
def test_the_code_of_a_well_that_is_only_linked_is_the_last_part_of_the_link(
    href: str, code: str, network: OpenNetwork, author: Author
) -> None:
    data = document(observation(series(ONE), well=f'<om:featureOfInterest xlink:href="{href}"/>'))
    done = taken(network, data, author)
    assert done.totals["set aside"] == 0
    assert [well.code for well in gather(network).wells] == [code]


def test_one_measure_as_a_result_is_one_reading(network: OpenNetwork, author: Author) -> None:
    when = """<om:phenomenonTime><gml:TimeInstant gml:id="t1">
 <gml:timePosition>2026-05-14T10:20:00-04:00</gml:timePosition></gml:TimeInstant></om:phenomenonTime>
 <om:resultTime xlink:href="#t1"/>"""
    member = observation("12.30", before=when).replace("<om:result>", '<om:result xsi:type="gml:MeasureType" uom="ft">')
    taken(network, document(member), author)
    assert feet(network) == [12.30]
    linked = member.replace(when, '<om:phenomenonTime xlink:href="#t9"/>')
    done = take_package(network, Handed("theirs.xml", document(linked)), DEPTH, author, dry_run=True)
    assert [(line.outcome, line.reason) for line in done.tables[1].lines] == [("set aside", "the date is blank")]


@pytest.mark.parametrize(
    ("result", "why"),
    [("<swe:DataArray><swe:values>2026-05-14,12.30</swe:values></swe:DataArray>", "its result is a DataArray"),
     ("<wml2:TimeseriesDomainRange/>", "its result is a TimeseriesDomainRange"),
     ("<wml2:MeasurementTimeseries/>", "its series holds no points"), ("true", "its result is no series")],
)  # fmt: skip
def test_a_result_of_another_kind_is_named_and_not_passed_over(
    result: str, why: str, network: OpenNetwork, author: Author
) -> None:
    done = taken(network, document(observation(series(ONE)), observation(result)), author)
    assert [why in row.why for row in done.not_taken] == [True]
    assert done.not_taken[0].mend
    assert feet(network) == [12.30]


def test_a_result_that_lies_elsewhere_is_not_fetched(network: OpenNetwork, author: Author) -> None:
    member = observation("").replace("<om:result>", '<om:result xlink:href="http://example.org/series/1">')
    done = taken(network, document(member), author)
    assert done.tables == ()
    assert "lies elsewhere and is not fetched" in done.not_taken[0].why


def test_words_instead_of_numbers_are_counted_and_not_taken(network: OpenNetwork, author: Author) -> None:
    points = "<wml2:point><wml2:CategoricalTVP><wml2:time>2026-05-14</wml2:time></wml2:CategoricalTVP></wml2:point>" * 3
    done = taken(
        network, document(observation(f"<wml2:CategoricalTimeseries>{points}</wml2:CategoricalTimeseries>")), author
    )
    assert [(row.lines, row.why) for row in done.not_taken] == [(3, "points that are words and not numbers")]


@pytest.mark.parametrize(
    ("crs", "position", "datum"),
    [("http://www.opengis.net/def/crs/EPSG/0/4326", "43.1 -76.3", "WGS 84"),
     ("urn:ogc:def:crs:EPSG::4269", "43.1 -76.3", "NAD83"), ("urn:ogc:def:crs:OGC:1.3:CRS84", "-76.3 43.1", "WGS 84")],
)  # fmt: skip
def test_a_place_comes_with_the_datum_it_rests_on(
    crs: str, position: str, datum: str, network: OpenNetwork, author: Author
) -> None:
    well = monitoring_point("MF-65", crs=crs, position=position)
    taken(network, document(observation(series(ONE), well=well)), author)
    at = gather(network).wells[0].position
    assert at is not None
    assert (str(at.latitude), str(at.longitude), at.horizontal_datum) == ("43.1 deg", "-76.3 deg", datum)


def test_a_place_in_a_system_that_is_not_read_is_said(network: OpenNetwork, author: Author) -> None:
    well = monitoring_point("MF-65", crs="urn:ogc:def:crs:EPSG::32618", position="400000 4770000")
    done = taken(network, document(observation(series(ONE), well=well)), author)
    assert [row.name for row in done.not_taken] == ["theirs.xml, MF-65: its place"]
    assert gather(network).wells[0].place is None


def spaced(base: str, spacing: str, *values: str) -> str:
    """A measured series whose points have no times of their own."""
    about = f"<wml2:baseTime>{base}</wml2:baseTime><wml2:spacing>{spacing}</wml2:spacing>"
    about = f"<wml2:MeasurementTimeseriesMetadata>{about}</wml2:MeasurementTimeseriesMetadata>"
    found = series(*(("", value(text)) for text in values)).replace("<wml2:time></wml2:time>", "")
    return found.replace(
        "<wml2:defaultPointMetadata>", f"<wml2:metadata>{about}</wml2:metadata><wml2:defaultPointMetadata>"
    )


@pytest.mark.parametrize(
    ("base", "spacing", "times"),
    [("2026-05-14T18:00:00-04:00", "PT6H", ["2026-05-14T18:00:00-04:00", "2026-05-15T00:00:00-04:00"]),
     ("2026-05-14T22:00:00+00:00", "P1DT0.5S", ["2026-05-14T22:00:00+00:00", "2026-05-15T22:00:00.500000+00:00"]),
     ("2026-01-31T09:00:00-05:00", "P1M", ["2026-01-31T09:00:00-05:00", "2026-02-28T09:00:00-05:00",
                                           "2026-03-31T09:00:00-05:00"]),
     ("2024-02-29T09:00:00-05:00", "P1Y", ["2024-02-29T09:00:00-05:00", "2025-02-28T09:00:00-05:00"])],
)  # fmt: skip
def test_points_of_an_evenly_spaced_series_get_the_times_that_follow_from_its_start(
    base: str, spacing: str, times: list[str], network: OpenNetwork, author: Author
) -> None:
    taken(network, document(observation(spaced(base, spacing, *("12.30",) * len(times)))), author)
    rows = gather(network).wells[0].readings
    assert [row.time for row in rows] == times
    told = {row.entry.data["read"]["remarks"] for row in rows}
    assert told == {f"time reckoned: {base} and every {spacing}"}


@pytest.mark.parametrize(
    ("base", "spacing"),
    [("", "PT6H"), ("2026-05-14T18:00:00Z", "six hours"), ("2026-05-14T18:00:00Z", "P"), ("2026-05-14", "P1D"),
     ("9999-12-31T23:00:00Z", "P9999Y"), ("2026-05-14T18:00:00Z", "P" + "9" * 400 + "D")],
)  # fmt: skip
def test_points_without_a_time_that_can_be_reckoned_are_set_aside(
    base: str, spacing: str, network: OpenNetwork, author: Author
) -> None:
    done = taken(network, document(observation(spaced(base, spacing, "12.30", "12.31"))), author)
    aside = [line for table in done.tables for line in table.lines if line.outcome == "set aside"]
    assert aside
    assert all("date" in line.reason for line in aside)


def test_documents_by_others_come_in_or_are_refused_with_the_mend_every_line_told(
    network: OpenNetwork, author: Author
) -> None:
    """Documents by others are not ours to hand on; name a folder that holds some."""
    folder = os.environ.get("TAPEDOWN_WATERML", "")
    files = sorted(path for path in Path(folder).rglob("*") if path.suffix in {".xml", ".wml"}) if folder else []
    if not files:
        pytest.skip("no folder of WaterML 2 documents by others is named in TAPEDOWN_WATERML")
    refused: dict[str, str] = {}
    for file in files:
        try:
            done = taken(network, file.read_bytes(), author, DEPTH._replace(datum="NAVD88"))
        except TapedownError as error:
            refused[file.name] = error.hint
            continue
        lines = [line for table in done.tables for line in table.lines]
        assert lines or done.not_taken, file.name
        assert all(line.reason and line.mend for line in lines if line.outcome == "set aside"), file.name
        assert all(row.why and row.mend for row in done.not_taken), file.name
    assert all(refused.values()), refused
