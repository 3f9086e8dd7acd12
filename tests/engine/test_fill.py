from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.context import ReadingContext
from tapedown.engine.well.fill import Sounding, buried_m, change_is_real, filling_rate, well_condition
from tapedown.values.days import date_text, day_number
from tapedown.values.results import Part
from tests.engine.at_the_well import construction, names

TAPE = Part("tape ST-014", "tape", 0.05)
WELL = construction("m", completed_depth="25.00", screens=[{"top": "20", "bottom": "24"}])


START = day_number("2018-01-01")


def own(u: float = 0.01) -> Part:
    return Part("", "feel", u)


def sounding(on: str, depth_m: float, *parts: Part) -> Sounding:
    return Sounding(on, depth_m, parts or (own(),))


@given(st.floats(0.0, 40.0), st.floats(0.0, 30.0), st.floats(0.1, 10.0))
def test_what_is_buried_is_never_more_than_the_screen_nor_less_than_nothing(
    bottom: float, top: float, length: float
) -> None:
    assert 0.0 <= buried_m(bottom, top, top + length) <= length + 1e-9
    assert buried_m(top + length, top, top + length) == 0.0
    assert buried_m(top, top, top + length) == pytest.approx(length)


def test_no_soundings_say_nothing() -> None:
    assert well_condition([], ReadingContext()) is None


def test_one_sounding_without_a_completion_has_nothing_to_count_from() -> None:
    found = well_condition([sounding("2026-05-14", 24.0)], ReadingContext())
    assert found is not None
    assert (found.fill, found.real, found.rate, found.projection) == (None, False, None, None)


def test_a_fill_smaller_than_its_uncertainty_is_not_called_real() -> None:
    found = well_condition([sounding("2026-05-14", 24.98)], ReadingContext(construction=WELL))
    assert found is not None
    assert found.fill is not None
    assert 0 < found.fill.value_m < found.fill.expanded_m
    assert not found.real
    assert not {"fill-real", "fill-negative"} & names(found.findings)


def test_what_two_soundings_share_cancels_in_the_fill_between_them() -> None:
    pair = [sounding("2020-05-14", 24.00, TAPE, own()), sounding("2026-05-14", 23.95, TAPE, own())]
    found = well_condition(pair, ReadingContext(), since="first sounding")
    assert found is not None
    assert found.fill is not None
    assert found.fill.u_m == pytest.approx(0.01 * 2**0.5)
    assert found.real
    other = [pair[0], sounding("2026-05-14", 23.95, Part("tape ST-015", "tape", 0.05), own())]
    by_two_tapes = well_condition(other, ReadingContext(), since="first sounding")
    assert by_two_tapes is not None
    assert not by_two_tapes.real


def test_soundings_may_come_in_any_order() -> None:
    dated = [sounding("2020-05-14", 24.0), sounding("2026-05-14", 23.2), sounding("2023-05-14", 23.6)]
    assert well_condition(dated, ReadingContext(construction=WELL)) == well_condition(
        dated[::-1], ReadingContext(construction=WELL)
    )


def test_the_rate_is_numpys_straight_line_with_its_sign_turned() -> None:
    days = [0, 400, 900, 1500, 2200]
    depths = [24.02, 23.80, 23.71, 23.40, 23.02]
    soundings = [Sounding(date_text(START + d), z, (own(),)) for d, z in zip(days, depths)]
    slope, _ = np.polyfit(np.array(days) / 365.25, depths, 1)
    assert filling_rate(soundings, 0.95).value_m == pytest.approx(-slope)


