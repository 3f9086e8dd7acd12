"""Propagation of distributions (JCGM 101:2008) through the measurement equations, against the reductions' budgets.

Every source is drawn from its own distribution and the equation is worked out anew for each draw: nothing of the
budget is used but the sizes of its sources. Repeatability, known with few degrees of freedom, is drawn from Student's
distribution (JCGM 101 6.4.9), whose standard deviation is sqrt(nu / (nu - 2)) times the GUM's u; that is allowed for.
Tolerances: the mean within 5 % of u (second-order terms), u within 1.5 % (sampling error of 4e5 draws is 0.1 to
0.3 %), each end of the 95 % interval within 7 % of the expanded uncertainty: a sum ruled by one or two rectangles has a
narrower 95 % interval than Student's factor gives it (10 % where a single rectangle makes most of it).
"""

from __future__ import annotations

import numpy as np
import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.air_line import line_constant_m
from tapedown.engine.methods.chalked_tape import hold_minus_cut_m
from tapedown.engine.methods.logger_check import submergence_m
from tapedown.engine.physics import stretch
from tapedown.engine.physics.hole import leaning_vertical_m
from tapedown.engine.physics.water import head_m, water_density_kg_m3
from tapedown.values.results import Part, Reduction
from tapedown.values.settings import Settings
from tapedown.values.units import PSI_KPA, STANDARD_GRAVITY_M_S2, to_si
from tests.engine.at_the_well import FOOT_M, STEEL_TAPE, calibrated, construction, gear, point, reduced

N = 400_000


class Draws:
    """Draws of the sources, one generator for a test."""

    def __init__(self, seed: int) -> None:
        self._rng = np.random.default_rng(seed)

    def normal(self, u: float) -> np.ndarray:
        return self._rng.normal(0.0, u, N)

    def repeat(self, part: Part) -> np.ndarray:
        return self._rng.standard_t(part.dof, N) * part.u_m

    def within(self, half: float) -> np.ndarray:
        return self._rng.uniform(-half, half, N)

    def digit(self, step: float) -> np.ndarray:
        return self.within(step / 2)


def repeatability(reduction: Reduction) -> Part:
    return next(part for part in reduction.parts if part.what.startswith("repeatability"))


def agrees(reduction: Reduction, drawn_m: np.ndarray, interval: float = 0.07) -> None:
    main, repeat = reduction.main, repeatability(reduction)
    assert main is not None
    low, high = np.quantile(drawn_m, [0.025, 0.975])
    wider = repeat.u_m**2 * (repeat.dof / (repeat.dof - 2) - 1)
    assert drawn_m.mean() == pytest.approx(main.value_m, abs=0.05 * main.u_m)
    assert drawn_m.std() == pytest.approx((main.u_m**2 + wider) ** 0.5, rel=0.015)
    assert low == pytest.approx(main.value_m - main.expanded_m, abs=interval * main.expanded_m)
    assert high == pytest.approx(main.value_m + main.expanded_m, abs=interval * main.expanded_m)


def test_total_depth_with_every_tape_term_in_a_leaning_hole() -> None:
    context = ReadingContext(
        Settings("ft"),
        point=point("2.40", u_height="0.01"),
        construction=construction(lean="4", u_lean="0.02"),
        gear=gear("ST-014", **STEEL_TAPE) | gear("W-3", type="weight", mass="2 lb", weight_interval="1.20"),
        calibrations=calibrated("ST-014", [("100.00", "100.01"), ("500.00", "500.04")], "between marks"),
    )
    found = reduced(
        "weighted tape",
        {"readings": ["412.35", "412.36"], "tape": "ST-014", "weight": "W-3", "hanging": {"tape_temp": "55 degF"}},
        context,
    )
    assert not {"tape-not-corrected", "tape-terms-incomplete"} & {f.check for f in found.findings}
    draw = Draws(1)
    stiffness, alpha = to_si(29e6, "psi", "modulus") * to_si(0.006, "in2", "area"), 6.45e-6 * 1.8
    shown = 412.355 * FOOT_M
    standard_c, tape_c = to_si(68, "degF", "temperature"), to_si(55, "degF", "temperature")
    tape = shown + draw.digit(0.01 * FOOT_M) + draw.repeat(repeatability(found)) + draw.normal(0.02 * FOOT_M)
    interval = 1.20 * FOOT_M + draw.normal(0.003 * FOOT_M)
    calibration = (0.01 + 0.03 * 312.355 / 400) * FOOT_M + draw.normal(0.002 * FOOT_M)
    heat = stretch.thermal_m(shown, alpha, tape_c + draw.within(2.0), standard_c)
    end_kg = to_si(2, "lb", "mass") * (0.5 + draw.within(0.5))
    load = stretch.hanging_load(end_kg, to_si(2.04, "lb/100 ft", "mass per length"))
    dry = load._replace(end_wet_n=load.end_n, tape_wet_n_m=load.tape_n_m)
    pulled = stretch.elastic_m(shown, dry, to_si(10, "lbf", "force"), stiffness)
    assert abs(np.mean(pulled)) > 0
    doubt = 1 + draw.normal(0.05)
    path = tape + interval + calibration + heat + pulled * doubt
    depth = leaning_vertical_m(path, 4.0 + draw.normal(0.02)) - (2.40 * FOOT_M + draw.normal(0.01 * FOOT_M))
    agrees(found, np.asarray(depth))


