"""A series pulled onto the tape: its uncertainty, and what is refused, against cases worked by hand."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import stdev

import numpy as np
import polars as pl
import pytest

from tapedown.loggers.context import SeriesContext, TapeCheck
from tapedown.loggers.epoch import naive
from tapedown.loggers.treat import Treated, treat
from tapedown.loggers.zero_drift import YEAR_S
from tapedown.values.settings import Settings
from tests.loggers.truth import START_S, frame, tape

DAY_S = 86400.0
LOGGED_M = 10.0


def treated(
    offsets_m: Sequence[float], at_day: Sequence[float], u_m: float | Sequence[float], **how: object
) -> Treated:
    """A logger that shows 10 m on every one of 101 days, held to checks that lie these offsets below it."""
    at_s = START_S + np.arange(101) * DAY_S
    each = [u_m] * len(offsets_m) if isinstance(u_m, float) else u_m
    checks = [TapeCheck(START_S + day * DAY_S, LOGGED_M + off, u) for day, off, u in zip(at_day, offsets_m, each)]
    rows = frame(at_s, logged_depth_m=np.full(101, LOGGED_M))
    return treat(rows, [tape(**how)], SeriesContext(Settings("m"), tuple(checks)))  # type: ignore[arg-type]


def pulled(
    offsets_m: Sequence[float], at_day: Sequence[float], u_m: float | Sequence[float], **how: object
) -> pl.DataFrame:
    """The rows that come out."""
    return treated(offsets_m, at_day, u_m, **how).rows.collect()


def wander_m(offsets_m: Sequence[float], at_day: Sequence[float], **how: object) -> float:
    """How far the zero wanders in a year as the checks tell it."""
    pull = treated(offsets_m, at_day, 0.001, u_point="0.001", **how).pull
    assert pull is not None
    return pull.walk.size_m


def on_day(day: float) -> str:
    return naive(START_S + day * DAY_S).isoformat() + "+00:00"


def walked_m2(size_m: float, days: float) -> float:
    """Variance of a random walk after so many days, where it gathers size_m in a year."""
    return size_m**2 * days * DAY_S / YEAR_S


def test_one_offset_is_as_uncertain_as_one_further_check_would_be() -> None:
    """The spread of a further value about the mean of n is s sqrt(1 + 1/n) (textbooks' prediction interval, from
    memory): offsets 0.00, 0.03, 0.09 m have the mean 0.04 m and s = 0.0458 m; the logger's own 0.003 m comes on top.
    """
    offsets_m = [0.00, 0.03, 0.09]
    found = pulled(offsets_m, [0, 40, 100], 0.001, share="one offset", u_point="0.003")
    assert found["depth_m"].to_list() == pytest.approx([10.04] * 101)
    expected_m = (stdev(offsets_m) ** 2 * 4 / 3 + 0.003**2) ** 0.5
    assert expected_m == pytest.approx(0.053, abs=5e-4)
    assert found["u_depth_m"].to_list() == pytest.approx([expected_m] * 101)


def test_one_offset_is_never_surer_than_the_checks_it_stands_on() -> None:
    """Equal offsets of two checks, each 0.04 m by the tape and 0.03 m by the logger: 0.05 m sqrt(3/2), and 0.03 m."""
    found = pulled([0.02, 0.02], [0, 100], 0.04, share="one offset", u_point="0.03")
    assert found["u_depth_m"].to_list() == pytest.approx([(0.05**2 * 1.5 + 0.03**2) ** 0.5] * 101)


def test_a_single_check_gives_one_offset_with_twice_its_variance() -> None:
    found = pulled([0.02], [50], 0.04, share="one offset", u_point="0.03")
    assert found["depth_m"].to_list() == pytest.approx([10.02] * 101)
    assert found["u_depth_m"].to_list() == pytest.approx([(0.05**2 * 2 + 0.03**2) ** 0.5] * 101)


def test_between_two_checks_both_their_uncertainties_and_the_walk_count_by_nearness() -> None:
    """On day 25 of 100: (3/4)^2 of the first check's variance, (1/4)^2 of the second's, 25 * 75 / 100 days of walk."""
    found = pulled([0.00, 0.02], [0, 100], [0.04, 0.12], share="in time", u_point="0.03", walk="0.5")
    own_m2 = [0.04**2 + 0.03**2, 0.12**2 + 0.03**2]
    expected_m2 = 0.03**2 + own_m2[0] * 9 / 16 + own_m2[1] / 16 + walked_m2(0.5, 25 * 75 / 100)
    assert found["u_depth_m"][25] == pytest.approx(expected_m2**0.5, rel=1e-9)
    assert found["depth_m"][25] == pytest.approx(10.005)


def test_beyond_the_checks_the_offset_is_held_and_the_walk_goes_on() -> None:
    how: dict[str, object] = {"share": "in time", "u_point": "0.03", "walk": "0.5"}
    found = pulled([0.00, 0.01, 0.02], [30, 40, 60], [0.04, 0.05, 0.12], **how)
    assert found["depth_m"].to_list()[:31] == pytest.approx([10.0] * 31)
    assert found["depth_m"].to_list()[60:] == pytest.approx([10.02] * 41)
    before_m2 = 0.03**2 + 0.04**2 + 0.03**2 + walked_m2(0.5, 20)
    after_m2 = 0.03**2 + 0.12**2 + 0.03**2 + walked_m2(0.5, 40)
    assert found["u_depth_m"][10] == pytest.approx(before_m2**0.5, rel=1e-9)
    assert found["u_depth_m"][100] == pytest.approx(after_m2**0.5, rel=1e-9)


@pytest.mark.parametrize("handled", [[20, 70], [20, 45, 70]])
def test_between_two_handlings_the_size_of_a_step_is_not_known(handled: list[int]) -> None:
    """A change of 0.60 m in n steps is taken as n equal ones; the doubt is rectangular, as wide as one of them:
    (0.60 m / n)^2 / 12 (GUM F.2.2.1), on the greater of the two checks' variances.
    """
    step_m = 0.60 / len(handled)
    how: dict[str, object] = {"share": "by steps", "u_point": "0.03", "walk": "0.5"}
    found = pulled([0.00, 0.60], [0, 100], [0.04, 0.12], handled=[on_day(d) for d in handled], **how)
    assert found["depth_m"][10] == pytest.approx(10.00)
    assert found["depth_m"][30] == pytest.approx(10.00 + step_m)
    assert found["depth_m"][90] == pytest.approx(10.60)
    first_m2, second_m2 = 0.04**2 + 0.03**2, 0.12**2 + 0.03**2
    expected_m2 = {
        10: 0.03**2 + first_m2 + walked_m2(0.5, 10),
        30: 0.03**2 + second_m2 + step_m**2 / 12 + walked_m2(0.5, 30),
        90: 0.03**2 + second_m2 + walked_m2(0.5, 10),
    }
    for day, variance_m2 in expected_m2.items():
        assert found["u_depth_m"][day] == pytest.approx(variance_m2**0.5, rel=1e-9)


@pytest.mark.parametrize(("drift_m", "refused"), [(0.13, False), (0.15, True), (-0.13, False), (-0.15, True)])
def test_a_drift_is_refused_only_where_the_checks_own_uncertainty_does_not_explain_it(
    drift_m: float, refused: bool
) -> None:
    """Each check 0.04 m by the tape and 0.03 m by the logger, 0.05 m together: their difference is good to 0.0707 m,
    and twice that is 0.141 m. The level stands still, so that any drift beyond is more than half of its range.
    """
    found = pulled([0.00, drift_m], [0, 100], 0.04, share="in time", u_point="0.03")
    assert found["depth_m"].null_count() == (99 if refused else 0)


def test_one_offset_refuses_no_drift_and_says_nothing_of_it() -> None:
    found = treated([0.0, 0.5], [0, 100], 0.001, share="one offset")
    assert found.findings == ()
    assert found.rows.collect()["depth_m"].null_count() == 0


@pytest.mark.parametrize(
    ("share", "handled", "refused"),
    [("in time", [], True), ("in time", [50], True), ("by steps", [120], True), ("by steps", [50], False)],
)
def test_only_a_step_at_a_handling_explains_a_change_of_the_offset(
    share: str, handled: list[int], refused: bool
) -> None:
    found = pulled([0.0, 0.5], [0, 100], 0.001, share=share, handled=[on_day(day) for day in handled])
    assert found["depth_m"].null_count() == (99 if refused else 0)


def test_a_step_at_a_handling_tells_nothing_of_the_wander() -> None:
    days, still = [0, 20, 40, 60, 80], [0.00, 0.01, 0.00, 0.01, 0.00]
    stepped = [0.00, 0.01, 1.00, 1.01, 1.00]
    handled = [on_day(30)]
    expected = wander_m(still, days, share="by steps", handled=handled)
    assert wander_m(stepped, days, share="by steps", handled=handled) == pytest.approx(expected)
    assert wander_m(stepped, days, share="in time", handled=handled) > 5 * expected


def test_one_offset_learns_no_wander() -> None:
    days = [0, 20, 40, 60, 80]
    quiet, loud = (wander_m([0, by, 0, by, 0], days, share="one offset") for by in (0.0, 0.5))
    assert quiet == loud


@pytest.mark.parametrize(("wait_h", "seen"), [(2.0, True), (2.1, False)])
def test_a_check_counts_where_the_rows_about_it_lie_within_two_usual_steps(wait_h: float, seen: bool) -> None:
    """Hourly rows; then a hole of this length with the check in it, a quarter of an hour after its beginning."""
    at_s = START_S + np.concatenate([np.arange(50), 49 + wait_h + np.arange(50)]) * 3600.0
    check = TapeCheck(START_S + 49.25 * 3600, 12.0, 0.003, "entry-7")
    found = treat(frame(at_s, logged_depth_m=np.full(100, 10.0)), [tape()], SeriesContext(Settings("m"), (check,)))
    assert found.pull is not None
    assert (len(found.pull.offsets), len(found.pull.unmatched)) == ((1, 0) if seen else (0, 1))
    told = {finding.check: finding for finding in found.findings}
    assert ("logger-check-in-gap" in told) != seen
    if not seen:
        assert told["logger-check-in-gap"].message.startswith("at 2026-01-03 01:15 UTC the tape read 12.00 m")
        assert told["logger-check-in-gap"].about == "entry-7"


def test_a_check_is_held_against_the_series_between_its_rows_and_only_within_it() -> None:
    """Rows of 10 and 11 m an hour apart: a quarter of an hour after the first it shows 10.25 m. Given out of order."""
    at_s = START_S + np.arange(4) * 3600.0
    rows = frame(at_s, logged_depth_m=np.array([10.0, 11.0, 11.0, 12.0]))
    at = {"first": 0.0, "between": 0.25, "last": 3.0, "before": -0.1, "after": 3.1}
    checks = [TapeCheck(START_S + hour * 3600, 20.0, 0.004, name) for name, hour in reversed(at.items())]
    pull = treat(rows, [tape(u_point="0.003")], SeriesContext(Settings("m"), tuple(checks))).pull
    assert pull is not None
    assert [offset.check.entry for offset in pull.offsets] == ["first", "between", "last"]
    assert [offset.water_m for offset in pull.offsets] == pytest.approx([-10.0, -10.25, -12.0])
    assert [offset.offset_m for offset in pull.offsets] == pytest.approx([10.0, 9.75, 8.0])
    assert [offset.u_m for offset in pull.offsets] == pytest.approx([0.005] * 3)
    assert pull.unmatched == ()


def test_what_a_logged_value_is_good_to_is_said_by_the_treatment_else_by_the_network() -> None:
    for how, u_m in (({"u_point": "0.02"}, 0.02), ({}, 0.01 * 0.3048)):
        pull = treated([0.0], [0], 0.0, **how).pull
        assert pull is not None
        assert pull.u_point_m == pytest.approx(u_m)
        assert pull.offsets[0].u_m == pytest.approx(u_m)


def drifted(drift_m: float, swing_m: float, settings: Settings, **how: object) -> Treated:
    """A level that goes up and down by swing_m over 100 days while the zero drifts by drift_m."""
    day = np.arange(101)
    logged = 10 + swing_m / 2 * np.sin(2 * np.pi * day / 100)
    at_s = START_S + day * DAY_S
    checks = (TapeCheck(at_s[0], 10.0, 0.001), TapeCheck(at_s[-1], 10.0 + drift_m, 0.001))
    rows = frame(at_s, logged_depth_m=logged)
    return treat(rows, [tape(u_point="0.001", **how)], SeriesContext(settings, checks))  # type: ignore[arg-type]


@pytest.mark.parametrize(("given", "settings", "limit"), [
    ({"drift_share_max": "0.8"}, {}, 0.8), ({}, {}, 0.5), ({}, {"drift_share_max": "0.3"}, 0.3),
])  # fmt: skip
def test_a_drift_is_refused_beyond_its_share_of_the_range(
    given: dict[str, str], settings: dict[str, str], limit: float
) -> None:
    for share, refused in ((0.99 * limit, False), (1.01 * limit, True), (-1.01 * limit, True)):
        found = drifted(share * 0.4, 0.4, Settings("m", settings), **given)
        assert found.pull is not None
        (segment,) = found.pull.segments
        assert (segment.drift_m, segment.range_m) == pytest.approx((share * 0.4, 0.4), rel=1e-2)
        assert (segment.from_s, segment.to_s) == (START_S, START_S + 100 * DAY_S)
        assert segment.refused == refused


@pytest.mark.parametrize(("depth_m", "refused"), [(60.0, True), (70.0, False)])
def test_a_drift_that_passes_as_a_check_of_a_logger_is_never_refused(depth_m: float, refused: bool) -> None:
    """0.01 % of the depth (USGS TM 1-A1 GWPD 16): 6 or 7 mm, either side of a drift of 6.5 mm in still water."""
    at_s = START_S + np.arange(11) * DAY_S
    checks = (TapeCheck(at_s[0], depth_m, 0.001), TapeCheck(at_s[-1], depth_m + 0.0065, 0.001))
    rows = frame(at_s, logged_depth_m=np.full(11, depth_m))
    found = treat(rows, [tape(u_point="0.001")], SeriesContext(Settings("m"), checks))
    assert found.pull is not None
    assert found.pull.segments[0].refused == refused


@pytest.mark.parametrize(
    ("swing_m", "share"), [(0.4, "75%"), (0.04, "750%"), (0.02, "many times more"), (0.0, "many times more")]
)
def test_what_is_refused_is_told_with_its_share(swing_m: float, share: str) -> None:
    (told,) = drifted(0.3, swing_m, Settings("m")).findings
    assert told.message.startswith(
        "from 2026-01-01 00:00 UTC to 2026-04-11 00:00 UTC the logger drifted by 0.3 m while the level went through"
    )
    assert told.message.endswith(f"({share})")


def test_a_refused_stretch_loses_its_depths_and_keeps_those_at_the_checks() -> None:
    days = [0, 40, 100]
    found = pulled([0.0, 0.5, 0.5], days, 0.001, u_point="0.001")
    assert [day for day, depth in enumerate(found["depth_m"]) if depth is None] == list(range(1, 40))
    assert found["depth_m"][0] == pytest.approx(10.0)
    assert found["depth_m"][70] == pytest.approx(10.5)


def test_the_wander_is_learnt_from_the_networks_prior() -> None:
    """Nothing learnt from one check: the median of a scaled inverse chi-square is prior sqrt(dof / chi2's median)."""
    for dof, chi2_median in ((2, 1.3863), (8, 7.3441)):  # tables of chi-square, from memory
        at_s = START_S + np.arange(3) * DAY_S
        settings = Settings("m", {"drift_walk": "0.05 m", "drift_walk_dof": str(dof)})
        context = SeriesContext(settings, (TapeCheck(at_s[0], 10.0, 0.001),))
        pull = treat(frame(at_s, logged_depth_m=np.full(3, 10.0)), [tape()], context).pull
        assert pull is not None
        assert pull.walk.size_m == pytest.approx(0.05 * (dof / chi2_median) ** 0.5, rel=0.03)


def test_a_handling_at_the_very_time_of_a_check_lies_between_no_two() -> None:
    days, still = [0, 50, 100], [0.0, 0.0, 0.3]
    for at_day, blank in ((50, 49), (100, 49), (51, 0)):
        found = pulled(still, days, 0.001, share="by steps", handled=[on_day(at_day)], u_point="0.001")
        assert found["depth_m"].null_count() == blank


def test_a_step_holds_from_the_time_of_handling_on() -> None:
    found = pulled([0.0, 0.3], [0, 100], 0.001, share="by steps", handled=[on_day(60)], u_point="0.001")
    assert found["depth_m"][59] == pytest.approx(10.0)
    assert found["depth_m"][60] == pytest.approx(10.3)
    assert found["offset_m"][60] == pytest.approx(0.3)
