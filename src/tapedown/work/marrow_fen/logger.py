"""A logger that drifts, and the barometer beside it: twenty months of hourly rows at MF-11, as their files came.

The truth is the model's level, laid through the afternoons on which it was taped. The logger is an absolute one, hung
40 ft below land surface; its zero drifts by 0.15 ft, most of it in the first half year, and it is out of the water for
an hour when it is read. The barometer hangs in the pump house at MF-09. Air pressure is a slow random walk pulled back
to its mean, with a daily wave; a twentieth of it shows, opposed, in the level.
"""

from __future__ import annotations

import math
import random
from datetime import UTC, date, datetime, timedelta
from typing import Any, NamedTuple

from tapedown.exchange.loggers.profiles import read_profile
from tapedown.values.series.series import LoggerFile
from tapedown.values.units import FOOT_M, STANDARD_GRAVITY_M_S2
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import enter_fact
from tapedown.work.marrow_fen.model import FenTruth
from tapedown.work.networks import OpenNetwork
from tapedown.work.series.files import take_logger_file

WELL, AIR_WELL = "MF-11", "MF-09"
FIRST, READ, LAST = datetime(2024, 2, 11, 19, tzinfo=UTC), datetime(2024, 11, 12, 21), datetime(2025, 9, 4, 22)
HANGS_FT, WATER_KG_M3, MEAN_KPA = 40.0, 999.6, 100.9
AFTERNOON_H = 19
"""Hour, UTC, at which the model's level of a day holds; the round comes by then."""
EFFICIENCY = 0.05
PROFILE = """delimiter = "comma"
header_row = 3
[clock]
date = "time"
formats = ["%Y-%m-%d %H:%M:%S"]
zone = "UTC"
[[columns]]
name = "{name}"
holds = "{holds}"
unit = "kPa"
"""


class Hour(NamedTuple):
    """One row: time, pressure at the logger, temperature of the water, air pressure."""

    at: datetime
    pressure_kpa: float
    temp_c: float
    air_kpa: float


def hours(fen: FenTruth) -> list[Hour]:
    """What both instruments showed, hour by hour."""
    noise = random.Random(44)  # noqa: S311 - a demonstration, not a secret
    count = int((LAST.replace(tzinfo=UTC) - FIRST).total_seconds() // 3600) + 1
    hourly, weather = [], 0.0
    for number in range(count):
        at = FIRST + timedelta(hours=number)
        weather = 0.995 * weather + noise.gauss(0.0, 0.07)
        air = MEAN_KPA + weather + 0.06 * math.cos(2 * math.pi * (at.hour - 15) / 12)
        share = number / count
        drift_ft = 0.15 * (1 - math.exp(-4 * share))
        head_m = (HANGS_FT - _level_ft(fen, at) - drift_ft) * FOOT_M
        head_m -= EFFICIENCY * (air - MEAN_KPA) * 1000 / (WATER_KG_M3 * STANDARD_GRAVITY_M_S2)
        water = max(head_m, 0.0) * WATER_KG_M3 * STANDARD_GRAVITY_M_S2 / 1000
        lifted = at.replace(tzinfo=None) in (READ, LAST)
        pressure = air + (0.0 if lifted else water) + noise.gauss(0.0, 0.008)
        temp = 10.6 + 0.3 * math.sin(2 * math.pi * (share * count / 8766 - 0.6))
        hourly.append(Hour(at, pressure, temp, air))
    return hourly


def _level_ft(fen: FenTruth, at: datetime) -> float:
    """The model's level between one afternoon and the next."""
    since = at - timedelta(hours=AFTERNOON_H)
    day, share = since.date(), (since.hour + since.minute / 60) / 24
    after = date.fromordinal(day.toordinal() + 1)
    return fen.level_ft(WELL, day) * (1 - share) + fen.level_ft(WELL, after) * share


def logger_file(rows: list[Hour]) -> bytes:
    """A download of the logger, with the lines above and below the table that came with it."""
    lines = ["Church Nest deep", "logger LG-044, absolute", "time,pressure,temperature"]
    lines += [f"{row.at:%Y-%m-%d %H:%M:%S},{row.pressure_kpa:.3f},{row.temp_c:.2f}" for row in rows]
    return ("\r\n".join([*lines, "end of data"]) + "\r\n").encode()


def air_file(rows: list[Hour]) -> bytes:
    """The barometer's file; it missed two days in the spring of 2025."""
    lines = ["pump house", "barometer BR-002", "time,air"]
    lost = (date(2025, 4, 17), date(2025, 4, 18))
    lines += [f"{row.at:%Y-%m-%d %H:%M:%S},{row.air_kpa:.3f}" for row in rows if row.at.date() not in lost]
    return ("\r\n".join(lines) + "\r\n").encode()


def hang_logger(network: OpenNetwork, fen: FenTruth, by: Author) -> None:
    """Take in both downloads and the barometer, and treat the series."""
    rows = hours(fen)
    level = PROFILE.format(name="pressure", holds="absolute pressure")
    level += '[[columns]]\nname = "temperature"\nholds = "water temperature"\nunit = "degC"\n'
    first = [row for row in rows if row.at.replace(tzinfo=None) <= READ]
    second = [row for row in rows if row.at.replace(tzinfo=None) >= READ - timedelta(hours=5)]
    for name, part in (("church-nest-2024-11-12.csv", first), ("church-nest-2025-09-04.csv", second)):
        _take(network, WELL, LoggerFile("level", name, "", "LG-044", read_profile(level.encode()), ""), part, by)
    air = PROFILE.format(name="air", holds="air pressure")
    given = LoggerFile("air", "pump-house-2025-09-04.csv", "", "BR-002", read_profile(air.encode()), "")
    take_logger_file(network, AIR_WELL, given, air_file(rows), by)
    for why, treatment in TREATED:
        enter_fact(network, "treatment", WELL, {"series": "level", "why": why, **treatment}, by)


def _take(network: OpenNetwork, code: str, given: LoggerFile, rows: list[Hour], by: Author) -> None:
    take_logger_file(network, code, given, logger_file(rows), by)


TREATED: tuple[tuple[str, dict[str, Any]], ...] = (
    ("read in the van, out of the water", {
        "set_aside": {"start": "2024-11-12T20:30+00:00", "end": "2024-11-12T21:30+00:00", "because": "in air"}}),
    ("taken out at the end", {
        "set_aside": {"start": "2025-09-04T21:30+00:00", "end": "2025-09-04T22:30+00:00", "because": "in air"}}),
    ("the only barometer within 2 km", {"barometer": {"series": f"{AIR_WELL}/air"}}),
    ("seven tape readings; it was not handled between them", {"onto_the_tape": {"share": "in time"}}),
)  # fmt: skip
