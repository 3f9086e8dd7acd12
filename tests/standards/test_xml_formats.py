"""WaterML 2 and GroundWaterML 2 as others will judge them.

Sources: OGC 10-126r4 with its schema 2.0.2 and rules, 16-032r2 with its schema 2.2, the OGC code register.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from lxml import etree

from tapedown.exchange.delivery.contents import DeliveredSeries, DeliveredWell, Delivery
from tapedown.exchange.delivery.quantities import all_series
from tapedown.exchange.formats.groundwaterml import gw_well
from tapedown.exchange.formats.waterml import collection
from tapedown.exchange.formats.xml_parts import NAMESPACES, document
from tests.standards.conftest import standard
from tests.standards.xml_rules import libxml2_faults, rule_faults, schema_faults

pytest.importorskip("xmlschema", reason="the second schema engine is not installed: extra validators")
WML, GWML = "waterml-xsd/ogc/waterml/2.0/waterml2.xsd", "waterml-xsd/ogc/gwml/2.2/gwml2-well.xsd"
W = "{http://www.opengis.net/waterml/2.0}"
XLINK = "{http://www.w3.org/1999/xlink}"
DRY = "MF-07"
NS = {name: NAMESPACES[name] for name in ("wml2", "swe", "xlink", "xsi")}


def test_every_waterml_file_holds_by_two_schema_engines(written: Path) -> None:
    files = sorted((written / "waterml").glob("*.xml"))
    assert len(files) == 12
    assert [fault for file in files for fault in libxml2_faults(WML, file)] == []
    assert [fault for file in files[4:8] for fault in schema_faults(WML, file)] == []


def test_every_groundwaterml_file_holds_by_two_schema_engines(written: Path) -> None:
    files = sorted((written / "groundwaterml").glob("*.xml"))
    assert len(files) == 12
    assert [fault for file in files for fault in libxml2_faults(GWML, file)] == []
    assert [fault for file in files[4:8] for fault in schema_faults(GWML, file)] == []


@pytest.fixture
def few(delivery: Delivery, tmp_path: Path) -> Path:
    """The first readings of the dry well: the rules are slow to evaluate."""
    well = next(well for well in delivery.wells if well.code == DRY)
    well = well._replace(readings=well.readings[:5])
    file = tmp_path / "few.xml"
    file.write_bytes(document(collection(delivery, well, list(all_series(well)))))
    return file


def test_the_published_rules_hold(written: Path, few: Path) -> None:
    faults, counted = rule_faults(WML, "waterml-schematron/waterml2", few)
    assert faults == []
    assert counted["passed"] > 80
    faults, counted = rule_faults(GWML, "waterml-schematron/gwml2", written / "groundwaterml" / f"{DRY}.xml")
    assert faults == []
    assert counted["passed"] > 10


def test_a_faulty_file_is_seen_by_schema_and_rules(few: Path, tmp_path: Path) -> None:
    """The checks above can fail: an offset and a process type are taken out."""
    text = few.read_text()
    bad = tmp_path / "bad.xml"
    bad.write_text(text.replace("<wml2:processType", "<wml2:processKind", 1))
    assert schema_faults(WML, bad)
    bad.write_text(text.replace("<wml2:time>2020-02-11T12:18:00-05:00", "<wml2:time>2020-02-11T12:18:00", 1))
    assert rule_faults(WML, "waterml-schematron/waterml2", bad)[0]


def test_every_code_is_in_the_register(written: Path) -> None:
    rdflib = pytest.importorskip("rdflib", reason="rdflib is not installed: extra validators")
    known = set()
    for name in ("waterml", "nil"):
        graph = rdflib.Graph().parse(standard(f"vocab/ogc-{name}.ttl"))
        known |= {str(s) for s in graph.subjects(rdflib.namespace.SKOS.prefLabel, None)}
    starts = ("http://www.opengis.net/def/waterml/", "http://www.opengis.net/def/nil/")
    used = {
        str(href)
        for file in (written / "waterml").glob("*.xml")
        for element in etree.parse(str(file)).iter()
        if (href := element.get(f"{XLINK}href")) and str(href).startswith(starts)
    }
    assert len(used) >= 5
    assert used - known == set()


def test_times_carry_an_offset_and_never_run_backwards_and_no_value_is_nan(written: Path) -> None:
    from datetime import datetime

    for file in (written / "waterml").glob("*.xml"):
        for series in etree.parse(str(file)).iter(f"{W}MeasurementTimeseries"):
            times = [datetime.fromisoformat(str(e.text)) for e in series.iter(f"{W}time")]
            assert all(time.tzinfo for time in times)
            assert times == sorted(times)
            assert all(math.isfinite(float(e.text)) for e in series.iter(f"{W}value") if e.text)


def test_a_dry_well_has_no_value_but_a_reason_and_the_depth_reached(written: Path) -> None:
    root = etree.parse(str(written / "waterml" / f"{DRY}.xml"))
    nil = [p for p in root.iter(f"{W}MeasurementTVP") if p.xpath("boolean(wml2:value[@xsi:nil='true'])", namespaces=NS)]
    assert len(nil) == 22  # eleven visits, as a depth and as an elevation
    for point in nil:
        about = "wml2:metadata/wml2:TVPMeasurementMetadata"
        quality, reason = (said(point, f"{about}/wml2:{name}/@xlink:href") for name in ("quality", "nilReason"))
        assert quality.endswith("/missing")
        assert reason.endswith("DetectionRange")
        assert float(said(point, f"{about}/wml2:qualifier/swe:Quantity/swe:value/text()")) > 0


def said(element: etree._Element, path: str) -> str:
    """The one text at a path."""
    found = element.xpath(path, namespaces=NS)
    assert isinstance(found, list)
    (text,) = found
    return str(text)


@pytest.mark.parametrize(
    ("kind", "interpolation", "process"),
    [
        ("reading", "Discontinuous", "ManualMethod"),
        ("logger", "Continuous", "Sensor"),
        ("daily mean", "AverageSucc", "Algorithm"),
    ],
)
def test_a_series_says_what_holds_between_its_values(
    delivery: Delivery, tmp_path: Path, kind: str, interpolation: str, process: str
) -> None:
    well = delivery.wells[0]
    times = ("2026-05-14T00:00:00-04:00", "2026-05-15T00:00:00-04:00")
    series = DeliveredSeries(well.code, "depth_to_water_below_land_surface", kind, times, (5.1, None), (0.01, None),
                    ("good", "missing"))  # fmt: skip
    file = tmp_path / "series.xml"
    file.write_bytes(document(collection(delivery, well, [series])))
    assert schema_faults(WML, file) == []
    text = file.read_text()
    assert f"interpolationType/{interpolation}" in text
    assert f"processType/{process}" in text
    assert ("P1D" in text) == (kind == "daily mean")


ODD = 'a "quoted" & <b>name</b> \x07 \ud800 é %zz {x}|y\\z ^`'


def odd_delivery(delivery: Delivery) -> list[DeliveredWell]:
    """Wells of which little is known, and one where everything is, in words that XML does not like."""
    whole = next(well for well in delivery.wells if well.code == "MF-04")
    assert whole.identity
    assert whole.position
    bare = whole._replace(identity=None, position=None, construction=None, points=(), bottom=None)
    words = whole.identity._replace(name=ODD, place=ODD, use=ODD, aquifer=ODD, other_names=(ODD, "second"), remarks=ODD)
    elsewhere = whole.position._replace(vertical_datum=ODD, horizontal_datum="NAD 27", elevation_method=ODD)
    point = whole.points[0]._replace(point=whole.points[0].point._replace(name=ODD, description=ODD))
    wordy = whole._replace(code=ODD, identity=words, position=elsewhere, points=(point, *whole.points[1:]))
    return [bare, wordy]


def test_wells_of_which_little_or_too_much_is_said_hold_by_both_engines(delivery: Delivery, tmp_path: Path) -> None:
    odd = delivery._replace(network=delivery.network._replace(name=ODD))
    file = tmp_path / "odd.xml"
    for well in odd_delivery(delivery):
        file.write_bytes(document(collection(odd, well, list(all_series(well)))))
        assert schema_faults(WML, file) == []
        file.write_bytes(document(gw_well(odd, well)))
        assert schema_faults(GWML, file) == []


def test_a_general_reader_finds_the_same_values(written: Path, delivery: Delivery) -> None:
    pytest.importorskip("owslib", reason="OWSLib is not installed: extra validators")
    from owslib.swe.observation.waterml2 import MeasurementTimeseriesObservation

    well = next(well for well in delivery.wells if well.code == "MF-01")
    root = etree.parse(str(written / "waterml" / "MF-01.xml"))
    observation = next(root.iter("{http://www.opengis.net/om/2.0}OM_Observation"))
    points = MeasurementTimeseriesObservation(observation).get_result().points
    ours = [row.result("depth below land surface") for row in well.readings if row.quantity == "water level"]
    assert [p.value for p in points] == [found.value_m for found in ours if found]


def test_names_of_wells_that_no_disk_takes_become_files_all_the_same(delivery: Delivery) -> None:
    from tapedown.exchange.formats.xml_parts import FileNames

    names = FileNames()
    found = [names.name(code, ".xml") for code in ("../../etc", "a/b", "A-B", "CON:", "", "ΑΒ", "é")]
    assert len({name.lower() for name in found}) == len(found)
    assert all(name.isascii() and "/" not in name and not name.startswith(".") for name in found)
