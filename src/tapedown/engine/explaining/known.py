"""The explanations that are known: one row each. A new one is a module, a row here and a chance in values.settings."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from tapedown.engine.explaining import (
    hold_and_cut,
    logger_offset,
    lowering,
    measuring_point,
    misreads,
    recovering,
    tapes,
    weight_interval,
    wrong_well,
)
from tapedown.engine.explaining.actions import (
    ASIDE,
    CABLE,
    LOOK,
    LOWER,
    OTHER,
    POINT,
    SERIAL,
    TAG,
    WAIT,
    WEIGHT,
)
from tapedown.engine.explaining.case import Candidate, Case

AS_EXPECTED, CHANGED = "as expected", "it really changed"


class Explanation(NamedTuple):
    """One explanation.

    name     in words
    chance   setting that holds its chance, before the reading is looked at
    propose  its candidates for a case
    shows    action -> chance that it brings this fault to light, if it is the fault; ours
    """

    name: str
    chance: str
    propose: Callable[[Case], Iterator[Candidate]]
    shows: Mapping[str, float]


READ_AGAIN = {LOWER: 0.95, LOOK: 0.6, OTHER: 0.95, ASIDE: 0.9}
WRITTEN = {LOWER: 0.9, LOOK: 0.9, OTHER: 0.95, ASIDE: 0.85}
MEASURED = {POINT: 0.95}
EXPLANATIONS: tuple[Explanation, ...] = (
    Explanation("whole mark misread", "chance_whole_mark", misreads.whole_marks, READ_AGAIN),
    Explanation("digits swapped", "chance_digits_swapped", misreads.digits_swapped, WRITTEN),
    Explanation("digit misread", "chance_digit_misread", misreads.digit_misread, WRITTEN),
    Explanation("decimal point moved", "chance_point_moved", misreads.point_moved, WRITTEN),
    Explanation("one repeat misread", "chance_one_repeat", misreads.other_amount, READ_AGAIN),
    Explanation("feet for metres", "chance_other_unit", misreads.other_unit, {LOOK: 0.9, OTHER: 0.9, LOWER: 0.5}),
    Explanation("hold and cut swapped", "chance_hold_cut", hold_and_cut.swapped, WRITTEN),
    Explanation("hold of another repeat", "chance_wrong_hold", hold_and_cut.wrong_one, WRITTEN),
    Explanation("weight interval left out", "chance_interval_left_out", weight_interval.left_out, {WEIGHT: 0.9}),
    Explanation("weight interval counted twice", "chance_interval_twice", weight_interval.counted_twice,
                {WEIGHT: 0.5, LOOK: 0.9, LOWER: 0.7}),
    Explanation("interval of another weight", "chance_other_weight", weight_interval.of_another_weight, {WEIGHT: 0.98}),
    Explanation("sign of the measuring point", "chance_point_sign", measuring_point.sign_reversed, MEASURED),
    Explanation("older height of the measuring point", "chance_point_older", measuring_point.older_height, MEASURED),
    Explanation("height of the measuring point left out", "chance_point_left_out",
                measuring_point.height_not_applied, {LOOK: 0.6}),
    Explanation("measuring point changed unnoticed", "chance_point_changed", measuring_point.changed_unnoticed,
                MEASURED),
    Explanation("wrong well", "chance_wrong_well", wrong_well.wrong_well, {TAG: 0.98}),
    Explanation("another tape's calibration", "chance_other_tape", tapes.another_calibration,
                {SERIAL: 0.98, OTHER: 0.8}),
    Explanation("tape not corrected", "chance_not_corrected", tapes.not_corrected, {OTHER: 0.5}),
    Explanation("tape hung up or resting on something", "chance_did_not_reach", lowering.did_not_reach,
                {ASIDE: 0.9, LOWER: 0.5, OTHER: 0.7}),
    Explanation("water still recovering", "chance_recovering", recovering.recovering, {WAIT: 0.9, LOWER: 0.2}),
    Explanation("logger offset", "chance_logger_offset", logger_offset.logger_offset, {CABLE: 0.95}),
)  # fmt: skip
