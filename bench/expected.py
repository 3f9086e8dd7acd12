"""Are next readings where they were expected? Real wells, each reading foretold from those before it; and how fast.

Wells of the open network are split in two by a hash of their number. Defaults were chosen on the first half; what is
printed here is the second. Coverage and width stand beside two plain rules; intervals are from drawing whole wells
again (bootstrap), for the readings of one well are not independent.

    python -m bench.expected [SCALE]      # writes bench/expected.json at scale 1
"""

from __future__ import annotations

import csv
import hashlib
import json
import math
import os
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve
from tabulate import tabulate

from tapedown.analysis.co_moving import LEAST, WITHIN_D, Surprises, settled_surprises, together
from tapedown.analysis.expected_level import PRIORS, DailyReadings, Ratios, expected_level, fitted, record_of
from tapedown.engine.expected.next_reading import SHARE, NeighbourLevel, level_on, range_of, with_neighbours
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedLevel, Neighbour
from tapedown.values.settings import Settings
from tapedown.values.units import FOOT_M

HERE = Path(__file__).parent
SHARED = Path(os.environ.get("TAPEDOWN_SHARED", HERE.parents[1] / "shared"))
LEVELS = SHARED / "data" / "idaho-network" / "levels.csv"
STATES = ("static", "")
"""Readings that nothing disturbed, or of which nothing was noted."""
COUNTS = ((1, "1-2"), (3, "3-9"), (10, "10-49"), (50, "50 and more"))
GAPS = ((0, "up to 35 d"), (36, "36 to 120 d"), (121, "121 to 400 d"), (401, "over 400 d"))
DRAWS = 1000
MAD_TO_SIGMA = 1.4826
SEASON_D, YEAR_D = 60.0, 365.25

Range = tuple[float, float] | None
Past = list[tuple[int, float]]


class Foretold(NamedTuple):
    """One reading and where it was expected, m: by us, by us with a neighbour read just before, by two plain rules."""

    well: str
    before: int
    gap_d: int
    depth_m: float
    ours: tuple[float, float]
    near: Range
    season: Range
    steps: Range


class Told(NamedTuple):
    """A reading with its distribution, for its neighbours."""

    day: int
    depth_m: float
    expected: ExpectedLevel
    alone: Predictive


def wells(half: int) -> dict[str, Past]:
    """Day and depth, one a day (the median), of the wells whose hash falls into this half."""
    found: dict[str, dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))
    with LEVELS.open(encoding="utf-8") as lines:
        for row in csv.DictReader(lines):
            if row["status"] in STATES and half_of(row["site_no"]) == half:
                depth_m = float(row["depth_to_water_ft"]) * FOOT_M
                found[row["site_no"]][day_number(row["measured_utc"])].append(depth_m)
    return {code: [(day, median(depths)) for day, depths in sorted(days.items())] for code, days in found.items()}


def half_of(code: str) -> int:
    """0 or 1, by a hash of the well's number."""
    return hashlib.sha256(code.encode()).digest()[0] % 2


def one_by_one(readings: Past, scale: float) -> list[Told]:
    """Each reading but the first with the distribution that those before it give; of few when `scale` is small."""
    places = [i for i in range(1, len(readings)) if i < 12 or (i * 2654435761 % 1000) < 1000 * scale]
    told = []
    for i in places:
        day, depth_m = readings[i]
        expected = expected_level([d for d, _ in readings[:i]], [m for _, m in readings[:i]]).expected
        told.append(Told(day, depth_m, expected, level_on(expected, date_text(day))))
    return told


def seasonal(past: Past, day: int) -> Range:
    """Median of the same season, give or take three times the usual spread; of all readings where those are few."""
    if len(past) < 8:
        return None if len(past) < 2 else (min(m for _, m in past) - FOOT_M, max(m for _, m in past) + FOOT_M)
    apart = [(abs(day - d) % YEAR_D, m) for d, m in past]
    season = [m for away, m in apart if min(away, YEAR_D - away) <= SEASON_D]
    used = season if len(season) >= 5 else [m for _, m in past]
    middle = median(used)
    half = max(3 * MAD_TO_SIGMA * median(abs(m - middle) for m in used), 0.5 * FOOT_M)
    return middle - half, middle + half


def by_steps(past: Past, _day: int) -> Range:
    """The last reading, give or take what 95 % of this well's steps stayed within."""
    if len(past) < 2:
        return None
    steps = np.abs(np.diff([m for _, m in past]))
    half = float(np.quantile(steps, SHARE, method="higher"))
    return past[-1][1] - half, past[-1][1] + half


