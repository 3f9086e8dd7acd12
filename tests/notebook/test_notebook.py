"""A hydrologist's notebook: frames with units in their names, and values that show their work."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import tapedown
from tapedown.notebook import Fen
from tapedown.values.errors import TapedownError
from tapedown.work.marrow_fen import build

pl = pytest.importorskip("polars", reason="Polars is not installed: extra notebook")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "fen"
    build(str(folder)).record.close()
    return folder


@pytest.fixture
def fen(place: Path) -> Iterator[Fen]:
    with tapedown.open(place) as found:
        yield found


def test_frames_hold_the_same_values_as_the_history(fen: Fen) -> None:
    found = fen.reductions()
    mine = fen.reduction("MF-02", "last")
    (row,) = found.filter(pl.col("reading_id") == mine.reading_id).to_dicts()
    assert mine.main is not None
    assert row["depth_below_land_surface_m"] == mine.main.value_m
    assert row["expanded_depth_below_land_surface_m"] == mine.main.expanded_m
    assert row["said_ft"] in repr(mine).replace(" ft ±", " ±") + " ft" or row["said_ft"].split(" ")[0] in repr(mine)
    assert str(found["time"].dtype) == "Datetime(time_unit='us', time_zone='America/New_York')"


def test_every_length_and_time_says_its_unit_in_its_name(fen: Fen) -> None:
    for frame in (fen.wells(), fen.reductions(), fen.series()):
        for name, kind in frame.schema.items():
            if kind == pl.Float64 and not name.startswith(("coverage_factor", "degrees_of_freedom")):
                assert name.endswith(("_m", "_ft", "_deg", "_h")), name


def test_readings_are_as_written_with_every_digit(fen: Fen) -> None:
    found = fen.readings().filter((pl.col("method") == "chalked tape") & (pl.col("well") == "MF-01"))
    assert set(found["part"]) == {"hold", "cut"}
    assert found["written"].str.contains(r"^\d+\.\d\d ft$").all()
    assert set(found["unit"]) == {"ft"}


def test_pandas_on_request_holds_the_same(fen: Fen) -> None:
    pytest.importorskip("pandas", reason="pandas is not installed: extra notebook")
    theirs, ours = fen.wells(to="pandas"), fen.wells()
    assert list(theirs.columns) == ours.columns
    assert theirs["last_water_level_said_ft"].tolist() == ours["last_water_level_said_ft"].to_list()
    with pytest.raises(ValueError, match="excel"):
        fen.wells(to="excel")  # type: ignore[call-overload]


def test_the_past_is_as_it_was_known(place: Path, fen: Fen) -> None:
    with tapedown.open(place, as_of="2023-03-01") as then:
        assert 0 < len(then.reductions()) < len(fen.reductions())
        assert "2023-03-02T04:59:59" in repr(then)


def test_a_reduction_shows_every_step_with_its_source(fen: Fen) -> None:
    shown = fen.reduction("MF-03", "last weighted tape")._repr_html_()
    assert shown.count("<table>") >= 4
    for word in ("weight interval", "source", "k ", "uncertainty from", "USGS"):
        assert word in shown


def test_a_well_shows_its_figure_and_its_last_readings(fen: Fen) -> None:
    shown = fen.well("MF-02")._repr_html_()
    assert "<svg" in shown
    assert "Alder Carr" in shown
    assert "fill since completion" in shown


def test_nothing_typed_by_anyone_becomes_html(tmp_path: Path) -> None:
    from tapedown.work.authorship import Author
    from tapedown.work.entry.entering import enter_fact, read_visit, write_visit
    from tapedown.work.networks import start_network

    author, bad = Author("R. Alder", "desk"), "<script>alert(1)</script>"
    facts = {"name": bad, "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    with start_network(tmp_path / "bad", facts, author).record as record:
        from tapedown.work.networks import network_of

        network = network_of(record)
        enter_fact(network, "well", "MF-07", {"name": bad, "place": bad, "aquifer": bad}, author)
        read = [{"method": "electric tape", "readings": ["15.02"], "tape": bad, "remarks": bad}]
        write_visit(
            network, read_visit(network, {"well": "MF-07", "when": "2025-05-14 09:10", "readings": read}), author
        )
    with tapedown.open(tmp_path / "bad") as found:
        for shown in (found.well("MF-07")._repr_html_(), found.reduction("MF-07")._repr_html_()):
            assert "<script" not in shown


def test_a_place_without_a_network_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(TapedownError) as refused:
        tapedown.open(tmp_path)
    assert "tapedown start" in refused.value.hint


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = "import sys, tapedown, tapedown.main; print(sorted(set(sys.modules) & set(sys.argv[1:])))"
    heavy = ("polars", "pandas", "pyarrow", "pyogrio", "netCDF4", "openpyxl", "lxml", "fastapi", "pyproj", "numpy")
    ran = subprocess.run([sys.executable, "-c", code, *heavy], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
