"""A tape held against a reference: differences, what is allowed, and a line that knows the reference's own doubt."""

from __future__ import annotations

from typing import Any

import pytest
from scipy import stats

from tapedown.engine.context import ReadingContext
from tapedown.engine.tape.side_by_side import Comparison, compare
from tapedown.values.kinds import KINDS
from tests.engine.at_the_well import FOOT_M, calibrated, fact

DEPTHS = [("20.00", "20.01"), ("60.00", "60.04"), ("100.00", "100.06"), ("240.00", "240.15")]


def held(pairs: list[tuple[str, str]], **more: Any) -> Any:
    """Pairs of (reference, tape compared), ft."""
    listed = [{"reference": reference, "shown": shown} for reference, shown in pairs]
    return fact("side by side", {"serial": "ET-006", "reference": "ST-014", "pairs": listed, **more})


def compared(pairs: list[tuple[str, str]], context: ReadingContext | None = None, **more: Any) -> Comparison:
    return compare(held(pairs, **more), context or ReadingContext())


def test_the_line_is_least_squares_of_the_reference_on_the_tape() -> None:
    found = compared(DEPTHS)
    peer = stats.linregress([float(s) for _, s in DEPTHS], [float(r) for r, _ in DEPTHS])
    assert found.line is not None
    assert found.line.slope == pytest.approx(peer.slope, rel=1e-9)
    assert found.line.offset_m / FOOT_M == pytest.approx(peer.intercept, abs=1e-9)
    assert found.apply == "straight line"


def test_the_references_own_calibration_and_doubt_are_carried_along() -> None:
    context = ReadingContext(calibrations=calibrated("ST-014", [("100", "100.05"), ("300", "300.15")], "between marks"))
    plain, corrected = compared(DEPTHS), compared(DEPTHS, context)
    assert corrected.marks[2].true_m / FOOT_M == pytest.approx(100.05)
    assert plain.marks[2].true_m / FOOT_M == pytest.approx(100.0)
    u_mark = context.calibrations["ST-014"].calibration.marks[0].u
    assert u_mark is not None
    assert corrected.marks[2].u_m == pytest.approx(
        (u_mark.si**2 + ReadingContext().settings.si("u_side_by_side") ** 2) ** 0.5
    )
    at, line_at = corrected.at(30.0, 0.95), corrected.line.at(30.0) if corrected.line else None
    assert at is not None
    assert line_at is not None
    assert at[1] > stats.t.ppf(0.975, 2) * line_at[1]


@pytest.mark.parametrize(
    ("pairs", "within"),
    # allowed differences: USGS TM 1-A1 GWPD 4 (2011) and USGS TWRI 9-A4 A4-B-3(b) (2006), read
    [([("100.00", "100.02")], {"2011": True, "2006": False}), ([("100.00", "100.03")], {"2011": False, "2006": False}),
     ([("100.00", "100.01")], {"2011": True, "2006": True}), ([("600.00", "600.50")], {"2011": False, "2006": True})],
)  # fmt: skip
def test_allowed_differences_are_those_of_the_documents(pairs: list[tuple[str, str]], within: dict[str, bool]) -> None:
    assert compared(pairs).within == within


def test_how_it_is_applied_follows_from_the_differences_and_their_number() -> None:
    assert compared([("20.00", "20.01"), ("100.00", "100.01")]).apply == "checked"
    assert compared(DEPTHS[:2]).apply == "between marks"
    assert compared(DEPTHS[:2]).at(20.0, 0.95) is None


def test_repeats_at_one_depth_become_one_mark() -> None:
    found = compared([("100.00", "100.06"), ("100.02", "100.06"), *DEPTHS[:2]])
    assert [round(m.shown_m / FOOT_M, 2) for m in found.marks] == [20.01, 60.04, 100.06]
    assert found.marks[2].true_m / FOOT_M == pytest.approx(100.01)


def test_a_tape_is_not_its_own_reference() -> None:
    given = {"serial": "ST-014", "reference": "ST-014", "pairs": [{"reference": "1", "shown": "1"}]}
    _, problems = KINDS["side by side"].read(given, "ft")
    assert [p.place for p in problems] == ["reference"]


def test_the_amount_to_add_has_the_doubt_of_line_and_reference_at_its_level() -> None:
    found = compared(DEPTHS, u_setting="0.02 ft")
    assert found.line is not None
    # the tape of reference has no calibration: 0.005 ft, or 25 in a million of 240 ft
    u_reference = (0.006**2 + 0.02**2) ** 0.5
    assert [mark.u_m / FOOT_M for mark in found.marks] == pytest.approx(
        [(0.005**2 + 0.02**2) ** 0.5] * 3 + [u_reference]
    )
    assert [mark.add_m / FOOT_M for mark in found.marks] == pytest.approx([-0.01, -0.04, -0.06, -0.15])
    for level in (0.95, 0.6827):
        at = found.at(150.0 * FOOT_M, level)
        assert at is not None
        true_m, u_line_m = found.line.at(150.0 * FOOT_M)
        assert at[0] == pytest.approx(true_m - 150.0 * FOOT_M)
        doubt = stats.t.ppf((1 + level) / 2, 2) * ((u_line_m / FOOT_M) ** 2 + u_reference**2) ** 0.5
        assert at[1] / FOOT_M == pytest.approx(doubt)


def test_three_marks_carry_a_line_and_a_difference_at_the_limit_is_within_it() -> None:
    assert compared(DEPTHS[:3]).line is not None
    assert compared([("100.00", "100.02"), ("200.00", "199.98")]).within == {"2011": True, "2006": False}
    assert compared([("100.00", "100.01"), ("200.00", "200.03")]).within == {"2011": False, "2006": False}
    mixed = compared([("100.00", "100.00"), ("100.02", "100.00"), ("100.00", "100.05")])
    assert mixed.marks[0].u_m == max(mark.u_m for mark in mixed.marks[:1])
