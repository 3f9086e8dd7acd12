"""A measuring point levelled from its mark: what counts as moved, and when it is due again."""

from __future__ import annotations

import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.well.levels import Levelled, check_levels
from tests.engine.at_the_well import fact, names


def levelled(on: str, above: str, mark: str = "RM-1", point: str = "MP-1") -> Levelled:
    return Levelled(on, fact("level check", {"mark": mark, "point": point, "above_mark": above}))


@pytest.mark.parametrize(
    ("after", "words"),
    [("3.132", None), ("3.133", "0.021 ft higher"), ("3.092", None), ("3.091", "0.021 ft lower")],
)
def test_a_point_has_moved_when_two_levels_differ_by_more_than_the_network_lets(after: str, words: str | None) -> None:
    found = check_levels([levelled("2025-05-01T10:00", "3.112"), levelled("2026-05-02T09:00", after)], ReadingContext())
    told = [f"MP-1 stood {words} above RM-1 on 2026-05-02 than on 2025-05-01"] if words else []
    assert [one.message for one in found] == told


def test_only_levels_of_one_point_from_one_mark_are_compared_each_with_the_one_before() -> None:
    mixed = [
        levelled("2022-05-01", "3.100"),
        levelled("2023-05-01", "2.100", mark="RM-2"),
        levelled("2023-06-01", "4.100", point="MP-2"),
        levelled("2024-05-01", "3.110"),
        levelled("2025-05-01", "3.150"),
        levelled("2026-05-01", "3.140"),
    ]
    (found,) = check_levels(mixed, ReadingContext())
    assert "0.04 ft higher above RM-1 on 2025-05-01 than on 2024-05-01" in found.message


@pytest.mark.parametrize(
    ("when", "words"),
    [("2031-05-01T10:00", None), ("2031-05-02", "MP-1 was last levelled on 2026-05-01, 5.0 years before"),
     ("2036-11-01", "MP-1 was last levelled on 2026-05-01, 10.5 years before")],
)  # fmt: skip
def test_a_point_is_due_after_five_years(when: str, words: str | None) -> None:
    """1,826 days are less than five years of 365.25 days, 1,827 are more."""
    levels = [levelled("2020-05-01", "3.112"), levelled("2026-05-01T08:00", "3.112")]
    found = check_levels(levels, ReadingContext(when=when))
    assert [one.message for one in found] == ([words] if words else [])
    assert check_levels(levels, ReadingContext()) == []
    assert names(check_levels([], ReadingContext(when="2036-01-01"))) == set()
