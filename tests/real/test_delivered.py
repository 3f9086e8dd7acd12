"""Open data taken in and handed on: validators take it as they take the demonstration."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.formats.registry import written_as
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.work.exports.gathering import gather
from tapedown.work.imports.tables import import_table
from tapedown.work.networks import OpenNetwork
from tests.real.conftest import MAPPINGS, PEN, data_of, new_network, take_in
from tests.standards.xml_rules import libxml2_faults

LINES = 4000


@pytest.fixture(scope="module")
def idaho(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    """Every site of the network, and the first of its water levels."""
    for network in new_network(tmp_path_factory.mktemp("idaho"), "America/Denver"):
        take_in(network, "idaho-network/sites.csv", "idaho-sites")
        levels = b"".join(data_of("idaho-network/levels.csv").splitlines(keepends=True)[: LINES + 1])
        mapping = read_mapping((MAPPINGS / "idaho-levels.toml").read_bytes(), "idaho-levels")
        import_table(network, levels, "levels.csv", mapping, PEN)
        yield network


@pytest.fixture(scope="module")
def delivery(idaho: OpenNetwork) -> Delivery:
    return gather(idaho, units=("ft", "m"))


@pytest.mark.real
def test_every_reading_taken_in_is_handed_on(delivery: Delivery) -> None:
    assert sum(len(well.readings) for well in delivery.wells) == LINES


@pytest.mark.real
def test_frictionless_takes_the_package(delivery: Delivery, tmp_path: Path) -> None:
    program = Path(sys.executable).parent / "frictionless"
    if not program.exists():
        pytest.skip("frictionless is not installed: extra validators")
    for name, data in written_as(Tables(delivery), "csv"):
        (tmp_path / name).write_bytes(data)
    ran = subprocess.run([program, "validate", tmp_path / "datapackage.json"], capture_output=True, text=True,
                         timeout=240, check=False)  # fmt: skip
    assert ran.returncode == 0, ran.stdout


@pytest.mark.real
def test_every_waterml_and_groundwaterml_file_holds(delivery: Delivery, tmp_path: Path) -> None:
    schemas = {"waterml": "waterml/2.0/waterml2.xsd", "groundwaterml": "gwml/2.2/gwml2-well.xsd"}
    for name, schema in schemas.items():
        for file, data in written_as(Tables(delivery), name):
            (tmp_path / file).write_bytes(data)
            assert libxml2_faults(f"waterml-xsd/ogc/{schema}", tmp_path / file) == [], file
