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

from tapedown.engine.checks.named import finding
from tapedown.engine.explaining.actions import ActionOutcome, best_action
from tapedown.engine.explaining.case import Candidate, Case, mean
from tapedown.engine.explaining.known import AS_EXPECTED, CHANGED, EXPLANATIONS, Explanation
from tapedown.engine.methods.registry import reduce_readings
from tapedown.engine.repeats.agreement import tolerance_m
from tapedown.engine.uncertainty.digits import percent
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.values.readings import LoggerCheck
from tapedown.values.results import BELOW_LAND, Finding
from tapedown.values.sums import added

_WORKED_ANEW = 1
"""So many of the first explanations are worked out anew from the mended readings; the others by their shift, which is
the same but for repeats that no longer agree and corrections that vary along the tape."""
REST = "anything else"
"""The explanations that are less likely than the first by more than _SEEN, together."""
_SEEN = 14.0
"""In natural logarithms: about one in a million."""
LEAST_SAID = 0.01
"""An explanation less probable than this is weighed but not named, unless it is the first; ours."""
_AS_READ = ("hold", "cut", "tape at the measuring point", "weight interval")
"""Steps that follow the reading one to one."""
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

    @property
    def wrong(self) -> float:
        """Probability of everything but "as expected" and a real change."""
        return max(0.0, 1 - added(row.probability for row in self.ranked if row.name in (AS_EXPECTED, CHANGED)))

    def first(self, count: int = 3) -> tuple[Ranked, ...]:
        """The likeliest explanations of a surprise, without "as expected" unless it is the likeliest.

        Parameters
        ----------
        count
            How many at most.

        Returns
        -------
        tuple
            The likeliest first; none less probable than `LEAST_SAID`, but at least one.
        """
        worth = [row for row in self.ranked if row.probability >= LEAST_SAID or row is self.ranked[0]]
        rest = [row for row in worth if row.name != AS_EXPECTED or row is self.ranked[0]]
        return tuple(rest[:count])


class _Weighed(NamedTuple):
    explanation: Explanation | None
    name: str
    candidate: Candidate
    log_weight: float


def explain(case: Case) -> Explained:
    """Weigh every explanation of a case.

    Nothing about the reading is changed: what comes out is told to a person.

    Parameters
    ----------
    case
        A reading set against its well.

    Returns
    -------
    Explained
        Every candidate with its probability, those beyond one in a million of the likeliest as one row `REST`, and the
        one thing to do now where the reading is surprising.

    Notes
    -----
    P(k | r) ~ chance_k / ways_k x p(mean c) x product of t2((c_i - mean c) / s) / s, as this module says at its head;
    made to sum to 1. The corrected depth of the first is worked out anew from the mended set; of the others it is the
    mean of their shifted repeats. Two blunders at once are not weighed.

    References
    ----------
    docs/methods/explained-blunders.md tells the chances, which are ours, and how well they do on real wells.

    Example
    -------
    >>> from tapedown.engine.context import ReadingContext
    >>> from tapedown.engine.explaining.case import case_of
    >>> from tapedown.values.readings import ElectricTape
    >>> from tapedown.values.wells import PointHeight
    >>> from tapedown.values.written import Written
    >>> point = PointHeight("MP-1", Written("1.50", "ft"), "above", None, False, "notch", "")
    >>> read, expected = ElectricTape((Written("25.04", "ft"),)), Predictive(22.55 * 0.3048, 0.05 * 0.3048, 5.0)
    >>> case = case_of("electric tape", read, ReadingContext(point=point), expected)
    >>> for row in explain(case).first(2):
    ...     print(row.name, in_percent(row.probability), round(row.corrected_m / 0.3048, 2))
    whole mark misread 88% 22.54
    it really changed 3% 23.54
    """
    weighed = _weighed(case)
    top = max(row.log_weight for row in weighed)
    rows = _together([row for row in weighed if row.log_weight >= top - _SEEN])
    least = [math.exp(row.log_weight - top) for row in weighed if row.log_weight < top - _SEEN]
    rows.sort(key=lambda row: -row.log_weight)
    if least:
        rows.append(
            _Weighed(None, REST, Candidate("each of them far less likely", ()), top + math.log(added(least) or 1e-300))
        )
    weights = [math.exp(row.log_weight - top) for row in rows]
    whole = added(weights)
    shares = [weight / whole for weight in weights]
    ranked = tuple(_ranked(case, row, share, place) for place, (row, share) in enumerate(zip(rows, shares)))
    fine = added(share for row, share in zip(rows, shares) if row.name == AS_EXPECTED)
    surprising = fine < case.context.settings.si("surprise_below")
    action = _action(case, rows, ranked) if surprising else ""
    return Explained(case.depth_m, case.expected.beyond(case.depth_m), surprising, ranked, action, case.expected)


