"""Weigh the explanations of a reading: prior chance times how well each explains the numbers, made to sum to one.

With the true depth x drawn from what is expected, repeats scattered about it, and c_i the repeats without the blunder:

    p(explanation | numbers)  ~  chance / ways  x  p(mean c)  x  product of t2((c_i - mean c) / s) / s

p is the predictive density, or the explanation's own where the size of its fault is free; s is the spread that the
rule for repeats lets expect, with heavy tails (Student's t, 2 degrees of freedom). "It really changed" is a Student t
of 2 degrees of freedom, `change_times` as wide as what is expected and at least `change_least`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.agreement import tolerance_m
from tapedown.engine.checks import finding
from tapedown.engine.digits import percent
from tapedown.engine.explaining.actions import Told, best_action
from tapedown.engine.explaining.case import Candidate, Case, mean
from tapedown.engine.explaining.known import AS_EXPECTED, CHANGED, EXPLANATIONS, Explanation
from tapedown.engine.methods import reduce_readings
from tapedown.engine.predictive import Predictive
from tapedown.values.readings import LoggerCheck
from tapedown.values.results import BELOW_LAND, Finding

_WORKED_ANEW = 3
"""So many of the first explanations are worked out anew from the mended readings; the others by their shift."""
LEAST_SAID = 0.01
"""An explanation less probable than this is weighed but not named, unless it is the first; ours."""
_BESIDE_TAPE = 5.0
"""A logger lies within the tape by so many times the spread of repeats; ours."""


class Ranked(NamedTuple):
    """One explanation with its probability.

    name         of the explanation
    probability  of this one among all that were weighed
    corrected_m  depth below land surface without the fault, m; None when this well was not read
    words        what would have happened, one sentence with the numbers
    """

    name: str
    probability: float
    corrected_m: float | None
    words: str


class Explained(NamedTuple):
    """A reading weighed against its well; nothing about the reading is changed.

    depth_m      as written, below land surface, m
    surprise     probability of a reading at least as far from what was expected, if nothing is wrong
    surprising   whether a person should look: "as expected" has too small a probability
    ranked       every candidate weighed, the likeliest first; the probabilities sum to 1
    action       the one thing to do now, "" when nothing needs to be done
    expected     what the well was expected to show
    """

    depth_m: float
    surprise: float
    surprising: bool
    ranked: tuple[Ranked, ...]
    action: str
    expected: Predictive

    @property
    def verdict(self) -> str:
        """In a few words."""
        return f"unlike the well: {self.ranked[0].name}?" if self.surprising else "as the well is expected to show"

    def first(self, count: int = 3) -> tuple[Ranked, ...]:
        """The likeliest explanations of a surprise, without "as expected" unless it is the likeliest."""
        worth = [row for row in self.ranked if row.probability >= LEAST_SAID or row is self.ranked[0]]
        rest = [row for row in worth if row.name != AS_EXPECTED or row is self.ranked[0]]
        return tuple(rest[:count])


class _Weighed(NamedTuple):
    explanation: Explanation | None
    name: str
    candidate: Candidate
    log_weight: float


def explain(case: Case) -> Explained:
    """Weigh every explanation of a case."""
    weighed = _together(_weighed(case))
    top = max(row.log_weight for row in weighed)
    weights = [math.exp(row.log_weight - top) for row in weighed]
    total = sum(weights)
    pairs = sorted(zip(weights, weighed), key=lambda pair: -pair[0])
    shares = [weight / total for weight, _ in pairs]
    rows = [row for _, row in pairs]
    ranked = tuple(_ranked(case, row, share, place) for place, (row, share) in enumerate(zip(rows, shares)))
    fine = sum(share for row, share in zip(rows, shares) if row.name == AS_EXPECTED)
    surprising = fine < case.scene.settings.si("surprise_below")
    action = _action(case, rows, ranked) if surprising else ""
    return Explained(case.depth_m, case.expected.beyond(case.depth_m), surprising, ranked, action, case.expected)


def unlike_the_well(explained: Explained, case: Case) -> list[Finding]:
    """The finding of a surprising reading, naming its first explanations."""
    if not explained.surprising:
        return []
    say, expected = case.say, explained.expected
    half = expected.half_width_m(0.95)
    listed = "; ".join(f"{row.name} ({in_percent(row.probability)})" for row in explained.first())
    return [
        finding(
            "unlike-the-well",
            f"{say(explained.depth_m)} below land surface; {say(expected.middle_m - half)} to "
            f"{say(expected.middle_m + half)} was expected. {listed}",
            explained.action,
        )
    ]


def how_likely(probability: float) -> str:
    """A probability as a word.

    Example
    -------
    >>> how_likely(0.96), how_likely(0.75), how_likely(0.4), how_likely(0.1)
    ('almost certainly', 'probably', 'perhaps', 'less likely')
    """
    for least, word in ((0.95, "almost certainly"), (0.65, "probably"), (0.25, "perhaps")):
        if probability >= least:
            return word
    return "less likely"


def in_percent(probability: float) -> str:
    """A probability in per cent, never quite nothing or all.

    Example
    -------
    >>> in_percent(0.9992), in_percent(0.634), in_percent(0.002)
    ('>99%', '63%', '<1%')
    """
    if probability > 0.995:
        return ">99%"
    return percent(probability) if probability >= 0.005 else "<1%"


def _weighed(case: Case) -> list[_Weighed]:
    settings = case.scene.settings
    spread_m = case.spread_m
    chances = {row.name: settings.si(row.chance) for row in EXPLANATIONS}
    chances[CHANGED] = settings.si("chance_changed")
    chances[AS_EXPECTED] = max(1 - sum(chances.values()), 0.01)
    as_written = Candidate("nothing is wrong", case.depths_m)
    changed = _changed(case)
    proposed = [(None, AS_EXPECTED, as_written), (None, CHANGED, changed)]
    for row in EXPLANATIONS:
        proposed += [(row, row.name, candidate) for candidate in row.propose(case) if chances[row.name] > 0]  # type: ignore[misc]
    return [
        _Weighed(
            row, name, candidate, math.log(chances[name] / candidate.ways) + _log_density(case, candidate, spread_m)
        )
        for row, name, candidate in proposed
        if chances[name] > 0
    ]


def _together(weighed: list[_Weighed]) -> list[_Weighed]:
    """Slips of one name that lead to the same depths are one: a foot more held is a foot less cut."""
    found: dict[tuple[str, str], _Weighed] = {}
    for row in weighed:
        depths = row.candidate.corrected_m
        key = (row.name, " ".join([str(int(d * 1e4 + 0.5)) for d in depths]) if depths else row.candidate.words)
        before = found.get(key)
        if before is not None:
            less, more = sorted((before, row), key=lambda one: one.log_weight)
            both = more.log_weight + math.log1p(math.exp(less.log_weight - more.log_weight))
            row = more._replace(log_weight=both)
        found[key] = row
    return list(found.values())


def _changed(case: Case) -> Candidate:
    settings, expected = case.scene.settings, case.expected
    scale_m = max(expected.scale_m * settings.si("change_times"), settings.si("change_least"))
    density = Predictive(expected.middle_m, scale_m, 2.0).log_density(mean(case.depths_m))
    return Candidate("the well itself is different now", case.depths_m, 1.0, density)


def _log_density(case: Case, candidate: Candidate, spread_m: float) -> float:
    depths = candidate.corrected_m or case.depths_m
    found = candidate.log_density
    if found is None:
        found = case.expected.log_density(mean(depths))
    if len(depths) > 1:
        found += _log_spread(depths, spread_m * candidate.spread_times)
    return found + (0.0 if candidate.tells_of_tape else _log_beside_tape(case, spread_m))


def _log_spread(depths_m: Sequence[float], spread_m: float) -> float:
    middle, around = mean(depths_m), Predictive(0.0, spread_m, 2.0)
    return sum(around.log_density(depth - middle) for depth in depths_m)


def _log_beside_tape(case: Case, spread_m: float) -> float:
    """How well a logger lies beside the tape that was read with it, where the value is the logger's."""
    read = case.read
    if not isinstance(read, LoggerCheck) or read.hanging_depth is None or read.taped_depth is None:
        return 0.0
    off_m = read.taped_depth.si - float(case.value.stages[0].result.value_m)
    return Predictive(0.0, _BESIDE_TAPE * spread_m, 2.0).log_density(off_m)


def _ranked(case: Case, row: _Weighed, share: float, place: int) -> Ranked:
    candidate = row.candidate
    corrected = mean(candidate.corrected_m) if candidate.corrected_m else None
    if candidate.mend is not None and place < _WORKED_ANEW:
        mended = candidate.mend()
        main = reduce_readings(case.method, mended.read, mended.scene).result(BELOW_LAND)
        corrected = float(main.value_m) if main is not None else corrected
    return Ranked(row.name, share, corrected, candidate.words)


def _action(case: Case, rows: Sequence[_Weighed], ranked: Sequence[Ranked]) -> str:
    told = [
        Told(found.probability, found.corrected_m, row.explanation.shows if row.explanation else {})
        for row, found in zip(rows, ranked)
    ]
    return best_action(told[0], told[1], tolerance_m(case.depth_m, case.scene.settings))
