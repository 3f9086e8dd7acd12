"""The truth under Marrow Fen, and how a technician reads it.

Level below land surface, ft, t in years since 2020-01-01:

    level(t) = mean + trend t - season cos(2 pi (t - 0.25)) + w(t),    w AR(1), step 0.05 year, correlation 0.8

Wells are wettest at the end of March. The bottom comes up at a steady rate. A reading is the truth, plus what the tape
does to it, plus a normal reading error of 0.004 ft, read to a hundredth of a foot.
"""

from __future__ import annotations

import math
import random
from copy import copy
from datetime import date
from typing import NamedTuple

START = date(2020, 1, 1)
READING_ERROR_FT = 0.004
_WANDER_STEP_YR, _WANDER_CORRELATION = 0.05, 0.8


class Truth(NamedTuple):
    """What is true of one well, ft and years. bottom_ft at the start, below land surface, along the hole."""

    mean_ft: float
    season_ft: float
    trend_ft_yr: float
    wander_ft: float
    bottom_ft: float
    fill_ft_yr: float = 0.0


class FenTruth:
    """The truth of all wells from one seed; asks for a level give the same answer every time."""

    def __init__(self, seed: int, truths: dict[str, Truth]) -> None:
        self.truths = truths
        self._noise = random.Random(seed)  # noqa: S311 - a demonstration, not a secret
        self._wander = {code: self._wandering(truth) for code, truth in truths.items()}

    def _wandering(self, truth: Truth, years: float = 8.0) -> list[float]:
        path, innovation = [0.0], truth.wander_ft * math.sqrt(1 - _WANDER_CORRELATION**2)
        for _ in range(round(years / _WANDER_STEP_YR)):
            path.append(_WANDER_CORRELATION * path[-1] + self._noise.gauss(0.0, innovation))
        return path

    def read_by_others(self, seed: int) -> FenTruth:
        """The same truth read with other errors, which leave these as they are."""
        other = copy(self)
        other._noise = random.Random(seed)  # noqa: S311 - a demonstration, not a secret
        return other

    def level_ft(self, code: str, day: date) -> float:
        """Depth to water below land surface, ft; negative when the well flows."""
        truth, t = self.truths[code], years_since(day)
        place = t / _WANDER_STEP_YR
        low = math.floor(place)
        wander = self._wander[code]
        w = wander[low] + (wander[low + 1] - wander[low]) * (place - low)
        season = truth.season_ft * math.cos(2 * math.pi * (t - 0.25))
        return truth.mean_ft + truth.trend_ft_yr * t - season + w

    def bottom_ft(self, code: str, day: date) -> float:
        """Depth to the bottom below land surface, ft."""
        truth = self.truths[code]
        return truth.bottom_ft - truth.fill_ft_yr * years_since(day)

    def read(self, true_ft: float, *, error_ft: float = READING_ERROR_FT) -> str:
        """A true length as it is read: with a reading error, to a hundredth of a foot."""
        return f"{true_ft + self._noise.gauss(0.0, error_ft):.2f}"

    def between(self, low: float, high: float) -> float:
        """A number anywhere between two, for times of day and cuts."""
        return self._noise.uniform(low, high)


def years_since(day: date) -> float:
    """Years since the start of the story."""
    return (day - START).days / 365.25
