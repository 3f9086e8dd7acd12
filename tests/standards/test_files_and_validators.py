"""Tables, maps and arrays as public validators and libraries take them."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tapedown.exchange.delivery.contents import Delivery

BIN = Path(sys.executable).parent


def ran(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """A validator, run as its users run it; the test is skipped where it is not installed."""
    program = BIN / str(arguments[0])
    if not program.exists():
        pytest.skip(f"{arguments[0]} is not installed: extra validators")
    return subprocess.run([program, *arguments[1:]], capture_output=True, text=True, timeout=120, check=False)


def test_frictionless_takes_the_package_and_sees_a_changed_one(written: Path, tmp_path: Path) -> None:
    found = ran("frictionless", "validate", written / "csv" / "datapackage.json", "--json")
    assert found.returncode == 0, found.stdout
    assert json.loads(found.stdout)["valid"]
    for file in (written / "csv").iterdir():
        data = (
            file.read_bytes().replace(b",MF-07,", b",MF-99,", 1) if file.name == "readings.csv" else file.read_bytes()
        )
        (tmp_path / file.name).write_bytes(data)
    assert ran("frictionless", "validate", tmp_path / "datapackage.json").returncode == 1


def test_csvw_takes_the_metadata_and_sees_a_changed_file(written: Path, tmp_path: Path) -> None:
    found = ran("csvwvalidate", written / "csv" / "csv-metadata.json")
    assert found.returncode == 0, found.stdout
    for file in (written / "csv").iterdir():
        data = file.read_bytes().replace(b",true,", b",maybe,", 1) if file.name == "readings.csv" else file.read_bytes()
        (tmp_path / file.name).write_bytes(data)
    assert ran("csvwvalidate", tmp_path / "csv-metadata.json").returncode != 0


def test_the_cf_checker_takes_a_series_of_every_kind(written: Path, tmp_path: Path) -> None:
    for name in ("MF-07-depth-to-water-below-land-surface", "MF-01-water-level-elevation",
                 "MF-02-total-depth-below-land-surface"):  # fmt: skip
        out = tmp_path / "told.json"
        found = ran("compliance-checker", "-t", "cf:1.11", "-f", "json", "-o", out, written / "netcdf" / f"{name}.nc")
        assert found.returncode == 0, found.stdout
        told = json.loads(out.read_text())
        (checked,) = told.values() if "cf:1.11" not in told else (told["cf:1.11"],)
        assert checked["high_count"] == checked["medium_count"] == checked["low_count"] == 0, found.stdout


def test_the_cf_checker_takes_a_well_whose_place_is_not_known(delivery: Delivery, tmp_path: Path) -> None:
    from tapedown.exchange.formats.netcdf import netcdf_files

    bare = delivery.wells[0]._replace(position=None)
    name, data = next(iter(netcdf_files(delivery._replace(wells=(bare,)))))
    place, out = tmp_path / name, tmp_path / "told.json"
    place.write_bytes(data)
    found = ran("compliance-checker", "-t", "cf:1.11", "-f", "json", "-o", out, place)
    assert found.returncode == 0, found.stdout


def test_the_geoparquet_validator_calls_the_wells_conformant(written: Path) -> None:
    found = ran("geoparquet-validator", "check", written / "geoparquet" / "wells.parquet")
    assert "core: 13 pass, 0 fail" in found.stdout, found.stdout
    assert "NOT CONFORMANT" not in found.stdout


def test_a_gis_library_reads_wells_and_tables_from_the_geopackage(written: Path, delivery: Delivery) -> None:
    pyogrio = pytest.importorskip("pyogrio", reason="pyogrio is not installed: extra formats")
    place = written / "geopackage" / "wells.gpkg"
    layers = {str(name): kind for name, kind in pyogrio.list_layers(place)}
    assert set(layers) == {"wells", "measuring_points", "intervals", "readings", "findings"}
    about = pyogrio.read_info(place, layer="wells")
    assert (about["crs"], about["geometry_type"], about["features"]) == ("EPSG:4326", "Point", 12)
    assert pyogrio.read_info(place, layer="readings")["features"] == sum(len(w.readings) for w in delivery.wells)


def test_geojson_is_read_by_the_same_library_at_the_same_places(written: Path, delivery: Delivery) -> None:
    pyogrio = pytest.importorskip("pyogrio", reason="pyogrio is not installed: extra formats")
    bounds = pyogrio.read_bounds(written / "geojson" / "wells.geojson")[1]
    places = [well.place for well in delivery.wells]
    assert [(x, y) for x, y in zip(bounds[0], bounds[1])] == places


def test_the_spreadsheet_has_numbers_as_numbers_with_the_digits_reported(written: Path) -> None:
    from datetime import datetime

    import openpyxl

    book = openpyxl.load_workbook(written / "xlsx" / "readings.xlsx")
    sheet = book["readings"]
    head = [cell.value for cell in sheet[1]]
    row = dict(zip(head, sheet[2]))
    value = row["depth_below_land_surface_rounded_ft"]
    assert isinstance(value.value, float)
    assert value.number_format == "0.00"
    assert isinstance(row["time"].value, datetime)
    assert isinstance(row["time_of_day_known"].value, bool)
    assert all(cell.data_type != "f" for line in sheet.iter_rows() for cell in line)


def rows(written: Path, table: str) -> list[dict[str, str]]:
    with (written / "csv" / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_the_same_numbers_stand_behind_every_door(written: Path, delivery: Delivery) -> None:
    """A colleague with a table, a GIS, a spreadsheet and an array library sees one set of numbers."""
    import netCDF4
    import openpyxl
    import pyarrow.parquet as pq
    import pyogrio

    name = "depth_below_land_surface_m"
    told = {row["reading_id"]: row[name] for row in rows(written, "readings")}
    ours = {key: float(text) for key, text in told.items() if text}
    assert len(ours) > 290
    parquet = pq.read_table(written / "geoparquet" / "readings.parquet").to_pylist()
    assert {r["reading_id"]: r[name] for r in parquet if r[name] is not None} == ours
    _, _, _, columns = pyogrio.raw.read(written / "geopackage" / "wells.gpkg", layer="readings",
                                        columns=["reading_id", name])  # fmt: skip
    assert {str(k): float(v) for k, v in zip(*columns) if v == v} == ours
    sheet = openpyxl.load_workbook(written / "xlsx" / "readings.xlsx", read_only=True)["readings"]
    lines = sheet.iter_rows(values_only=True)
    head = list(next(lines))
    found = {str(line[0]): line[head.index(name)] for line in lines}
    sheet_values = {key: value for key, value in found.items() if value is not None}
    assert sheet_values == pytest.approx(ours, rel=1e-15)  # a sheet keeps 16 digits
    with netCDF4.Dataset(written / "netcdf" / "MF-01-depth-to-water-below-land-surface.nc") as data:
        array = [float(v) for v in data["depth_to_water_below_land_surface"][:]]
    well = delivery.wells[0]
    assert array == [ours[r.entry.id] for r in well.readings if r.quantity == "water level" and r.entry.id in ours]


def test_rounded_values_keep_the_digits_the_reading_allows(written: Path) -> None:
    """The last digit of a rounded value is the step reported beside it, in both units."""
    for row in rows(written, "readings"):
        for unit in ("ft", "m"):
            text, step = row[f"elevation_rounded_{unit}"], row[f"reporting_step_elevation_{unit}"]
            if text and float(step) < 1:
                assert abs(float(text) / float(step) - round(float(text) / float(step))) < 1e-6
                assert len(text.partition(".")[2]) == len(f"{float(step):.6f}".rstrip("0").partition(".")[2])


def test_both_units_say_the_same_within_a_step(written: Path) -> None:
    for row in rows(written, "readings"):
        feet, metres = row["depth_below_land_surface_rounded_ft"], row["depth_below_land_surface_rounded_m"]
        if feet:
            steps = 0.3048 * float(row["reporting_step_depth_below_land_surface_ft"])
            steps += float(row["reporting_step_depth_below_land_surface_m"])
            assert float(feet) * 0.3048 == pytest.approx(float(metres), abs=steps / 2 + 1e-9)


def test_a_dry_well_has_no_depth_in_any_column_that_means_a_level(written: Path) -> None:
    dry = [row for row in rows(written, "readings") if row["use"] == "deeper than"]
    assert len(dry) == 11
    for row in dry:
        assert row["depth_below_land_surface_m"] == row["elevation_m"] == ""
        assert float(row["tape_reached_below_land_surface_m"]) > 5
        assert row["said_ft"].startswith("deeper than ")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "'quoted'", "'=x", "\tx", "plain", "", "''"])
def test_no_text_is_a_formula_and_all_of_it_comes_back(text: str) -> None:
    from tapedown.exchange.formats.csv_package import plain_text, safe_text

    assert safe_text(text)[:1] not in {"=", "+", "-", "@", "\t"}
    assert plain_text(safe_text(text)) == text


def test_every_table_of_arrow_says_its_units(written: Path) -> None:
    import pyarrow.parquet as pq

    schema: Any = pq.read_schema(written / "geoparquet" / "readings.parquet")
    field = schema.field("depth_below_land_surface_rounded_ft")
    assert field.metadata[b"unit"] == b"[ft_i]"
    assert json.loads(schema.metadata[b"tapedown"])["vertical_datum"] == "NAVD88"
