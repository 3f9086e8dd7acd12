"""What loggers recorded goes out beside what was read by hand: the same numbers, with the right kind of series."""

from __future__ import annotations

import csv
import io

import netCDF4
import numpy as np
import openpyxl
import polars as pl
import pyarrow.parquet as pq
import pytest
from lxml import etree

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.recorded import as_series
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.formats import xlsx_book
from tapedown.exchange.formats.registry import written_as
from tapedown.work.exports.gathering import gather
from tapedown.work.networks import OpenNetwork
from tapedown.work.series.corrected import corrected, daily

WML = {"wml2": "http://www.opengis.net/waterml/2.0", "xlink": "http://www.w3.org/1999/xlink"}


@pytest.fixture(scope="module")
def eleven(fen: OpenNetwork) -> Delivery:
    """The well with a logger."""
    return gather(fen, wells=["MF-11"])


def test_waterml_tells_continuous_rows_from_daily_means_and_readings(eleven: Delivery) -> None:
    ((_, data),) = written_as(Tables(eleven), "waterml")
    kinds = etree.fromstring(data).findall(".//wml2:interpolationType", WML)
    told = [one.get(f"{{{WML['xlink']}}}href", "").rpartition("/")[2] for one in kinds]
    assert set(told) == {"Discontinuous", "Continuous", "AverageSucc"}
    assert told.count("Continuous") == told.count("AverageSucc") == 1


def test_netcdf_holds_the_corrected_series_to_the_last_digit(fen: OpenNetwork, eleven: Delivery) -> None:
    files = dict(written_as(Tables(eleven), "netcdf"))
    series = corrected(fen, "MF-11", "level")
    for ending, expected in (
        ("logger", series.rows.select("depth_m").collect()["depth_m"]),
        ("daily-mean", daily(series, fen)["mean_depth_m"]),
    ):
        name = next(path for path in files if path.endswith(f"-{ending}.nc"))
        with netCDF4.Dataset("series.nc", memory=files[name]) as opened:
            found = opened["depth_to_water_below_land_surface"][:].filled(np.nan)
            assert "logger" in opened.source
        np.testing.assert_array_equal(found, expected.fill_null(np.nan).to_numpy())


def test_csv_parquet_and_a_sheet_hold_every_row_with_its_flag_to_the_last_digit(
    fen: OpenNetwork, eleven: Delivery
) -> None:
    made = Tables(eleven)
    rows = corrected(fen, "MF-11", "level").rows.select("time", "depth_m", "u_depth_m", "quality", "flag").collect()
    text = dict(written_as(made, "csv"))["logger_rows.csv"].decode()
    told = pl.read_csv(io.StringIO(text), infer_schema_length=None)
    columns = pq.read_table(io.BytesIO(dict(written_as(made, "geoparquet"))["logger_rows.parquet"]))
    assert columns.schema.field("depth_below_land_surface_m").metadata[b"unit"] == b"m"
    assert columns["time"].to_numpy().tolist() == rows["time"].dt.cast_time_unit("ms").to_numpy().tolist()
    for found in (told, pl.DataFrame(pl.from_arrow(columns))):
        assert found["depth_below_land_surface_m"].to_list() == rows["depth_m"].to_list()
        assert found["u_depth_below_land_surface_m"].to_list() == rows["u_depth_m"].to_list()
        assert found["qartod_flag"].to_list() == rows["flag"].to_list()
        assert found["quality"].to_list() == rows["quality"].to_list()
    first = next(csv.DictReader(io.StringIO(text)))
    assert (first["well"], first["series"], first["zone"]) == ("MF-11", "level", "America/New_York")
    assert first["time"] == f"{rows['time'][0]:%Y-%m-%dT%H:%M:%S}+00:00"
    book = openpyxl.load_workbook(io.BytesIO(dict(written_as(made, "xlsx"))["readings.xlsx"]), read_only=True)
    sheet = list(book["logger rows"].iter_rows(values_only=True))
    sixteen_digits = 1e-15  # all that a sheet keeps
    np.testing.assert_allclose(
        np.array([row[4] for row in sheet[1:]], np.float64), rows["depth_m"].to_numpy(), rtol=sixteen_digits
    )
    means = daily(corrected(fen, "MF-11", "level"), fen)["mean_depth_m"].to_list()
    days = [row[4] for row in book["daily means"].iter_rows(min_row=2, values_only=True)]
    np.testing.assert_allclose(np.array(days, np.float64), np.array(means, np.float64), rtol=sixteen_digits)


def test_a_sheet_too_short_for_the_rows_says_where_they_are(eleven: Delivery, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx_book, "MOST_ROWS", 5000)
    book = openpyxl.load_workbook(io.BytesIO(dict(written_as(Tables(eleven), "xlsx"))["readings.xlsx"]))
    assert "logger rows" not in book.sheetnames
    assert "daily means" in book.sheetnames
    said = " ".join(str(cell.value) for row in book["about"].iter_rows() for cell in row)
    assert "rows are more than the 5,000 a sheet takes" in said
    assert "logger_rows.csv" in said


def test_a_row_of_a_logger_carries_its_flag_and_an_instant(eleven: Delivery) -> None:
    one = next(one for one in eleven.wells[0].series if one.kind == "logger")
    rows = as_series(one)
    assert len(rows.times) == len(rows.values_m) == len(rows.quality) == one.size > 10_000
    assert (rows.times[0], rows.times[-1]) == (one.first, one.last)
    assert rows.times[0].endswith("+00:00")
    assert {note.partition(" flag ")[0] for note in rows.notes} == {"logger; QARTOD"}