def test_the_uncertainty_of_a_rate_is_that_of_a_weighted_sum_whatever_is_shared() -> None:
    """Monte Carlo: a tape that is wrong by the same amount each time leaves the rate alone."""
    years = np.array([0.0, 2.0, 5.0])
    soundings = [
        Sounding(date_text(START + round(float(t) * 365.25)), 24.0 - 0.1 * float(t), (TAPE, own(0.02))) for t in years
    ]
    exact = np.array([(day_number(s.on) - START) / 365.25 for s in soundings])
    rng = np.random.default_rng(8)
    drawn = 24.0 - 0.1 * years + rng.normal(0, 0.05, (200_000, 1)) + rng.normal(0, 0.02, (200_000, 3))
    slopes = -((drawn - drawn.mean(axis=1, keepdims=True)) @ (exact - exact.mean())) / np.sum(
        (exact - exact.mean()) ** 2
    )
    rate = filling_rate(soundings, 0.95)
    assert rate.value_m == pytest.approx(slopes.mean(), abs=2e-4)
    assert rate.u_m == pytest.approx(slopes.std(), rel=0.01)


def test_scatter_beyond_the_budget_widens_the_rate_and_scatter_within_does_not() -> None:
    def rate(scatter: float) -> float:
        wobble = [scatter, -scatter, scatter, -scatter]
        dated = [Sounding(f"{2018 + 2 * i}-01-01", 24.0 - 0.2 * i + w, (own(),)) for i, w in enumerate(wobble)]
        return float(filling_rate(dated, 0.95).u_m)

    assert rate(0.002) == pytest.approx(rate(0.0))
    assert rate(0.10) > 3 * rate(0.0)


def test_a_rate_needs_two_dates() -> None:
    with pytest.raises(ValueError, match="two different dates"):
        filling_rate([sounding("2026-05-14", 24.0), sounding("2026-05-14", 23.9)], 0.95)
    found = well_condition([sounding("2026-05-14", 24.0), sounding("2026-05-14", 23.9)], ReadingContext())
    assert found is not None
    assert found.rate is None


def test_the_projection_lies_between_its_bounds_and_reaches_the_chosen_share() -> None:
    dated = [sounding(f"{year}-05-14", 24.4 - 0.1 * i) for i, year in enumerate((2014, 2018, 2022, 2026))]
    found = well_condition(dated, ReadingContext(construction=WELL))
    assert found is not None
    assert found.projection is not None
    assert found.rate is not None
    years = (day_number(found.projection.on) - day_number("2026-05-14")) / 365.25
    assert 24.1 - years * found.rate.value_m == pytest.approx(24 - 0.2 * 4, abs=0.01)
    assert found.projection.latest is not None
    assert found.projection.earliest <= found.projection.on <= found.projection.latest


def test_a_rate_that_may_be_nothing_gives_no_date() -> None:
    dated = [sounding("2024-05-14", 24.00, own(0.2)), sounding("2026-05-14", 23.95, own(0.2))]
    found = well_condition(dated, ReadingContext(construction=WELL))
    assert found is not None
    assert found.rate is not None
    assert found.projection is None


def test_a_well_that_gets_deeper_has_no_date_to_fear() -> None:
    dated = [sounding("2020-05-14", 23.5), sounding("2026-05-14", 23.9)]
    found = well_condition(dated, ReadingContext(construction=WELL))
    assert found is not None
    assert found.projection is None


def test_already_buried_means_now() -> None:
    dated = [sounding("2020-05-14", 23.5), sounding("2026-05-14", 22.9)]
    found = well_condition(dated, ReadingContext(construction=WELL))
    assert found is not None
    assert found.projection is not None
    assert found.projection.on == "2026-05-14"
    assert "screen-buried" in names(found.findings)


def test_a_change_is_real_only_beyond_its_combined_uncertainty() -> None:
    before = sounding("2020-05-14", 24.00, TAPE, own())
    for depth, real in ((23.98, False), (23.96, True), (24.04, True)):
        change, expanded, found = change_is_real(sounding("2026-05-14", depth, TAPE, own()), before, 0.95)
        assert change == pytest.approx(depth - 24.00)
        assert expanded == pytest.approx(1.96 * 0.01 * 2**0.5, rel=1e-3)
        assert found is real
