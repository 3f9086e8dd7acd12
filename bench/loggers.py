"""A logger's file to a corrected series with flags and daily values, beside the same steps written plainly.

The peers take a file that needs no looking at: they know its layout, count no lines, name no line that cannot be read,
write down no findings, and hold everything in memory. The results are compared. Each runs in a process of its own, so
that its peak memory is its own.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from tapedown.exchange.formats.series_rows import write_rows
from tapedown.exchange.loggers.files import read_logger_file
from tapedown.exchange.loggers.profiles import read_profile
from tapedown.loggers.combine import combined
from tapedown.loggers.context import SeriesContext, TapeCheck, points
from tapedown.loggers.daily import daily_values
from tapedown.loggers.treat import treat
from tapedown.values.series.treatments import TREATMENTS
from tapedown.values.settings import Settings

ROOT = Path(__file__).parents[1]
FULL, SMALL, LARGE = 5_000_000, 1_000_000, 20_000_000
ROUNDS = 5
START_S, STEP_S, AIR_STEP_S = 946684800, 60, 3600
SPIKE, GAP_S, RATE, FLAT = (0.1, 0.2), 3600, (3.0, 25 * 3600 // STEP_S), (96, 480)
U_POINT, WALK, U_TAPE, YEAR_S = 0.003, 0.03, 0.003, 365.25 * 86400
PROFILE = b"""delimiter = "comma"
header_row = 1
[clock]
date = "when"
formats = ["%Y-%m-%d %H:%M:%S"]
zone = "UTC"
[[columns]]
name = "pressure"
holds = "absolute pressure"
unit = "kPa"
[[columns]]
name = "temperature"
holds = "water temperature"
unit = "degC"
"""
Floats = NDArray[np.float64]


def make(folder: Path, n: int) -> None:
    """A drifting absolute logger with a row a minute, its hourly barometer, a check reading every half year."""
    rng = np.random.default_rng(1)
    air_s = START_S + np.arange(0, n * STEP_S + AIR_STEP_S, AIR_STEP_S, dtype=np.float64)
    air = 101 + np.cumsum(rng.normal(0, 0.02, len(air_s))) * 0.3
    at_s = START_S + np.arange(n, dtype=np.float64) * STEP_S
    water = 6 + 0.8 * np.sin(at_s / 5e6) + np.cumsum(rng.normal(0, 2e-4, n)) + rng.normal(0, 0.001, n)
    pressure = (np.interp(at_s, air_s, air) + water * 9.80665 * 0.9997).round(3)
    temp = (10 + 2 * np.sin(at_s / 5e6)).round(2)
    frame = pl.DataFrame({"when": _times(at_s), "pressure": pressure, "temperature": temp})
    frame.write_csv(folder / "logger.csv", datetime_format="%Y-%m-%d %H:%M:%S")
    pl.DataFrame({"time": _times(air_s), "air_kpa": air}).write_parquet(folder / "air.parquet")
    at = np.linspace(0, n - 1, max(n * STEP_S // 15_778_800, 2)).round().astype(int)
    checks = [[float(at_s[k]), float(18 - water[k] + 0.02 * k / n)] for k in at]
    (folder / "checks.json").write_text(json.dumps(checks), encoding="utf-8")


def _times(at_s: Floats) -> pl.Series:
    return pl.Series((at_s * 1e6).astype("int64")).cast(pl.Datetime("us"))


def ours(folder: Path) -> None:
    """By the rooms of the program: read with an account, treat, write; daily values from what was written."""
    read = read_logger_file(folder / "logger.csv", read_profile(PROFILE), into=folder / "rows.parquet")
    made = combined([("logger.csv", read.frame)], "pressure_kpa")
    checks = tuple(TapeCheck(at_s, depth, U_TAPE) for at_s, depth in json.loads((folder / "checks.json").read_text()))
    air = points(pl.read_parquet(folder / "air.parquet"), "air_kpa")
    given = {
        "barometer": {"series": "air"},
        "onto the tape": {"share": "in time", "walk": f"{WALK} m", "u_point": f"{U_POINT} m"},
    }
    treatments = [TREATMENTS[name].read(fields, "m")[0] for name, fields in given.items()]
    treated = treat(made.rows, treatments, SeriesContext(Settings("m"), checks, {"air": air}), made.look)  # type: ignore[arg-type]
    corrected = write_rows(treated.pieces(), folder / "ours")
    daily_values(corrected, "+01:00", made.look.interval_s, 0.8).sink_parquet(folder / "ours-daily.parquet")


def _offset_and_u(folder: Path, water_at: Callable[[Floats], Floats], at_s: Floats) -> tuple[Floats, Floats]:
    """Offset and uncertainty of every row; the same sums for both peers."""
    checks = np.array(json.loads((folder / "checks.json").read_text()))
    offsets = checks[:, 1] + water_at(checks[:, 0])
    offset = np.interp(at_s, checks[:, 0], offsets)
    after = np.clip(np.searchsorted(checks[:, 0], at_s), 1, len(checks) - 1)
    left, right = checks[after - 1, 0], checks[after, 0]
    share = np.clip((at_s - left) / (right - left), 0, 1)
    own2 = U_POINT**2 + U_TAPE**2
    u2 = ((1 - share) ** 2 + share**2) * own2 + WALK**2 / YEAR_S * (right - left) * share * (1 - share)
    return offset, np.sqrt(u2 + U_POINT**2)


def _density(temp: Any) -> Any:
    return 999.974950 * (1 - (temp - 3.983035) ** 2 * (temp + 301.797) / (522528.9 * (temp + 69.34881)))


def plain_pandas(folder: Path) -> None:
    """The same steps as somebody would write them in pandas."""
    import pandas as pd

    frame = pd.read_csv(folder / "logger.csv", engine="pyarrow", parse_dates=["when"])
    air = pd.read_parquet(folder / "air.parquet")
    at_s = frame["when"].to_numpy().astype("datetime64[us]").astype(np.int64) / 1e6
    air_s = air["time"].to_numpy().astype("datetime64[us]").astype(np.int64) / 1e6
    frame["air_kpa"] = np.interp(at_s, air_s, air["air_kpa"])
    frame["water_m"] = (frame["pressure"] - frame["air_kpa"]) * 1000 / (_density(frame["temperature"]) * 9.80665)
    water = frame["water_m"].to_numpy()
    frame["offset_m"], frame["u_depth_m"] = _offset_and_u(folder, lambda t: np.interp(t, at_s, water), at_s)
    depth = frame["offset_m"] - frame["water_m"]
    frame["depth_m"] = depth
    frame["flag_gap"] = np.where(frame["when"].diff().dt.total_seconds() > GAP_S, 4, 1).astype("uint8")
    frame.loc[0, "flag_gap"] = 2
    off = (depth - (depth.shift(1) + depth.shift(-1)) / 2).abs()
    frame["flag_spike"] = np.select([off.isna(), off > SPIKE[1], off > SPIKE[0]], [2, 4, 3], 1).astype("uint8")
    usual = depth.rolling(RATE[1], min_periods=RATE[1] // 2).std().shift(1) * RATE[0]
    step = depth.diff().abs()
    fast = (step > usual) & (step > 0.001 + 1e-9)
    frame["flag_rate"] = np.select([step.isna() | usual.isna() & (step > 0.001 + 1e-9), fast], [2, 3], 1).astype(
        "uint8"
    )
    still = [(depth.rolling(n).max() - depth.rolling(n).min()) <= 0.001 + 1e-9 for n in FLAT]
    frame["flag_flat"] = np.select(still[::-1], [4, 3], 1).astype("uint8")
    flags = frame[["flag_spike", "flag_rate", "flag_flat"]]
    worst = flags.where(flags != 2, 0).max(axis=1)
    frame["flag"] = worst.where(worst != 0, 2).astype("uint8")
    words = frame["flag"].map({1: "good", 2: "unchecked", 3: "suspect", 4: "poor", 9: "missing"})
    frame["quality"] = words.astype("category")
    frame.to_parquet(folder / "pandas.parquet")
    good = frame[frame["flag"] != 4]
    days = good.groupby((good["when"] + pd.Timedelta(hours=1)).dt.date)
    daily = days.agg(mean=("depth_m", "mean"), low=("depth_m", "min"), high=("depth_m", "max"),
                     u=("u_depth_m", "mean"), rows=("depth_m", "size"))  # fmt: skip
    daily.loc[daily["rows"] < 0.8 * 86400 / STEP_S, ["mean", "low", "high", "u"]] = np.nan
    daily.to_parquet(folder / "pandas-daily.parquet")


def plain_polars(folder: Path) -> None:
    """The same steps as somebody would write them in Polars, a frame at a time."""
    frame = pl.read_csv(folder / "logger.csv").with_columns(pl.col("when").str.to_datetime("%Y-%m-%d %H:%M:%S"))
    air = pl.read_parquet(folder / "air.parquet")
    at_s = frame["when"].dt.timestamp("us").to_numpy() / 1e6
    air_s = air["time"].dt.timestamp("us").to_numpy() / 1e6
    frame = frame.with_columns(pl.Series("air_kpa", np.interp(at_s, air_s, air["air_kpa"].to_numpy())))
    head = (pl.col("pressure") - pl.col("air_kpa")) * 1000 / (_density(pl.col("temperature")) * 9.80665)
    frame = frame.with_columns(head.alias("water_m"))
    water = frame["water_m"].to_numpy()
    offset, u = _offset_and_u(folder, lambda t: np.interp(t, at_s, water), at_s)
    frame = frame.with_columns(pl.Series("offset_m", offset), pl.Series("u_depth_m", u))
    frame = frame.with_columns((pl.col("offset_m") - pl.col("water_m")).alias("depth_m"))
    depth = pl.col("depth_m")
    off = (depth - (depth.shift(1) + depth.shift(-1)) / 2).abs()
    step = depth.diff().abs()
    usual = depth.rolling_std(RATE[1], min_samples=RATE[1] // 2).shift(1) * RATE[0]
    still = [depth.rolling_max(n) - depth.rolling_min(n) <= 0.001 + 1e-9 for n in FLAT]
    fast = (step > usual) & (step > 0.001 + 1e-9)
    one, two, three, four = (pl.lit(k, pl.UInt8) for k in (1, 2, 3, 4))
    late = pl.col("when").diff().dt.total_seconds() > GAP_S
    names = ("flag_spike", "flag_rate", "flag_flat")
    frame = frame.with_columns(
        pl.when(late.is_null()).then(two).when(late).then(four).otherwise(one).alias("flag_gap"),
        pl.when(off.is_null()).then(two).when(off > SPIKE[1]).then(four).when(off > SPIKE[0]).then(three).otherwise(one)
        .alias("flag_spike"),
        pl.when(fast.is_null()).then(two).when(fast).then(three).otherwise(one).alias("flag_rate"),
        pl.when(still[1]).then(four).when(still[0]).then(three).otherwise(one).alias("flag_flat"),
    )  # fmt: skip
    worst = pl.max_horizontal(pl.when(pl.col(name) == 2).then(0).otherwise(name) for name in names)
    frame = frame.with_columns(pl.when(worst == 0).then(2).otherwise(worst).cast(pl.UInt8).alias("flag"))
    words = {1: "good", 2: "unchecked", 3: "suspect", 4: "poor", 9: "missing"}
    kind = pl.Enum(list(words.values()))
    frame = frame.with_columns(pl.col("flag").replace_strict(words, return_dtype=kind).alias("quality"))
    frame.write_parquet(folder / "polars.parquet")
    good = frame.filter(pl.col("flag") != 4)
    daily = good.group_by((pl.col("when") + pl.duration(hours=1)).dt.date().alias("day")).agg(
        depth.mean().alias("mean"), depth.min().alias("low"), depth.max().alias("high"),
        pl.col("u_depth_m").mean().alias("u"), pl.len().alias("rows"),
    )  # fmt: skip
    whole = pl.col("rows") >= 0.8 * 86400 / STEP_S
    daily = daily.with_columns(pl.when(whole).then(name).alias(name) for name in ("mean", "low", "high", "u"))
    daily.sort("day").write_parquet(folder / "polars-daily.parquet")


WAYS: dict[str, Callable[[Path], None]] = {"ours": ours, "pandas": plain_pandas, "polars": plain_polars}


def _measured(way: str, folder: Path, *more: str) -> tuple[float, float]:
    """Seconds and peak memory, MB, of one way in a process of its own.

    The files are made and compared in one too: a child's peak begins at what its parent holds.
    """
    command = [sys.executable, "-m", "bench.loggers", way, str(folder), *more]
    path = os.pathsep.join([str(ROOT / "src"), str(ROOT)])
    surroundings = {**os.environ, "PYTHONPATH": path}
    told = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT, env=surroundings)
    seconds, peak_mb = map(float, told.stdout.split())
    return seconds, peak_mb


def _compare(folder: Path) -> None:
    """All three came to the same depths, flags and days."""
    mine = pl.read_parquet(folder / "ours")
    days = pl.read_parquet(folder / "ours-daily.parquet")
    for peer in ("pandas", "polars"):
        theirs = pl.read_parquet(folder / f"{peer}.parquet")
        assert np.allclose(mine["depth_m"], theirs["depth_m"], atol=1e-6)
        assert np.allclose(mine["u_depth_m"], theirs["u_depth_m"], atol=1e-9)
        for name in ("flag_gap", "flag_spike", "flag_flat", "flag"):
            assert (mine[name] != theirs[name]).sum() <= len(mine) * 1e-5, name
        assert np.allclose(
            days["mean_depth_m"], pl.read_parquet(folder / f"{peer}-daily.parquet")["mean"], equal_nan=True
        )


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Time beside both peers, then how time and memory grow from one to twenty million rows. Best of five, in turn."""
    rows = []
    with TemporaryDirectory() as name:
        folder, n = Path(name), max(round(FULL * scale), 10_000)
        _measured("make", folder, str(n))
        found: dict[str, list[tuple[float, float]]] = {way: [] for way in WAYS}
        for way in [*WAYS] * ROUNDS:
            found[way].append(_measured(way, folder))
        _measured("compare", folder)
        best = {way: min(seconds for seconds, _ in told) for way, told in found.items()}
        peak = {way: min(peak for _, peak in told) for way, told in found.items()}
        for peer, aim in (("pandas", 1 / 3), ("polars", 1.0)):
            rows.append(
                _row("logger file to corrected series", best["ours"], f"the same in plain {peer}", best[peer], n, aim)
            )
            told = f"peak memory of plain {peer}, MB"
            rows.append(_row("peak memory of that, MB", peak["ours"], told, peak[peer], n, None))
    growth = {}
    for n in (SMALL, LARGE):
        with TemporaryDirectory() as name:
            folder, few = Path(name), max(round(n * scale), 10_000)
            _measured("make", folder, str(few))
            growth[n] = (*min(_measured("ours", folder) for _ in range(ROUNDS)), few)
    small, large = growth[SMALL], growth[LARGE]
    rows.append(_row("logger file, 20 times as long", large[0], "one million rows", small[0], large[2], 20.0))
    rows.append(_row("peak memory of that, MB", large[1], "one million rows", small[1], large[2], None))
    return rows


def _row(name: str, ours_: float, peer: str, peer_: float, n: int, aim: float | None) -> dict[str, Any]:
    return {"name": name, "ours_s": round(ours_, 3), "peer": peer, "peer_s": round(peer_, 3),
            "ratio": round(ours_ / peer_, 2), "aim": aim and round(aim, 2), "n": n}  # fmt: skip


if __name__ == "__main__":
    if len(sys.argv) > 2:
        started = time.perf_counter()
        if sys.argv[1] == "make":
            make(Path(sys.argv[2]), int(sys.argv[3]))
        elif sys.argv[1] == "compare":
            _compare(Path(sys.argv[2]))
        else:
            WAYS[sys.argv[1]](Path(sys.argv[2]))
        print(time.perf_counter() - started, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    else:
        for row in run():
            print(row)
