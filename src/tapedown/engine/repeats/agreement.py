"""Do the repeats agree, which of them count, and how far is their mean to be trusted?

References
----------
Two water-level readings within 0.02 ft: USGS TM 1-A1 GWPD 1 step 9 and USGS TWRI 9-A4 A4-B-3(a). "Two consistent
readings" of a bottom: GWPD 11, which gives no figure. Deeper than 200 ft no figure was found: a share of depth, ours.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.uncertainty.budget import half_width
from tapedown.engine.uncertainty.digits import spoken
from tapedown.values.results import Finding, Part
from tapedown.values.seen import spoken_hours
from tapedown.values.settings import Settings
from tapedown.values.sums import added

_PAIR_95 = 1.96 * math.sqrt(2)  # 95 % limit of the difference of two readings, in standard deviations of one


class Agreement(NamedTuple):
    """What the repeats say.

    used       places (from 0) of the readings that make the value
    part       repeatability of their mean
    sentence   the outcome in words
    agreed     whether the rule is met
    findings   what a person should see
    """

    used: tuple[int, ...]
    part: Part
    sentence: str
    agreed: bool
    findings: tuple[Finding, ...]


def tolerance_m(depth_m: float, settings: Settings) -> float:
    """How far two tape repeats at this depth may differ.

    Parameters
    ----------
    depth_m
        Depth of the readings, m, of either sign.
    settings
        The network's: what is allowed, to which depth, and the share of depth beyond it.

    Returns
    -------
    float
        Largest difference that still agrees, m.

    Example
    -------
    >>> round(tolerance_m(30.0, Settings()) / 0.3048, 4), round(tolerance_m(152.4, Settings()) / 0.3048, 4)
    (0.02, 0.05)
    """
    within = settings.si("agree_within")
    beyond = max(0.0, abs(depth_m) - settings.si("agree_to_depth"))
    return within + beyond * settings.si("agree_share_beyond")


def followed(
    repeats_m: Sequence[float], tolerance_m: float, settings: Settings, *, hours_apart: float | None = None
) -> Agreement:
    """Readings of water that moves: no two are of the same level, so they are not held to agree; the last one counts.

    Parameters
    ----------
    repeats_m
        Depths, m, in the order read, at least two.
    tolerance_m
        What repeats of water at rest would be allowed to differ by, m: the reading's own repeatability.
    settings
        The network's: its unit, and how many degrees of freedom the tolerance counts for.
    hours_apart
        Time from one reading to the next, h; None when it was not written.

    Returns
    -------
    Agreement
        The last reading alone, agreed, without findings.

    Example
    -------
    >>> outcome = followed([25.00, 25.03, 25.06], 0.006, Settings())
    >>> outcome.used, outcome.sentence
    ((2,), '3 readings of water that moves: 0.197 ft in all; reading 3, the last, used')
    """
    last = len(repeats_m) - 1
    moved = spoken(abs(repeats_m[last] - repeats_m[0]), settings)
    times = "" if hours_apart is None else f" {spoken_hours(hours_apart)} apart"
    sentence = (
        f"{len(repeats_m)} readings{times} of water that moves: {moved} in all; reading {last + 1}, the last, used"
    )
    return Agreement((last,), _repeatability([repeats_m[last]], tolerance_m, settings), sentence, True, ())


def agree(
    repeats_m: Sequence[float], tolerance_m: float, settings: Settings, *, chosen: int | None = None, why: str = ""
) -> Agreement:
    """Apply the network's rule to the repeats.

    The repeatability is pooled (GUM 4.2.4): what the tolerance lets expect, with `repeat_dof` degrees of freedom, and
    what these repeats show. Two lucky equal readings so do not count as perfect, nor does a pair alone (1 degree of
    freedom) blow the interval up.

    Parameters
    ----------
    repeats_m
        What was read, m, in the order read, at least one.
    tolerance_m
        Largest difference that still agrees, m.
    settings
        The network's: which pairs may agree, and which readings then make the value.
    chosen
        Place (from 0) of the most representative reading, when a person chose one.
    why
        The reason given for it.

    Returns
    -------
    Agreement
        Which readings count, how repeatable their mean is, m, and findings about what disagrees or is lacking.

    Notes
    -----
    u = sqrt((nu e^2 + sum (r - mean)^2) / (nu + n - 1) / n), e the tolerance over 1.96 sqrt 2, nu `repeat_dof`, n the
    readings used. Readings that do not agree are no sample of one spread: half their range counts as a half-width
    instead.

    Example
    -------
    >>> foot = 0.3048
    >>> found = agree([13.71 * foot, 13.75 * foot, 13.72 * foot], 0.02 * foot, Settings())
    >>> found.agreed, found.used
    (False, (0, 1, 2))
    """
    findings: list[Finding] = []
    if chosen is not None and not 0 <= chosen < len(repeats_m):
        findings.append(_chosen_missing(chosen, len(repeats_m)))
        chosen = None
    pair = _agreeing_pair(repeats_m, tolerance_m, settings.text("agree_rule"))
    used = _used(repeats_m, tolerance_m, pair, settings.text("report_rule"), chosen)
    if chosen is not None and not why:
        findings.append(
            finding("chosen-without-reason", f"repeat {chosen + 1} was chosen without a reason", "say why that one")
        )
    if len(repeats_m) == 1:
        findings.append(finding("single-reading", "only one reading was taken", "take one more"))
    elif pair is None:
        findings.append(_disagree(repeats_m, tolerance_m, settings))
    values = [repeats_m[i] for i in used]
    agreed = pair is not None or len(repeats_m) == 1
    part = _repeatability(values, tolerance_m, settings) if agreed else _in_dispute(repeats_m)
    sentence = _sentence(repeats_m, tolerance_m, pair, used, settings)
    return Agreement(used, part, sentence, pair is not None, tuple(findings))


def _agreeing_pair(repeats_m: Sequence[float], tolerance_m: float, rule: str) -> tuple[int, int] | None:
    """The last pair that agrees: neighbours under "two consecutive", any two otherwise."""
    last = len(repeats_m) - 1
    for second in range(last, 0, -1):
        firsts = [second - 1] if rule == "two consecutive" else range(second - 1, -1, -1)
        for first in firsts:
            if abs(repeats_m[second] - repeats_m[first]) <= tolerance_m + 1e-9:
                return first, second
    return None


def _used(
    repeats_m: Sequence[float], tolerance_m: float, pair: tuple[int, int] | None, rule: str, chosen: int | None
) -> tuple[int, ...]:
    if chosen is not None:
        return (chosen,)
    if pair is None or rule == "mean of all":
        return tuple(range(len(repeats_m)))
    if rule == "most representative":
        return (pair[1],)
    return tuple(i for i, r in enumerate(repeats_m) if all(abs(r - repeats_m[p]) <= tolerance_m + 1e-9 for p in pair))


def _repeatability(used_m: Sequence[float], tolerance_m: float, settings: Settings) -> Part:
    n = len(used_m)
    mean = added(used_m) / n
    expected, dof = tolerance_m / _PAIR_95, settings.si("repeat_dof")
    pooled = (dof * expected**2 + added((r - mean) ** 2 for r in used_m)) / (dof + n - 1)
    return Part("", f"repeatability of {n}", math.sqrt(pooled / n), dof + n - 1, "pooled, GUM 4.2.4")


def _in_dispute(repeats_m: Sequence[float]) -> Part:
    """Readings that do not agree are no sample of one spread: one of them is probably wrong, and which is not known."""
    return half_width("readings that do not agree", (max(repeats_m) - min(repeats_m)) / 2, "anywhere between them")


def _sentence(
    repeats_m: Sequence[float],
    tolerance_m: float,
    pair: tuple[int, int] | None,
    used: tuple[int, ...],
    settings: Settings,
) -> str:
    if len(repeats_m) == 1:
        return "one reading, nothing to agree with"
    listed = [str(i + 1) for i in used]
    numbers = f"reading {listed[0]}" if len(used) == 1 else f"readings {', '.join(listed[:-1])} and {listed[-1]}"
    rule = f"rule: {settings.text('agree_rule')} within {spoken(tolerance_m, settings)}"
    if pair is None:
        return f"{len(repeats_m)} readings, no agreement ({rule}); {numbers} used"
    difference = abs(repeats_m[pair[1]] - repeats_m[pair[0]])
    verdict = f"agree, {spoken(difference, settings)} apart" if difference > 1e-9 else "are equal"
    return f"readings {pair[0] + 1} and {pair[1] + 1} {verdict} ({rule}); {numbers} used"


def _disagree(repeats_m: Sequence[float], tolerance_m: float, settings: Settings) -> Finding:
    spread = spoken(max(repeats_m) - min(repeats_m), settings)
    return finding(
        "repeats-disagree",
        f"{len(repeats_m)} readings lie {spread} apart, more than {spoken(tolerance_m, settings)}",
        "take one more with another hold and read the foot mark aloud; keep all of them",
    )


def _chosen_missing(chosen: int, count: int) -> Finding:
    return finding(
        "chosen-missing",
        f"reading {chosen + 1} was chosen but there are {count}",
        "count the readings from 1; the rule of the network was used instead",
    )