def unlike_the_well(explained: Explained, case: Case) -> list[Finding]:
    """The finding of a surprising reading, naming its first explanations.

    Parameters
    ----------
    explained
        The reading as weighed.
    case
        Its case, for the network's unit.

    Returns
    -------
    list
        One finding with depth, expected range (95 %), explanations and what to do; none where nothing surprises.
    """
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

    Parameters
    ----------
    probability
        0 to 1.

    Returns
    -------
    str
        "almost certainly" from 0.95, "probably" from 0.65, "perhaps" from 0.25, else "less likely".

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

    Parameters
    ----------
    probability
        0 to 1.

    Returns
    -------
    str
        Whole per cent; ">99%" above 0.995, "<1%" below 0.005.

    Example
    -------
    >>> in_percent(0.9992), in_percent(0.634), in_percent(0.002)
    ('>99%', '63%', '<1%')
    """
    if probability > 0.995:
        return ">99%"
    return percent(probability) if probability >= 0.005 else "<1%"


def _weighed(case: Case) -> list[_Weighed]:
    settings = case.context.settings
    chances = {row.name: settings.si(row.chance) for row in EXPLANATIONS}
    chances[CHANGED] = settings.si("chance_changed")
    chances[AS_EXPECTED] = max(1 - added(chances.values()), 0.01)
    proposed: list[tuple[Explanation | None, str, Candidate]] = [
        (None, AS_EXPECTED, Candidate("nothing is wrong", case.depths_m)),
        (None, CHANGED, _changed(case)),
    ]
    for row in EXPLANATIONS:
        if chances[row.name] > 0:
            proposed += [(row, row.name, candidate) for candidate in row.propose(case)]
    densities = _log_densities(case, [candidate for _, _, candidate in proposed])
    rows = []
    for place, density in enumerate(densities):
        explanation, name, candidate = proposed[place]
        if chances[name] > 0:
            weight = math.log(chances[name] / candidate.ways) + density
            rows.append(_Weighed(explanation, name, candidate, weight))
    return rows


def _together(weighed: list[_Weighed]) -> list[_Weighed]:
    """Slips of one name that lead to the same depths are one: a foot more held is a foot less cut."""
    by_depths: dict[tuple[str, str], _Weighed] = {}
    for row in weighed:
        depths = row.candidate.corrected_m
        key = (row.name, " ".join([str(int(d * 1e4 + 0.5)) for d in depths]) if depths else row.candidate.told())
        before = by_depths.get(key)
        if before is not None:
            less, more = sorted((before, row), key=lambda one: one.log_weight)
            both = more.log_weight + math.log1p(math.exp(less.log_weight - more.log_weight))
            row = more._replace(log_weight=both)
        by_depths[key] = row
    return list(by_depths.values())


def _changed(case: Case) -> Candidate:
    settings, expected = case.context.settings, case.expected
    scale_m = max(expected.scale_m * settings.si("change_times"), settings.si("change_least"))
    density = Predictive(expected.middle_m, scale_m, 2.0).log_density(mean(case.depths_m))
    return Candidate("the well itself is different now", case.depths_m, 1.0, density)


def _log_densities(case: Case, candidates: Sequence[Candidate]) -> list[float]:
    """Of the set as written, under each candidate; one pass, for the sheet has many and little time."""
    all_depths = [candidate.corrected_m or case.depths_m for candidate in candidates]
    middles = [mean(depths) for depths in all_depths]
    log_densities = [
        plain if candidate.log_density is None else candidate.log_density
        for candidate, plain in zip(candidates, case.expected.log_densities(middles))
    ]
    if len(case.depths_m) > 1:
        log_densities = [f + s for f, s in zip(log_densities, _log_spreads(case, candidates, all_depths, middles))]
    beside = _log_beside_tape(case)
    return [f if candidate.tells_of_tape else f + beside for f, candidate in zip(log_densities, candidates)]


def _log_spreads(
    case: Case, candidates: Sequence[Candidate], all_depths: Sequence[Sequence[float]], middles: Sequence[float]
) -> list[float]:
    count, usual = len(case.depths_m), Predictive(0.0, case.spread_m, 2.0)
    off = [depth - middle for depths, middle in zip(all_depths, middles) for depth in depths]
    each = usual.log_densities(off)
    return [
        added(each[place * count : (place + 1) * count])
        if candidate.spread_times == 1
        else added(
            usual._replace(scale_m=usual.scale_m * candidate.spread_times).log_densities(
                off[place * count : (place + 1) * count]
            )
        )
        for place, candidate in enumerate(candidates)
    ]


def _log_beside_tape(case: Case) -> float:
    """How well a logger lies beside the tape that was read with it, where the value is the logger's."""
    read = case.read
    if not isinstance(read, LoggerCheck) or read.hanging_depth is None or read.taped_depth is None:
        return 0.0
    off_m = read.taped_depth.si - float(case.value.stages[0].result.value_m)
    return Predictive(0.0, _BESIDE_TAPE * case.spread_m, 2.0).log_density(off_m)


def _ranked(case: Case, row: _Weighed, share: float, place: int) -> Ranked:
    candidate = row.candidate
    corrected = mean(candidate.corrected_m) if candidate.corrected_m else None
    if candidate.mend is not None and place < _WORKED_ANEW and not _only_shifts(case, candidate):
        mended = candidate.mend()
        main = reduce_readings(case.method, mended.read, mended.context).result(BELOW_LAND)
        corrected = float(main.value_m) if main is not None else corrected
    return Ranked(row.name, share, corrected, candidate.told())


def _only_shifts(case: Case, candidate: Candidate) -> bool:
    """Whether mending moves the value by just so much: the repeats agree then, nothing varies along the tape."""
    depths, settings = candidate.corrected_m, case.context.settings
    along = added(abs(step.amount_m) for step in case.value.stages[0].steps if step.what not in _AS_READ)
    return along == 0 and max(depths) - min(depths) <= tolerance_m(case.depth_m, settings)


def _action(case: Case, rows: Sequence[_Weighed], ranked: Sequence[Ranked]) -> str:
    outcomes = [
        ActionOutcome(one.probability, one.corrected_m, row.explanation.shows if row.explanation else {})
        for row, one in zip(rows, ranked)
    ]
    return best_action(outcomes[0], outcomes[1], tolerance_m(case.depth_m, case.context.settings))