def test_chalked_tape_not_corrected_for_heat_and_stretch() -> None:
    given = {"readings": [{"hold": "180.00", "cut": "3.42"}, {"hold": "181.00", "cut": "4.43"}]}
    found = reduced("chalked tape", given, ReadingContext(point=point("1.85")))
    draw = Draws(2)
    hold, cut = 180.5 * FOOT_M, 3.925 * FOOT_M
    digit, length = 0.01 * FOOT_M, hold - cut
    depth = (
        hold_minus_cut_m(hold + draw.digit(digit), cut + draw.digit(digit))
        + draw.repeat(repeatability(found))
        + draw.normal(max(0.005 * FOOT_M, 0.000025 * length))
        + draw.within(1.16e-5 * 17.0 * length)
        + draw.within(0.00002 * length)
        - (1.85 * FOOT_M + draw.normal(0.005 * FOOT_M))
    )
    agrees(found, np.asarray(depth), interval=0.1)


@pytest.mark.parametrize("named", [True, False])
def test_air_line_whose_gauge_cancels_when_it_is_the_same_one(named: bool) -> None:
    given = {"constant_depth": "85.85", "constant_gauge": "28.0", "readings": ["18.0", "18.1"], "water_temp": "54 degF",
             "gauge_error": "0.5 psi"}  # fmt: skip
    found = reduced("air line", given | ({"gauge": "G-3"} if named else {}), ReadingContext(point=point("1.20")))
    draw = Draws(3)
    then_error = draw.within(0.5 * PSI_KPA)
    now_error = then_error if named else draw.within(0.5 * PSI_KPA)
    water_c = to_si(54, "degF", "temperature") + draw.within(2.0)
    density, digit = water_density_kg_m3(water_c), 0.1 * PSI_KPA
    then = head_m(28.0 * PSI_KPA + then_error + draw.digit(digit), density)
    now = head_m(18.05 * PSI_KPA + now_error + draw.digit(digit), density)
    depth = (
        line_constant_m(85.85 * FOOT_M + draw.digit(0.01 * FOOT_M), then)
        - now
        + draw.repeat(repeatability(found))
        - (1.20 * FOOT_M + draw.normal(0.005 * FOOT_M))
    )
    agrees(found, np.asarray(depth))


def test_absolute_logger_less_the_barometer() -> None:
    given = {"readings": ["142.35 kPa", "142.36 kPa"], "type": "absolute", "barometer": "98.2 kPa",
             "water_temp": "11 degC", "hanging_depth": "20.00 m"}  # fmt: skip
    found = reduced(
        "logger check", given, ReadingContext(Settings("m"), point=point("0.60", unit="m", u_height="0.002")), "m"
    )
    draw = Draws(4)
    density = water_density_kg_m3(11.0 + draw.within(2.0))
    pressure = 142.355 + draw.digit(0.01)
    head = submergence_m(pressure, density, STANDARD_GRAVITY_M_S2, 98.2 + draw.digit(0.1))
    instrument = draw.normal(max(0.01 * FOOT_M, 0.001 * float(np.mean(head))))
    depth = 20.0 + draw.digit(0.01) - head + instrument + draw.repeat(repeatability(found)) - (0.6 + draw.normal(0.002))
    agrees(found, np.asarray(depth))


def test_oil_on_water_where_the_interface_enters_twice() -> None:
    given = {"readings": [{"oil": "8.7", "water": "9.1"}], "relative_density": "0.83"}
    found = reduced("oil on water", given, ReadingContext(point=point("1.00", u_height="0.001")))
    draw = Draws(5)
    oil = 8.7 * FOOT_M + draw.digit(0.1 * FOOT_M)
    water = 9.1 * FOOT_M + draw.digit(0.1 * FOOT_M)
    ratio = 0.83 + draw.normal(0.02)
    length = 9.1 * FOOT_M
    depth = (
        water
        - (water - oil) * ratio
        + draw.repeat(repeatability(found))
        + draw.normal(0.005 * FOOT_M)
        + draw.within(1.16e-5 * 17.0 * length)
        + draw.within(0.00002 * length)
        - (1.00 * FOOT_M + draw.normal(0.001 * FOOT_M))
    )
    agrees(found, np.asarray(depth), interval=0.1)
