"""What heat and pull do to a hanging tape.

All lengths are along the tape; x runs up from the tape's lower end. A correction is the amount to add to what the tape
shows: a tape that is longer than its marks say shows too little.

References
----------
Elastic and thermal terms: any text on taping, e.g. the worked examples named in tests/published. Own weight:
gamma L^2 / (2 E). Buoyancy: tension by effective weights; the remaining Poisson term, 1e-4 ft in 200 ft, is left out.
"""

from __future__ import annotations

from typing import NamedTuple

from tapedown.values.results import Num
from tapedown.values.sums import added
from tapedown.values.units import STANDARD_GRAVITY_M_S2


class HangingLoad(NamedTuple):
    """What a hanging tape carries, in N and N/m; `_wet` where the part hangs in water.

    Every field is a float or an array of shape (n,).
    """

    end_n: Num
    end_wet_n: Num
    tape_n_m: Num
    tape_wet_n_m: Num


def hanging_load(
    end_mass_kg: Num,
    tape_mass_kg_m: Num,
    *,
    end_density_kg_m3: Num = 7850.0,
    tape_density_kg_m3: Num = 7850.0,
    water_density_kg_m3: Num = 1000.0,
    gravity_m_s2: float = STANDARD_GRAVITY_M_S2,
) -> HangingLoad:
    """Weights in air and in water of what hangs: end weight and tape. Steel is taken as 7850 kg/m3 (from memory)."""
    end, tape = end_mass_kg * gravity_m_s2, tape_mass_kg_m * gravity_m_s2
    return HangingLoad(
        end_n=end,
        end_wet_n=end * (1 - water_density_kg_m3 / end_density_kg_m3),
        tape_n_m=tape,
        tape_wet_n_m=tape * (1 - water_density_kg_m3 / tape_density_kg_m3),
    )


def thermal_m(length_m: Num, expansion_per_c: Num, mean_temp_c: Num, standard_temp_c: Num) -> Num:
    """Thermal correction alpha (T - T0) L, m: a warm tape is longer than it shows.

    Example
    -------
    >>> round(thermal_m(150.0, 1.16e-5, 10.0, 20.0), 4)
    -0.0174
    """
    return expansion_per_c * (mean_temp_c - standard_temp_c) * length_m


def elastic_m(
    to_m: Num, load: HangingLoad, pull_n: Num, stiffness_n: Num, *, from_m: Num = 0.0, wet_m: Num = 0.0
) -> Num:
    """Elastic correction of the stretch of tape between `from_m` and `to_m`, m: integral of (tension - pull) / (A E).

    Parameters
    ----------
    to_m, from_m : distances from the tape's lower end, float or (n,)
    load : what hangs
    pull_n : pull at which the tape has its marked length
    stiffness_n : section times modulus, A E
    wet_m : length of tape in water, from the lower end; with any, the end weight is in water too

    Example
    -------
    >>> bare = HangingLoad(0.0, 0.0, 1.0, 1.0)  # own weight alone, 1 N/m on 1 MN: w L^2 / (2 A E)
    >>> elastic_m(100.0, bare, 0.0, 1e6)
    0.005
    """
    stretched = _tension_integral(to_m, load, wet_m) - _tension_integral(from_m, load, wet_m)
    return (stretched - pull_n * (to_m - from_m)) / stiffness_n


def _tension_integral(x: Num, load: HangingLoad, wet_m: Num) -> Num:
    wet = _lesser(x, wet_m)
    dry = x - wet
    in_water = (wet_m > 0) * 1.0
    end = load.end_n + (load.end_wet_n - load.end_n) * in_water
    below = load.tape_wet_n_m * wet
    return end * x + below * (wet / 2 + dry) + load.tape_n_m * dry * dry / 2


def _lesser(a: Num, b: Num) -> Num:
    return (a + b - abs(a - b)) / 2


def sag_m(span_m: Num, tape_n_m: Num, pull_n: Num) -> Num:
    """How much longer the tape is than its chord between two supports: w^2 L^3 / (24 P^2), m.

    A certificate made with the tape held at its ends only gives the chord; hanging, the whole tape counts.
    """
    return tape_n_m**2 * span_m**3 / (24 * pull_n**2)


def composite(layers: list[tuple[float, float, float]]) -> tuple[float, float]:
    """Stiffness (N) and expansion (per degC) of a tape of several materials stretched together.

    Parameters
    ----------
    layers : (area_m2, modulus_pa, expansion_per_c) of each material; together EA = sum E_i A_i and
        alpha = sum E_i A_i alpha_i / EA

    Raises
    ------
    ValueError
        No layers, or a stiffness that is not positive.
    """
    stiffness = added(area * modulus for area, modulus, _ in layers)
    if stiffness <= 0:
        raise ValueError(f"layers give a stiffness of {stiffness} N; areas and moduli must be positive")
    return stiffness, added(area * modulus * alpha for area, modulus, alpha in layers) / stiffness


def mean_temp_c(surface_temp_c: Num, gradient_c_per_m: Num, length_m: Num) -> Num:
    """Mean of a temperature that changes linearly from the measuring point down: Ts + G L / 2."""
    return surface_temp_c + gradient_c_per_m * length_m / 2