def with_near(told: Mapping[str, list[Told]]) -> dict[tuple[str, int], Range]:
    """Ranges sharpened by a neighbour read on the day or within WITHIN_D before, chosen by surprises until then."""
    surprises = {code: _surprises(each) for code, each in told.items()}
    found: dict[tuple[str, int], Range] = {}
    for code, each in told.items():
        for i, one in enumerate(each):
            best: tuple[float, Neighbour, Told] | None = None
            for other, theirs in told.items():
                seen = _lately(theirs, one.day) if other != code else None
                if seen is None:
                    continue
                goes, pairs = together(_until(surprises[code], one.day), _until(surprises[other], one.day - WITHIN_D))
                if goes >= LEAST and (best is None or goes > best[0]):
                    best = (goes, Neighbour(other, goes, WITHIN_D, pairs), seen)
            if best is not None:
                near = NeighbourLevel(best[1].code, date_text(best[2].day), best[2].depth_m, best[2].alone)
                level = one.expected._replace(neighbours=(best[1],))
                sharper = with_neighbours(one.alone, level, date_text(one.day), [near], Settings())
                found[code, i] = range_of(sharper)[:2]
    return found


def _surprises(each: Sequence[Told]) -> Surprises:
    errors = [(one.depth_m - one.alone.middle_m) / one.alone.scale_m for one in each]
    days = np.array([one.day for one in each], dtype=np.float64)
    return settled_surprises(Surprises(days, np.array(errors, dtype=np.float64)))


def _until(told: Surprises, day: int) -> Surprises:
    end = int(np.searchsorted(told.days, day))
    return Surprises(told.days[:end], told.errors[:end])


def _lately(theirs: Sequence[Told], day: int) -> Told | None:
    near = [one for one in theirs if day - WITHIN_D <= one.day <= day]
    return near[-1] if near else None


def foretold(scale: float, half: int = 1) -> list[Foretold]:
    """Every reading of the half that is scored, foretold four ways."""
    given = wells(half)
    told = {code: one_by_one(readings, scale) for code, readings in given.items()}
    near = with_near(told)
    rows = []
    for code, each in told.items():
        for i, one in enumerate(each):
            past = [reading for reading in given[code] if reading[0] < one.day]
            ours = range_of(one.alone)[:2]
            rows.append(Foretold(code, len(past), one.day - past[-1][0], one.depth_m, ours, near.get((code, i)),
                                 seasonal(past, one.day), by_steps(past, one.day)))  # fmt: skip
    return rows


class Score(NamedTuple):
    """Share of readings inside their range with the bootstrap's 95 % interval, and the median width, ft."""

    n: int
    wells: int
    share: float
    low: float
    high: float
    width_ft: float


def score(rows: Sequence[Foretold], way: Callable[[Foretold], Range]) -> Score | None:
    """How one way did; each well counts by the readings it has."""
    known = [(row.well, row.depth_m, found) for row in rows if (found := way(row)) is not None]
    if not known:
        return None
    inside: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for well, depth_m, (low, high) in known:
        inside[well][0] += low <= depth_m <= high
        inside[well][1] += 1
    table = np.array(list(inside.values()))
    drawn = np.random.default_rng(95).integers(0, len(table), (DRAWS, len(table)))
    shares = table[drawn, 0].sum(axis=1) / table[drawn, 1].sum(axis=1)
    low, high = (float(x) for x in np.quantile(shares, (0.025, 0.975)))
    width = median(found[1] - found[0] for _, _, found in known) / FOOT_M
    return Score(len(known), len(table), float(table[:, 0].sum()) / float(table[:, 1].sum()), low, high, width)


WAYS: dict[str, Callable[[Foretold], Range]] = {
    "ours": lambda row: row.ours,
    "median of the season, 3 MAD": lambda row: row.season,
    "last reading, 95 % of past steps": lambda row: row.steps,
}


def table(rows: Sequence[Foretold]) -> list[dict[str, Any]]:
    """Scores by readings before and by gap, each way; then ours alone and with a neighbour where there was one."""
    groups: list[tuple[str, list[Foretold]]] = [("all", list(rows))]
    groups += [(f"{name} readings before", part) for name, part in _parted(rows, COUNTS, lambda row: row.before)]
    groups += [(f"gap {name}", part) for name, part in _parted(rows, GAPS, lambda row: row.gap_d)]
    found = [_scored(group, name, part, way) for group, part in groups for name, way in WAYS.items()]
    paired = [row for row in rows if row.near is not None]
    found += [
        _scored("a neighbour read within 7 days before", "ours, alone", paired, lambda row: row.ours),
        _scored("a neighbour read within 7 days before", "ours, with it", paired, lambda row: row.near),
    ]
    return [row for row in found if row]


def _parted(
    rows: Sequence[Foretold], limits: Sequence[tuple[int, str]], of: Callable[[Foretold], int]
) -> Iterable[tuple[str, list[Foretold]]]:
    ends = [limit for limit, _ in limits[1:]] + [10**9]
    for (low, name), high in zip(limits, ends):
        yield name, [row for row in rows if low <= of(row) < high]


