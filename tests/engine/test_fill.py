from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.context import ReadingContext
from tapedown.engine.well.fill import Sounding, buried_m, change_is_real, filling_rate, well_condition
from tapedown.values.days import date_text, day_number
from tapedown.values.results import Part
from tapedown.values.settings import Settings
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


def dated(*rows: tuple[str, float], u: float = 0.01) -> list[Sounding]:
    return [sounding(on, depth_m, own(u)) for on, depth_m in rows]


def test_a_fill_since_completion_carries_the_doubt_of_the_record_and_of_the_sounding() -> None:
    found = well_condition([sounding("2026-05-14", 23.00, own(0.02))], ReadingContext(construction=WELL))
    assert found is not None
    assert found.fill is not None
    assert (found.since, found.fill.name, found.fill.value_m) == ("completion", "fill", pytest.approx(2.0))
    # 25.00 m as written, and a figure handed on by others: 0.05 ft
    u_m = (0.01**2 / 12 + (0.05 * 0.3048) ** 2 + 0.02**2) ** 0.5
    assert found.fill.u_m == pytest.approx(u_m)
    assert found.fill.expanded_m == pytest.approx(1.96 * u_m, rel=1e-4)
    (buried,) = found.screens
    assert (buried.buried_m, buried.share) == pytest.approx((1.0, 0.25))
    told = {one.check: one for one in found.findings}
    assert told["fill-real"].message == "the bottom has come up 6.56 ft ± 0.17 since completion"
    assert told["screen-buried"].message == "25% of the screen 20 m to 24 m is buried"
    assert told["screen-buried"].hint.startswith("at 20% (one county's rule")
    lower = well_condition([sounding("2026-05-14", 25.50, own(0.02))], ReadingContext(construction=WELL))
    assert lower is not None
    assert [one.message for one in lower.findings] == ["the bottom lies 1.64 ft ± 0.17 deeper than at completion"]


def test_a_fill_since_the_first_sounding_is_named_by_its_day() -> None:
    pair = dated(("2020-05-14T09:00", 24.0), ("2026-05-14", 23.0))
    for context, since in ((ReadingContext(), "completion"), (ReadingContext(construction=WELL), "first sounding")):
        found = well_condition(pair, context, since=since)
        assert found is not None
        assert found.fill is not None
        assert (found.since, found.fill.value_m) == ("2020-05-14", pytest.approx(1.0))
        assert found.rate is not None
        assert found.rate.name == "filling rate"


def test_a_screen_written_upside_down_or_without_length_is_measured_all_the_same() -> None:
    screens = [{"top": "24", "bottom": "20"}, {"top": "22", "bottom": "22"}]
    well = construction("m", completed_depth="25.00", screens=screens)
    found = well_condition([sounding("2026-05-14", 23.0)], ReadingContext(construction=well))
    assert found is not None
    assert [(one.buried_m, one.share) for one in found.screens] == [
        (pytest.approx(1.0), pytest.approx(0.25)),
        (0.0, 0.0),
    ]


def test_the_scatter_about_the_line_is_the_residual_variance_beyond_the_budget() -> None:
    """Slope variance is s^2 / sum (t - mean)^2 (numpy's covariance); what the budgets say of it is in it already."""
    days, depths = [0, 700, 1500, 2300, 2900], [24.02, 23.70, 23.71, 23.30, 23.28]
    soundings = [Sounding(date_text(START + d), z, (TAPE, own(0.02))) for d, z in zip(days, depths)]
    years = np.array(days) / 365.25
    line = np.polyfit(years, depths, 1)
    residual = float(np.sum((np.array(depths) - np.polyval(line, years)) ** 2)) / 3
    spread = float(np.sum((years - years.mean()) ** 2))
    rate = filling_rate(soundings, 0.95)
    assert residual > 0.02**2
    assert rate.u_m == pytest.approx((residual / spread) ** 0.5, rel=1e-6)
    extra = (residual - 0.02**2) / spread
    assert rate.dof == pytest.approx((residual / spread) ** 2 / (extra**2 / 3), rel=1e-6)


def projected(*rows: tuple[str, float], share: str = "0.2", u: float = 0.01) -> tuple[float, float, float | None]:
    """Years from the last sounding to the date, the earliest and the latest."""
    context = ReadingContext(Settings("m", {"bury_share": share}), construction=WELL)
    found = well_condition(dated(*rows, u=u), context)
    assert found is not None
    assert found.projection is not None
    assert found.projection.share == float(share)
    told = (found.projection.on, found.projection.earliest, found.projection.latest)
    last = day_number(rows[-1][0])
    on, earliest, latest = (None if day is None else (day_number(day) - last) / 365.25 for day in told)
    assert on is not None
    assert earliest is not None
    return on, earliest, latest


def test_the_dates_of_a_projection_follow_from_rate_and_depth_at_their_uncertainty() -> None:
    """Two soundings ten years apart, 1 m of fill, each good to 0.01 m: 0.1 m a year, U 1.96 x 0.01 x root 2 / 10."""
    rows = (("2014-05-14", 24.5), ("2024-05-13", 23.5))
    years = (day_number(rows[1][0]) - day_number(rows[0][0])) / 365.25
    rate, u_rate, u_depth = 1.0 / years, 1.959964 * 0.01 * 2**0.5 / years, 1.959964 * 0.01
    for share, target in (("0.2", 23.2), ("0.5", 22.0)):
        gap = 23.5 - target
        on, earliest, latest = projected(*rows, share=share)
        assert on == pytest.approx(gap / rate, abs=0.002)
        assert earliest == pytest.approx((gap - u_depth) / (rate + u_rate), abs=0.002)
        assert latest == pytest.approx((gap + u_depth) / (rate - u_rate), abs=0.002)


def test_the_projection_starts_from_the_fitted_line_and_not_from_the_last_sounding() -> None:
    rows = (("2014-05-14", 24.50), ("2018-05-14", 24.12), ("2022-05-14", 23.68), ("2026-05-14", 23.30))
    years = [(day_number(on) - day_number(rows[0][0])) / 365.25 for on, _ in rows]
    slope, start = np.polyfit(years, [depth for _, depth in rows], 1)
    on, _, _ = projected(*rows)
    assert on == pytest.approx((start + slope * years[-1] - 23.2) / -slope, abs=0.002)


def test_a_date_beyond_two_hundred_years_is_not_given() -> None:
    def slow(fill_m: float, u: float) -> tuple[bool, bool]:
        found = well_condition(dated(("1926-05-14", 25.0), ("2026-05-14", 25.0 - fill_m), u=u), CONTEXT)
        assert found is not None
        assert found.rate is not None
        given = found.projection
        return given is not None, given is not None and given.latest is not None

    # from 25 - f to 23.2 m at f a century: 200 years where f = 0.6 m
    assert slow(0.590, 0.0001) == (False, False)
    assert slow(0.610, 0.0001) == (True, True)
    assert slow(0.610, 0.01) == (True, False)


CONTEXT = ReadingContext(construction=WELL)


def test_the_lowest_screen_is_the_one_that_is_buried_first() -> None:
    two = construction(
        "m", completed_depth="25.00", screens=[{"top": "20", "bottom": "24"}, {"top": "10", "bottom": "14"}]
    )
    rows = dated(("2014-05-14", 24.5), ("2024-05-13", 23.5))
    one, both = (well_condition(rows, ReadingContext(construction=c)) for c in (WELL, two))
    assert one is not None
    assert both is not None
    assert one.projection == both.projection
