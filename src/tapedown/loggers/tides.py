"""Lines of the earth tide in a level: how large, and when they peak.

O1 and M2 are clean: the moon alone makes them. S2, K1 and P1 are mixed with what sun and weather do every day.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tapedown.loggers.epoch import Array

CYCLES_PER_DAY = {
    "M2": 1.9322736,
    "S2": 2.0,
    "N2": 1.8959820,
    "O1": 0.9295357,
    "K1": 1.0027379,
    "P1": 0.9972621,
}
"""Constituents; a table of a general-purpose tidal library (read), reproduced from mean rates."""


class TideLine(NamedTuple):
    """One line: amplitude, the phase of its peak after the start of 1970 (UTC), the amplitude's uncertainty."""

    name: str
    amplitude_m: float
    phase_deg: float
    u_amplitude_m: float


def tide_lines(at_s: Array, level_m: Array, names: tuple[str, ...] = ("M2", "O1")) -> tuple[TideLine, ...]:
    """Amplitude and phase of the lines by least squares, together with a mean and a straight trend.

    Parameters
    ----------
    at_s
        Times in order, s since 1970, shape (n,).
    level_m
        Level, m, positive up, shape (n,); rows with NaN are left out.
    names
        Lines, keys of `CYCLES_PER_DAY`.

    Returns
    -------
    tuple
        One line a name: amplitude and its standard uncertainty, m, and the phase of its peak, 0 to 360 degrees.

    Raises
    ------
    ValueError
        The record is too short for these lines: less than one cycle between the two closest, or too few values.

    Notes
    -----
    level = a + b t + sum of A_k cos(2 pi f_k t - phase_k). The uncertainty takes what is left over for independent from
    row to row, which a well's level is not: it is too small then.

    Example
    -------
    >>> t = np.arange(0, 60 * 86400, 3600.0)
    >>> [line] = tide_lines(t, 0.01 * np.cos(2 * np.pi * 1.9322736 * t / 86400 - 0.5), ("M2",))
    >>> round(line.amplitude_m, 6), round(line.phase_deg, 3)
    (0.01, 28.648)
    """
    whole = np.isfinite(level_m)
    days, level = at_s[whole] / 86400, level_m[whole]
    rates = [CYCLES_PER_DAY[name] for name in names]
    closest = min((abs(a - b) for i, a in enumerate(rates) for b in rates[:i]), default=min(rates))
    if len(days) < 2 * len(names) + 3 or (days[-1] - days[0]) * closest < 1:
        raise ValueError(
            f"{len(days)} values over {np.ptp(days) if len(days) else 0:.1f} d cannot tell {', '.join(names)} apart"
        )
    turns = [2 * np.pi * rate * days for rate in rates]
    design = np.column_stack(
        [*(part for turn in turns for part in (np.cos(turn), np.sin(turn))), np.ones(len(days)), days - days.mean()]
    )
    fit = np.linalg.lstsq(design, level, rcond=None)[0]
    rest = level - design @ fit
    u = np.sqrt(np.diag(np.linalg.pinv(design.T @ design)) * (rest @ rest) / (len(days) - design.shape[1]))
    return tuple(
        TideLine(
            name,
            float(np.hypot(fit[2 * k], fit[2 * k + 1])),
            float(np.degrees(np.arctan2(fit[2 * k + 1], fit[2 * k]))) % 360,
            float(np.hypot(u[2 * k], u[2 * k + 1]) / np.sqrt(2)),
        )
        for k, name in enumerate(names)
    )
