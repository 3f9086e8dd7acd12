"""The checks by name: what each looks for, what its findings weigh. One row a check; the docs are made from it."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.values.results import Finding


class Check(NamedTuple):
    """One check: its weight ("note", "look", "stop"), what it looks for, the quality its findings lower a value to."""

    weight: str
    looks_for: str
    quality: str = "good"


CHECKS: dict[str, Check] = {
    "repeats-disagree": Check("look", "repeats that do not agree within the network's rule", "suspect"),
    "single-reading": Check("look", "a set with one reading: nothing to agree with", "unchecked"),
    "chosen-without-reason": Check("look", "a most representative reading chosen without saying why"),
    "chosen-missing": Check("look", "a chosen repeat that is not among the readings", "suspect"),
    "cut-above-hold": Check("stop", "a cut greater than its hold: the two are likely swapped", "poor"),
    "no-weight-interval": Check(
        "stop", "a weighted tape without its weight interval: the depth stops at the tape's zero", "poor"
    ),
    "weight-interval-differs": Check("look", "a weight interval that is not the one the weight is known by", "suspect"),
    "longer-than-tape": Check("stop", "a tape value greater than the tape's length", "suspect"),
    "tape-not-corrected": Check("look", "a long tape without the figures for heat and stretch", "estimate"),
    "tape-terms-incomplete": Check(
        "look", "some tape terms could be computed but not all: none is applied", "estimate"
    ),
    "tape-temperature-unknown": Check("note", "a tape corrected for stretch and standard temperature, its own guessed"),
    "calibration-outside-limit": Check(
        "look", "a tape that differs from the reference by more than the published limit", "suspect"
    ),
    "calibration-overdue": Check("note", "gear not checked for longer than the network asks"),
    "calibration-out-of-range": Check("look", "a reading beyond the marks that were calibrated"),
    "gear-not-known": Check("look", "a serial number that is not in the record"),
    "no-measuring-point": Check("look", "no measuring point in force: depth below land surface unknown"),
    "no-land-surface": Check("note", "no elevation of land surface: water elevation unknown"),
    "datum-not-shifted": Check("look", "an elevation in another datum than the network's, without an offset"),
    "deeper-than-well": Check("look", "a depth greater than the well is recorded to be", "suspect"),
    "above-land-surface": Check("look", "water above land surface without it being said to run over"),
    "steel-tape-while-pumping": Check("look", "a steel tape lowered into a pumping well", "suspect"),
    "sounding-while-pumping": Check("stop", "a sounding in a pumping well", "poor"),
    "no-total-depth": Check("stop", "a sounding while something goes on that makes it no total depth", "poor"),
    "no-level": Check("stop", "a level read while there is none to read", "missing"),
    "dry": Check("note", "a dry well: the level is deeper than the depth reached", "missing"),
    "not-static": Check("note", "a level that is not static"),
    "made-doubtful": Check("look", "a level by a method that what goes on at the well makes doubtful", "suspect"),
    "facts-contradict": Check("look", "things said to go on at a well that cannot hold at once", "suspect"),
    "water-moving": Check("look", "water that moves, read fewer than three times or without the time between"),
    "depth-reached-missing": Check("look", "water not reached, or a tape that hung up, without how far the tape went"),
    "nothing-said": Check("look", "a visit that says neither what goes on, nor a reading, nor why there is none"),
    "asks-for": Check("note", "what goes on at a well asks for something to be done or written"),
    "gauge-outside-middle": Check("note", "a gauge read outside the middle third of its range"),
    "standpipe-too-high": Check("note", "a standpipe higher than is practical"),
    "shut-in-not-noted": Check("note", "a flowing well without its shut-in time"),
    "water-temperature-unknown": Check("note", "water density from a guessed temperature"),
    "logger-off-tape": Check("look", "a logger that differs from the tape by more than the published limit", "suspect"),
    "absolute-without-barometer": Check("stop", "an absolute logger without the air pressure", "poor"),
    "no-hanging-depth": Check(
        "stop", "a logger read without its hanging depth and without a tape: no depth to water", "poor"
    ),
    "thick-oil": Check("look", "an oil layer so thick that its relative density decides the level"),
    "bottom-unsure": Check("look", "a bottom that was not felt for sure", "suspect"),
    "density-out-of-range": Check("look", "a temperature outside the range of the density formula"),
    "units-mixed": Check("look", "repeats of one set written in different units", "suspect"),
    "time-not-known": Check("note", "a reading whose time of day is not known"),
    "time-skipped-or-twice": Check("look", "a time of day that the clock skipped or showed twice on that day"),
    "same-time-twice": Check("look", "two different readings of one well at one time"),
    "record-says-otherwise": Check("look", "a line of a table that contradicts what the record holds"),
    "not-utf-8": Check("note", "a file whose letters may have been read wrongly"),
    "screen-upside-down": Check("look", "a screen whose top lies below its bottom"),
    "screen-below-well": Check("look", "a screen deeper than the well"),
    "hole-above-well": Check("look", "a hole shallower than the finished well"),
    "elevation-impossible": Check("look", "an elevation no land on Earth has", "suspect"),
    "depth-impossible": Check("look", "a depth no well has", "suspect"),
    "point-moved": Check("look", "a measuring point whose levels from its reference mark changed"),
    "point-check-overdue": Check("note", "a measuring point not levelled for longer than the network asks"),
    "unlike-the-well": Check("look", "a reading that explanations account for better than the well's own history"),
    "point-sign-stretch": Check("look", "a stretch of a record off by twice the measuring point's height"),
    "run-in-other-unit": Check("look", "a stretch of a record that fits when its figures are in the other unit"),
    "wells-crossed": Check("look", "two wells whose readings of one day fit better when they are exchanged"),
    "placeholder-time": Check("note", "many readings at exactly noon or midnight: a time that was not known"),
    "fill-negative": Check("look", "a sounding deeper than the well was completed, beyond its uncertainty"),
    "fill-real": Check("look", "the bottom has come up by more than its uncertainty"),
    "screen-buried": Check("look", "a share of the screen buried beyond what the network tolerates"),
    "logger-clock-zone": Check("look", "a logger whose clock did not follow the zone it is said to be in"),
    "logger-lines-aside": Check("look", "lines of a logger's file that could not be read"),
    "logger-lines-unsorted": Check("note", "a logger's file whose times go back"),
    "logger-handled": Check("look", "a stretch in which a logger hung in the air or was handled"),
    "logger-units-mixed": Check("look", "a series whose numbers change by the ratio of two units"),
    "logger-downloads-overlap": Check("note", "two downloads that cover the same time"),
    "logger-same-moment": Check("note", "moments that stand in a series more than once"),
    "logger-no-check": Check("look", "a series without a check reading"),
    "logger-check-in-gap": Check("look", "a check reading at a time for which the logger has no rows"),
    "logger-drift-refused": Check("stop", "a stretch whose drift is too large against what the level did"),
    "barometer-sea-level": Check("look", "a barometer whose pressures look reduced to sea level"),
    "series-gap": Check("look", "times for which a series has no rows"),
    "series-ragged": Check("note", "a series without a usual interval"),
    "series-out-of-range": Check("look", "rows outside what is usual in a well or a month"),
    "series-spike": Check("look", "rows that stand out from their neighbours"),
    "series-rate": Check("note", "steps far beyond the usual"),
    "series-flat": Check("look", "values that do not move"),
    "series-off-neighbour": Check("look", "rows that lie off a neighbouring well"),
    "logger-out-of-water": Check("look", "an absolute or vented logger with less than no water above it"),
    "barometer-gap": Check("look", "rows of an absolute logger in a gap of its barometer"),
    "barometer-odd": Check("look", "air pressures that are none"),
}


def finding(check: str, message: str, hint: str, about: str = "") -> Finding:
    """A finding of a known check. Raises KeyError for a name that is not in CHECKS."""
    return Finding(check, CHECKS[check].weight, message, hint, about)


TIME_NOT_KNOWN = finding("time-not-known", "the time of day is not known", "matters where the level moves within a day")
"""Said of every reading that carries a date alone."""
_WORSE = ("good", "unchecked", "estimate", "suspect", "poor", "missing")


def quality_after(findings: list[Finding]) -> str:
    """The quality left after these findings: the lowest that any of them allows.

    Parameters
    ----------
    findings
        Of checks in `CHECKS`.

    Returns
    -------
    str
        "good" without any finding, else down to "missing".

    Example
    -------
    >>> quality_after([finding("single-reading", "", ""), finding("repeats-disagree", "", "")])
    'suspect'
    """
    return max((CHECKS[one.check].quality for one in findings), key=_WORSE.index, default="good")


WEIGHTS = ("stop", "look", "note")


def by_weight(findings: list[Finding]) -> tuple[Finding, ...]:
    """The findings, weightiest first, otherwise in the order they were found."""
    return tuple(sorted(findings, key=lambda found: WEIGHTS.index(found.weight)))
