"""The commands for loggers, from a file nobody described to a corrected series."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from tests.cli.conftest import Run

START = datetime(2026, 1, 10)


def csv_file(place: Path, name: str, heading: str, values: list[float]) -> str:
    rows = [f"{START + timedelta(hours=hour):%d/%m/%Y %H:%M};{value:.3f}" for hour, value in enumerate(values)]
    (place / name).write_text("\n".join([f"when;{heading}", *rows, "end"]).replace(".", ","), encoding="utf-8")
    return name


VISIT = """
well = "MF-07"
when = "{when}"
[[readings]]
method = "electric tape"
readings = [23.40, 23.40]
"""


def test_a_file_becomes_a_corrected_series(fen: Run, tmp_path: Path) -> None:
    air = [101.3 + hour % 24 / 100 for hour in range(500)]
    level = csv_file(tmp_path, "level.csv", "pressure (kPa)", [value + 39.2 for value in air])
    csv_file(tmp_path, "air.csv", "barometer (kPa)", air)
    looked = fen("logger", "look", level, "--out", "level.toml")
    assert looked.code == 0
    proposed = (tmp_path / "level.toml").read_text()
    assert "# which clock?" in proposed
    assert 'delimiter = "semicolon"' in proposed
    assert fen("logger", "look", "air.csv", "--out", "air.toml").code == 0
    dry = fen("logger", "read", "MF-07", "level", level, "-p", "level.toml", "--dry-run")
    assert (dry.code, dry.out.splitlines()[-1]) == (8, "nothing written")
    read = fen("logger", "read", "MF-07", "level", level, "-p", "level.toml", "--logger", "LG-031")
    assert read.code == 8  # the last line is none, and is told
    assert "502 lines: 1 above the table, 500 rows taken in" in read.out
    assert "1 set aside: not a time: end (line 502)" in read.out
    assert fen("logger", "read", "MF-07", "air", "air.csv", "-p", "air.toml").code == 8
    assert fen("logger", "list").out == "MF-07 air\nMF-07 level\n"
    for hour in (2, 400):
        when = f"{START + timedelta(hours=hour):%Y-%m-%dT%H:%M}+00:00"
        (tmp_path / "visit.toml").write_text(VISIT.format(when=when))
        assert fen("visit", "visit.toml").code == 0
    assert "10 m of water too much" in fen("logger", "check", "MF-07", "level").out
    barometer = fen("logger", "treat", "MF-07", "level", "barometer", "series=MF-07/air", "--why", "it hangs there")
    assert barometer.code == 0
    tape = fen("logger", "treat", "MF-07", "level", "onto the tape", "share=in time", "--why", "two readings")
    assert tape.code == 0
    shown = fen("logger", "show", "MF-07", "level")
    assert "MF-07/level: 500 rows from 2026-01-10 00:00 UTC" in shown.out
    assert "barometer: series MF-07/air (it hangs there; R. Alder" in shown.out
    assert "20.00 ft" in shown.out
    assert fen("logger", "export", "MF-07", "level", "out.csv").out == "500 rows written to out.csv\n"
    rows = (tmp_path / "out.csv").read_text().splitlines()
    assert rows[1].split(",")[1] == "6.0960"
    days = fen("logger", "daily", "MF-07", "level").out.splitlines()
    assert days[0].startswith("day,mean_depth_m")
    assert len(days) == 22
    [treatment] = [t for t in fen("logger", "show", "MF-07", "level", "--json").json["treatments"] if "barometer" in t]
    assert fen("strike", "MF-07", treatment["entry"][-8:], "--reason", "the wrong one").code == 0
    assert "[struck]" in fen("logger", "show", "MF-07", "level").out
    assert "10 m of water too much" in fen("logger", "check", "MF-07", "level").out


def test_a_field_that_is_none_is_refused_with_the_mend(fen: Run, tmp_path: Path) -> None:
    refused = fen("logger", "treat", "MF-07", "level", "barometer", "serie=x", "--why", "a slip")
    assert refused.code == 4
    assert "no field 'serie'" in refused.err
    missing = fen("logger", "show", "MF-07", "level")
    assert missing.code == 5
    assert "no series 'MF-07/level'" in missing.err


def test_what_a_series_tells_is_printed(fen: Run, tmp_path: Path) -> None:
    levels = [140 + hour % 50 / 10 for hour in range(300)]
    name = csv_file(tmp_path, "level.csv", "gauge (kPa)", levels)
    assert fen("logger", "look", name, "--out", "level.toml").code == 0
    for series in ("level", "beside"):
        assert fen("logger", "read", "MF-07", series, name, "-p", "level.toml").code == 8
    apart = fen("logger", "clocks", "MF-07", "level", "MF-07", "beside")
    learnt = fen("logger", "learn", "MF-07", "level").out
    assert "tide M2" in learnt
    assert "not told: barometric efficiency" in learnt
    assert "there is none in this network" in learnt
    assert "add +0.0 min to MF-07/beside (correlation 1.00)" in apart.out
