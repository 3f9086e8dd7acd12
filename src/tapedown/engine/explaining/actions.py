"""What can be done at once, and which of it tells two explanations best apart.

Done, an action shows one of three things: what it would be without the first explanation's fault, without the
second's, or the same as before. Each explanation says how likely an action is to bring its own fault to light; the
information expected from an action is the mutual information between what it shows and which of the two is true
(Cover & Thomas 2006, section 2.3; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

LOWER = "lower again with a new hold and read the foot mark aloud"
LOOK = "look at the tape once more before it is wiped, and at what was written"
POINT = "measure the stick-up, from land surface to the measuring point"
TAG = "read the well's tag and compare the photo"
SERIAL = "read the serial number of the tape"
WEIGHT = "measure from tape zero to the bottom of the hanging weight"
ASIDE = "raise the tape, move it aside and lower again"
WAIT = "wait 15 minutes and read again"
OTHER = "read with another tape"
CABLE = "look at the cable's mark at the hanging point, and read the tape again"
ACTIONS = (LOOK, LOWER, POINT, TAG, SERIAL, WEIGHT, ASIDE, CABLE, WAIT, OTHER)
"""In order of what they cost: of those that are as good, the first is named."""
NOTHING = 0.02
"""Chance that an action shows a fault it is not meant for; ours."""
LEAST_BIT, NEARLY, NEARLY_AS_SURE = 0.01, 0.9, 0.1
"""Less information tells nothing new; of actions nearly as good, one that shows the first for sure; ours."""


class ActionOutcome(NamedTuple):
    """One of two explanations: its probability, the depth without its fault (None: not of this well), its actions.

    No actions: it is no fault, and nothing will show any.
    """

    probability: float
    depth_m: float | None
    shows: Mapping[str, float]


def best_action(first: ActionOutcome, second: ActionOutcome, same_m: float) -> str:
    """The action that best separates two explanations.

    Parameters
    ----------
    first
        The likeliest explanation.
    second
        The next one.
    same_m
        Depths closer than this cannot be told apart, m.

    Returns
    -------
    str
        One of `ACTIONS`. Of those that tell nearly as much as the best, the one that shows the first explanation's
        fault most surely; of those as sure, the least work.

    Example
    -------
    >>> misread = ActionOutcome(0.6, 7.0, {LOWER: 0.95, LOOK: 0.6})
    >>> point_changed = ActionOutcome(0.4, 7.0, {POINT: 0.95})
    >>> best_action(misread, point_changed, 0.006)
    'lower again with a new hold and read the foot mark aloud'
    """
    alike = first.depth_m is not None and second.depth_m is not None and abs(first.depth_m - second.depth_m) <= same_m
    tells = {action: information(first, second, action, alike=alike) for action in ACTIONS}
    most = max(tells.values())
    if most < LEAST_BIT and not first.shows:
        return LOWER
    good = [action for action in ACTIONS if most < LEAST_BIT or tells[action] >= NEARLY * most]
    surest = max(_shows(first, action) for action in good)
    return next(action for action in good if _shows(first, action) >= surest - NEARLY_AS_SURE)


def information(first: ActionOutcome, second: ActionOutcome, action: str, *, alike: bool) -> float:
    """Mutual information of what an action shows and which of two explanations is true.

    Parameters
    ----------
    first
        One explanation, with the chances that actions bring its fault to light.
    second
        The other.
    action
        One of `ACTIONS`.
    alike
        Whether both give the same depth without their fault, so that showing either looks the same.

    Returns
    -------
    float
        Bit, 0 to 1: 0 for an action that shows the same whichever is true.

    Notes
    -----
    I = sum over outcomes o and explanations k of w_k P(o | k) log2(P(o | k) / P(o)), w_k the share of k in the two
    probabilities. Outcomes are: nothing changes, and the depth of the first and of the second, one where they are
    alike.

    References
    ----------
    Cover & Thomas (2006), Elements of Information Theory, 2.3 (from memory).

    Example
    -------
    >>> sure, blind = ActionOutcome(0.5, 7.0, {POINT: 1.0}), ActionOutcome(0.5, 6.4, {})
    >>> information(sure, blind, POINT, alike=False), round(information(sure, blind, WAIT, alike=False), 3)
    (1.0, 0.01)
    """
    weight = first.probability / (first.probability + second.probability)
    a, b = _shows(first, action), _shows(second, action)
    outcomes = [((1 - a), (1 - b))]
    outcomes += [(a, b)] if alike else [(a, 0.0), (0.0, b)]
    gain = 0.0
    for p, q in outcomes:
        both = weight * p + (1 - weight) * q
        gain += _term(weight, p, both) + _term(1 - weight, q, both)
    return gain


def _term(weight: float, share: float, both: float) -> float:
    return weight * share * math.log2(share / both) if weight * share > 0 else 0.0


def _shows(outcome: ActionOutcome, action: str) -> float:
    return outcome.shows.get(action, NOTHING) if outcome.shows else 0.0
