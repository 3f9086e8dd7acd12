"""How much a person's look at a reading is worth: the chance that it is wrong, times how far that moves the record.

Our own rule, stated so that it can be argued with:

    odds of wrong  = 1 : 49, times 4 for each finding to look at, times 12 for each that stops, times 2 for a single
                     reading without a repeat
    chance         = 1 - (1 - odds/(1 + odds)) * (1 - surprise)
    worth          = chance * moves * relied * (1 + years unreviewed, 2 at most)

`surprise` is the probability of a blunder as an expectation of the well gives it, 0 where there is none. `moves` is how
far the well's record would move without the reading, at least its expanded uncertainty; `relied` is 2 for the newest
value of a well, which maps and reports show, else 1. The worth is a length: how wrong the record may be there.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.results import Finding

PRIOR_ODDS = 1 / 49
"""Odds that a reading without any sign is wrong: one in fifty; ours."""
ODDS = {"stop": 12.0, "look": 4.0, "note": 1.0}
"""What each finding multiplies the odds by; ours."""
SINGLE_ODDS, NEWEST, LONGEST_YEARS = 2.0, 2.0, 2.0


class Worth(NamedTuple):
    """The worth of a look and what it comes from.

    chance   probability that the value is wrong
    moves_m  how far the record moves without the value, m
    worth_m  what the queue is ordered by, m
    """

    chance: float
    moves_m: float
    worth_m: float


def chance_wrong(findings: Sequence[Finding], repeats: int, surprise: float = 0.0) -> float:
    """Probability that a value is wrong, from its findings, its number of repeats and how surprising it is.

    Parameters
    ----------
    findings
        What the checks found about it; each multiplies the odds by its weight's factor (`ODDS`).
    repeats
        How many readings it was made from; one alone doubles the odds.
    surprise
        Probability of a blunder as an expectation of the well gives it, 0 to 1; 0 where there is none.

    Returns
    -------
    float
        0 to 1; one in fifty without any sign.

    Raises
    ------
    ValueError
        surprise is not a probability.

    Notes
    -----
    1 - (1 - odds / (1 + odds)) (1 - surprise), the rule of this module: ours.

    Example
    -------
    >>> round(chance_wrong([], 2), 3), round(chance_wrong([], 2, surprise=0.5), 3)
    (0.02, 0.51)
    """
    if not 0 <= surprise <= 1:
        raise ValueError(f"surprise {surprise} must lie between 0 and 1")
    odds = PRIOR_ODDS * (SINGLE_ODDS if repeats == 1 else 1.0)
    for finding in findings:
        odds *= ODDS[finding.weight]
    return 1 - (1 - odds / (1 + odds)) * (1 - surprise)


def worth_of_look(
    chance: float, moves_m: float, expanded_m: float, *, newest: bool = False, unreviewed_d: float = 0.0
) -> Worth:
    """The worth of a person's look: how wrong the record may be without it.

    Parameters
    ----------
    chance
        Probability that the value is wrong, see `chance_wrong`.
    moves_m
        How far the record would move without the value, m, of either sign.
    expanded_m
        Expanded uncertainty of the value, m: the least it is taken to move.
    newest
        Whether it is the newest value of its well.
    unreviewed_d
        Days since it was entered.

    Returns
    -------
    Worth
        The chance, how far the record moves, m, and chance times move times what relies on it, m.

    Example
    -------
    >>> worth_of_look(0.5, 0.3, 0.01, newest=True).worth_m
    0.3
    """
    moves = max(abs(moves_m), expanded_m)
    years = min(max(unreviewed_d, 0.0) / 365.25, LONGEST_YEARS)
    return Worth(chance, moves, chance * moves * (NEWEST if newest else 1.0) * (1 + years))
