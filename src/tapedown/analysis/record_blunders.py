"""Blunders that show only over a whole record: a sign reversed for a stretch, readings crossed, another unit, noon.

Each is weighed against "it is as written": odds = chance / (1 - chance) times how much better the blunder explains the
numbers (Student's t with 4 degrees of freedom about what the readings before and after foretell).

References
----------
docs/methods/explained-blunders.md. Chances are ours.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom, t

from tapedown.engine.well.fill import YEAR_D
from tapedown.values.units import FOOT_M

Array = NDArray[np.float64]
CHANCE = 0.01
"""Chance of each blunder in a record, before it is looked at; ours."""
LIKELY = 0.9
"""A blunder less probable than this is not told; ours."""
FEWEST = 6
"""Readings a record needs before its usual steps are known."""
LEAST_M = 0.02
"""No record is steadier than this."""
TAILS = 4.0
PLACEHOLDERS = ("12:00", "00:00")
USUAL_SHARE = 0.02
"""Share of readings that fall on one minute of the day where times are real; ours."""


class Read(NamedTuple):
    """One level of a record: day number, depth below land surface and height of the measuring point then, m."""

    day: int
    depth_m: float
    height_m: float


class RecordBlunder(NamedTuple):
    """What a record may hide.

    name         as in engine.checks.named
    first, last  day numbers
    size_m       how far it moves the readings, m; 0.0 where nothing is moved
    probability  against "it is as written"
    words        with the numbers
    do           what to do
    """

    name: str
    first: int
    last: int
    size_m: float
    probability: float
    words: str
    do: str


def sign_reversed(reads: Sequence[Read]) -> RecordBlunder | None:
    """A stretch shifted by twice the height of its measuring point: it was taken off where it should be added.

    Parameters
    ----------
    reads
        A record in the order of time; below `FEWEST` readings nothing is found.

    Returns
    -------
    RecordBlunder or None
        The likeliest stretch; None where none is more probable than `LIKELY`.

    Notes
    -----
    A stretch counts by the steps into and out of it, the season taken off: Student's t with 4 degrees of freedom about
    the usual step. It must lie off the readings around it by about its shift, and that by more than five usual steps.
    One that begins with the record is not seen.

    Example
    -------
    >>> reads = [Read(91 * n, 6.2 if 8 <= n < 16 else 5.0, 0.6) for n in range(24)]
    >>> found = sign_reversed(reads)
    >>> found.words, round(found.size_m, 2)
    ("readings 9 to 16 lie 3.94 ft off, twice the measuring point's height", 1.2)
    """
    both = [_longest_shift(reads, [sign * 2 * read.height_m for read in reads]) for sign in (-1, 1)]
    likeliest = max((one for one in both if one is not None), key=lambda one: one[3], default=None)
    if likeliest is None:
        return None
    first, last, size_m, probability = likeliest
    words = (
        f"readings {first + 1} to {last + 1} lie {abs(size_m) / FOOT_M:.2f} ft off, twice the measuring point's height"
    )
    return RecordBlunder("point-sign-stretch", reads[first].day, reads[last].day, size_m, probability, words,
                         "measure the stick-up; look whether the height was added or taken off then")  # fmt: skip


def other_unit(reads: Sequence[Read]) -> RecordBlunder | None:
    """A stretch that fits when its figures are taken for metres, or for feet.

    Parameters
    ----------
    reads
        A record in the order of time; below `FEWEST` readings nothing is found.

    Returns
    -------
    RecordBlunder or None
        The likeliest stretch; None where none is more probable than `LIKELY`.

    Notes
    -----
    The figure is the depth below the measuring point; how a stretch is found stands with `sign_reversed`.

    Example
    -------
    >>> reads = [Read(91 * n, 5.6 / FOOT_M - 0.6 if 8 <= n < 16 else 5.0, 0.6) for n in range(24)]
    >>> other_unit(reads).words
    'readings 9 to 16 fit the record when their figures are taken for feet'
    """
    ways = {"metres": 1 / FOOT_M, "feet": FOOT_M}
    runs = {}
    for word, factor in ways.items():
        moved = [(read.depth_m + read.height_m) * (factor - 1) for read in reads]
        run = _longest_shift(reads, [-by for by in moved])
        if run is not None:
            runs[word] = run
    if not runs:
        return None
    word = max(runs, key=lambda one: runs[one][3])
    first, last, size_m, probability = runs[word]
    words = f"readings {first + 1} to {last + 1} fit the record when their figures are taken for {word}"
    return RecordBlunder("run-in-other-unit", reads[first].day, reads[last].day, size_m, probability, words,
                         "look at the paper: in which unit was that tape marked?")  # fmt: skip


def crossed(wells: Mapping[str, Sequence[Read]]) -> list[tuple[str, str, RecordBlunder]]:
    """Pairs of wells whose readings of one day fit better when they are exchanged.

    Parameters
    ----------
    wells
        Records in the order of time, by code of the well, at most one reading a day in each.

    Returns
    -------
    list
        Code of the one, code of the other, and the blunder, whose size is what it adds to the first; in the order of
        days.

    Notes
    -----
    A reading is foretold by the median of the three before and the three after it. Only readings more than five usual
    errors off are tried, in pairs of one day; each is carried over as a depth below the measuring point.

    Example
    -------
    >>> one = [Read(30 * n, 9.1 if n == 4 else 5.0, 0.5) for n in range(9)]
    >>> other = [Read(30 * n, 4.9 if n == 4 else 9.0, 0.6) for n in range(9)]
    >>> [(a, b, found.first, round(found.size_m, 2)) for a, b, found in crossed({"MF-01": one, "MF-02": other})]
    [('MF-01', 'MF-02', 120, -4.1)]
    """
    days: dict[int, dict[str, int]] = {}
    for code, reads in wells.items():
        for place, read in enumerate(reads):
            days.setdefault(read.day, {})[code] = place
    by_others = {code: _foretold(np.array([read.depth_m for read in reads])) for code, reads in wells.items()}
    swaps = []
    for day, places in sorted(days.items()):
        odd = [code for code, place in places.items() if by_others[code].far(place)]
        for a, b in combinations(sorted(odd), 2):
            one, two = wells[a][places[a]], wells[b][places[b]]
            exchanged = (two.depth_m + two.height_m - one.height_m, one.depth_m + one.height_m - two.height_m)
            gain = by_others[a].gain(places[a], exchanged[0]) + by_others[b].gain(places[b], exchanged[1])
            probability = _probability(gain, CHANCE / len(days))
            if probability >= LIKELY:
                words = f"the readings of {a} and {b} fit both wells when they are exchanged"
                swaps.append((a, b, RecordBlunder("wells-crossed", day, day, exchanged[0] - one.depth_m, probability,
                                                  words, "look at the paper and the photos of that day")))  # fmt: skip
    return swaps


def placeholder_time(times: Sequence[str]) -> tuple[str, int, float] | None:
    """A time of day that stands for "not known".

    Parameters
    ----------
    times
        As entries carry them, with offset or not; dates alone are left out.

    Returns
    -------
    tuple or None
        The minute, how many readings carry it, and the probability; None where neither noon nor midnight stands out, or
        there are fewer than `FEWEST` times.

    Notes
    -----
    Weighed by the binomial probability of at least so many where times are real: `USUAL_SHARE` of them fall on one such
    minute (ours). Three readings are the least that is told.

    Example
    -------
    >>> minute, count, _ = placeholder_time(["2026-05-14T12:00"] * 5 + ["2026-05-15T09:23", "2026-06-01"])
    >>> minute, count
    ('12:00', 5)
    """
    minutes = [time[11:16] for time in times if len(time) >= 16]
    counted = Counter(minute for minute in minutes if minute in PLACEHOLDERS)
    if len(minutes) < FEWEST or not counted:
        return None
    minute, count = counted.most_common(1)[0]
    gain = -float(binom.logsf(count - 1, len(minutes), USUAL_SHARE))
    probability = _probability(gain, CHANCE)
    return (minute, count, probability) if count >= 3 and probability >= LIKELY else None


class _Foretold(NamedTuple):
    """What the readings around each foretell of it, and how far such forecasts err."""

    depths_m: Array
    middle_m: Array
    scale_m: float

    def far(self, place: int) -> bool:
        """Whether a reading lies so far off that another might fit better."""
        return bool(abs(self.depths_m[place] - self.middle_m[place]) > 5 * self.scale_m)

    def gain(self, place: int, depth_m: float) -> float:
        """How much better another depth fits there, in natural logarithms."""
        fits = t.logpdf((np.array([depth_m, self.depths_m[place]]) - self.middle_m[place]) / self.scale_m, TAILS)
        return float(fits[0] - fits[1])


def _foretold(depths_m: Array) -> _Foretold:
    """From the median of the five nearest readings, the reading itself left out."""
    middle = np.array([float(np.median(_around(depths_m, place))) for place in range(len(depths_m))])
    scale = 1.4826 * float(np.median(np.abs(depths_m - middle))) if len(depths_m) else LEAST_M
    return _Foretold(depths_m, middle, max(scale, LEAST_M))


def _around(depths_m: Array, place: int) -> Array:
    first = max(0, place - 3)
    near = np.concatenate([depths_m[first:place], depths_m[place + 1 : place + 4]])
    return near if len(near) else depths_m


def _longest_shift(reads: Sequence[Read], shifts_m: Sequence[float]) -> tuple[int, int, float, float] | None:
    """First and last place, size and probability of the stretch that begins and ends with a step of its shift.

    A stretch that runs to the end of the record needs no second step; its middle must lie off those around it.
    """
    if len(reads) < FEWEST:
        return None
    days, shifts = np.array([read.day for read in reads]), np.array(shifts_m)
    depths = _without_season(days, np.array([read.depth_m for read in reads]))
    steps = np.diff(depths)
    scale = max(1.4826 * float(np.median(np.abs(steps - np.median(steps)))), LEAST_M)
    plain = t.logpdf(steps / scale, TAILS)
    into = t.logpdf((steps - shifts[1:]) / scale, TAILS) - plain
    out = np.append(t.logpdf((steps + shifts[:-1]) / scale, TAILS) - plain, 0.0)
    ends = _best_from(out)  # the best end of a stretch that begins at each reading; one reading alone is no stretch
    first = int(np.argmax(into[:-1] + out[ends[2:]])) + 1
    last = int(ends[first + 1])
    gain = float(into[first - 1] + out[last])
    probability = _probability(gain, CHANCE / len(reads))
    moved = float(np.mean(shifts[first : last + 1]))
    outside = np.concatenate([depths[max(0, first - 5) : first], depths[last + 1 : last + 6]])
    stays = float(np.median(depths[first : last + 1])) - float(np.median(outside))
    likely = probability >= LIKELY and abs(moved) > 5 * scale and abs(stays - moved) < abs(moved) / 3
    return (first, last, moved, probability) if likely else None


def _without_season(days: NDArray[np.int64], depths_m: Array) -> Array:
    """Depths less what each quarter of the year usually adds to the readings around it."""
    off = depths_m - np.array([float(np.median(_around(depths_m, place))) for place in range(len(depths_m))])
    quarter = (days % YEAR_D // (YEAR_D / 4)).astype(int)
    usual = np.array([float(np.median(off[quarter == q])) if np.sum(quarter == q) >= 3 else 0.0 for q in range(4)])
    return np.asarray(depths_m - usual[quarter])


def _best_from(gains: Array) -> NDArray[np.int64]:
    """For each place the place of the largest gain there or later."""
    places, best = np.empty(len(gains), dtype=np.int64), len(gains) - 1
    for place in range(len(gains) - 1, -1, -1):
        best = place if gains[place] > gains[best] else best
        places[place] = best
    return places


def _probability(gain: float, chance: float) -> float:
    """Of a blunder that explains the numbers better by `gain` (natural logarithm)."""
    odds = math.log(chance / (1 - chance)) + gain
    return 1 / (1 + math.exp(-max(min(odds, 700.0), -700.0)))
