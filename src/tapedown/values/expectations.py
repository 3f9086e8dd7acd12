"""What a well is expected to show, as the few numbers from which any day's distribution follows.

Fitted in the office from the well's history, carried in the pack, evaluated on the sheet (engine.expected).
"""

from __future__ import annotations

from typing import NamedTuple


class Neighbour(NamedTuple):
    """A well whose surprises go with those of this one.

    code      of the neighbour
    together  correlation of the two wells' surprises, shrunk towards 0 where few were seen
    within_d  days the two readings may lie apart
    pairs     readings of both within that time that it rests on
    """

    code: str
    together: float
    within_d: int
    pairs: int


class ExpectedLevel(NamedTuple):
    """The static level: a mean, the year's swing, a level that wanders, and the noise of single readings.

    on           date of the last reading it rests on, "" where nothing was read yet
    readings     days with readings it rests on
    set_aside    of them, those too far from all others to count in full
    dry          of them, those without water: the level was at least as deep as the tape reached
    centre_m     depth below land surface the middles are counted from, m
    middles_m    mean, swing (cosine and sine of the year, of the half year), level at the last reading, m: 6 numbers
    spreads_m2   their covariance, lower triangle row by row, m2: 21 numbers
    still_m2     variance of the wandering level where nothing was read, m2
    forget_d     days in which the level forgets where it was
    noise_m2     variance of a single reading about the level, m2
    dof          degrees of freedom of the whole
    neighbours   wells that sharpen it, the closest in step first
    """

    on: str
    readings: int
    set_aside: int
    dry: int
    centre_m: float
    middles_m: tuple[float, ...]
    spreads_m2: tuple[float, ...]
    still_m2: float
    forget_d: float
    noise_m2: float
    dof: float
    neighbours: tuple[Neighbour, ...] = ()


class ExpectedBottom(NamedTuple):
    """The total depth: where the bottom is, how fast it comes up, how well both are known.

    on            date of the last sounding, or of completion where nothing was sounded; "" where that is not known
    soundings     soundings it rests on, those since the last leap
    last_m        the last sounding, m below land surface
    about         day number at which depth and rate are known independently of each other
    depth_m       depth of the bottom on that day, m below land surface
    u_depth_m     its standard uncertainty, m
    rate_m_yr     how fast it comes up, m per year, >= 0
    u_rate_m_yr   standard uncertainty of that, m per year
    u_sounding_m  standard uncertainty of the next sounding itself, m
    dof           degrees of freedom
    since         why it does not rest on all soundings, in words, "" where it does
    """

    on: str
    soundings: int
    last_m: float
    about: float
    depth_m: float
    u_depth_m: float
    rate_m_yr: float
    u_rate_m_yr: float
    u_sounding_m: float
    dof: float
    since: str = ""


class Expectation(NamedTuple):
    """Of one well; None where nothing can be said."""

    level: ExpectedLevel | None
    bottom: ExpectedBottom | None
