"""What loggers recorded goes out beside what was read by hand: the same numbers, with the right kind of series."""

from __future__ import annotations

import netCDF4
import numpy as np
import pytest
from lxml import etree

from tapedown.exchange.delivery import Delivery
from tapedown.exchange.delivery_tables import Tables
from tapedown.exchange.formats import written_as
from tapedown.work.gathering import gather
from tapedown.work.logger_series import corrected, daily
from tapedown.work.networks import OpenNetwork

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


def test_a_row_of_a_logger_carries_its_flag_and_an_instant(eleven: Delivery) -> None:
    rows = next(one for one in eleven.wells[0].series if one.kind == "logger")
    assert len(rows.times) == len(rows.values_m) == len(rows.quality) > 10_000
    assert rows.times[0].endswith("+00:00")
    assert {note.partition(" flag ")[0] for note in rows.notes} == {"logger; QARTOD"}