def _scored(group: str, name: str, rows: Sequence[Foretold], way: Callable[[Foretold], Range]) -> dict[str, Any]:
    found = score(rows, way)
    return {"readings": group, "by": name, **found._asdict()} if found else {}


def long_record(n: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Days and depths of a made-up well."""
    rng = np.random.default_rng(3000)
    days = np.sort(rng.choice(12 * n, n, replace=False)).astype(float)
    season = 0.4 * np.cos(2 * np.pi * days / YEAR_D)
    return days, 20 + np.cumsum(rng.normal(0, 0.02, n)) + season + rng.normal(0, 0.02, n)


def refit(n: int) -> list[dict[str, Any]]:
    """Time to fit a long record, beside the same likelihood by a dense Gaussian process (scipy), as often evaluated."""
    days, depths = long_record(n)
    ours_s = _best(lambda: expected_level(days.tolist(), depths.tolist()), 5)
    record, ratios, nothing = record_of(days.tolist(), depths.tolist()), Ratios(0.02, 20.0, 0.1), np.zeros(n)
    one_s = _best(lambda: fitted(record, ratios, nothing, PRIORS), 20)
    peer_s = _best(lambda: dense(record, ratios), 1)
    assert math.isclose(dense(record, ratios), _rate(record, ratios), rel_tol=1e-6)
    times = max(1.0, ours_s / one_s)
    return [
        {"name": "fit a well's expected level", "ours_s": ours_s, "peer": "dense Gaussian process by scipy, as often",
         "peer_s": peer_s * times, "ratio": peer_s * times / ours_s, "aim": "< 0.05 s for 3,000 readings", "n": n},
    ]  # fmt: skip


def _rate(record: DailyReadings, ratios: Ratios) -> float:
    fit = fitted(record, ratios, np.zeros(len(record.days)), PRIORS)
    return 2 * fit.rate - PRIORS.worth * PRIORS.drift_m**2


def dense(record: DailyReadings, ratios: Ratios) -> float:
    """Squared errors over their covariance, worked out with the whole matrix."""
    years, x, y = record.years, record.columns[:, :5], record.columns[:, 5]
    held = fitted(record, ratios, np.zeros(len(years)), PRIORS).held
    whole = ratios.forget_yr / 2 * np.exp(-np.abs(years[:, None] - years) / ratios.forget_yr)
    whole += ratios.noise * np.eye(len(years)) + (x / held) @ x.T
    factor = cho_factor(whole, lower=True, overwrite_a=True)
    return float(y @ cho_solve(factor, y))


def foretelling() -> list[dict[str, Any]]:
    """Time for one day's distribution and its range."""
    days, depths = long_record(300)
    level = expected_level(days.tolist(), depths.tolist()).expected
    count = 2000
    ours_s = _best(lambda: [range_of(level_on(level, "2026-05-14")) for _ in range(count)], 3) / count
    return [{"name": "one day's distribution and range (CPython)", "ours_s": ours_s, "peer": "", "peer_s": None,
             "ratio": None, "aim": "< 0.001 s", "n": count}]  # fmt: skip


def _best(work: Callable[[], object], times: int) -> float:
    best = math.inf
    for _ in range(times):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Speed, and coverage where the open data is there, as rows of the common table (ratio: rule's width to ours)."""
    rows = [*refit(max(100, round(3000 * scale))), *foretelling()]
    if not LEVELS.exists():
        return rows
    scores = table(foretold(scale))
    by = {(row["readings"], row["by"]): row for row in scores}
    for group in dict.fromkeys(row["readings"] for row in scores):
        ours = by.get((group, "ours"))
        if ours is None:
            continue
        peer = by.get((group, "median of the season, 3 MAD"))
        said = f"{100 * ours['share']:.1f} % ({100 * ours['low']:.1f} to {100 * ours['high']:.1f})"
        rows.append({
            "name": f"next reading in its 95 % range, {group}: {said}", "n": ours["n"], "ours_s": None, "peer_s": None,
            "peer": f"median of the season, 3 MAD: {100 * peer['share']:.1f} %" if peer else "",
            "ratio": peer["width_ft"] / ours["width_ft"] if peer else None, "aim": "93 to 97 %",
        })  # fmt: skip
    return rows


def main(scale: float) -> None:
    """Print the whole table; write it at scale 1."""
    scores = table(foretold(scale))
    print(tabulate(scores, headers="keys", floatfmt=".3f", tablefmt="github"))
    speed = [*refit(max(100, round(3000 * scale))), *foretelling()]
    print(tabulate(speed, headers="keys", floatfmt=".4g"))
    if scale == 1.0:
        (HERE / "expected.json").write_text(json.dumps({"scores": scores, "speed": speed}, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0)
