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
    """Weights in air and in water of what hangs: the weight at the end and the tape itself.

    Parameters
    ----------
    end_mass_kg
        Mass of what hangs at the tape's end, kg, float or (n,).
    tape_mass_kg_m
        Mass of a metre of tape, kg/m, float or (n,).
    end_density_kg_m3
        Density of what hangs at the end, kg/m3, float or (n,); steel is taken as 7850 (from memory).
    tape_density_kg_m3
        Density of the tape, kg/m3, float or (n,); steel likewise.
    water_density_kg_m3
        Density of the water in the well, kg/m3, float or (n,).
    gravity_m_s2
        Gravity at the well, m/s2.

    Returns
    -------
    HangingLoad
        Weights in N and N/m, float or (n,); NaN where a figure they need is NaN.

    Notes
    -----
    In water a weight W of density rho counts as W (1 - rho_w / rho); it is negative for what floats.

    Example
    -------
    >>> load = hanging_load(2.0, 0.02)
    >>> round(load.end_n, 3), round(load.end_wet_n, 3)
    (19.613, 17.115)
    """
    end, tape = end_mass_kg * gravity_m_s2, tape_mass_kg_m * gravity_m_s2
    return HangingLoad(
        end_n=end,
        end_wet_n=end * (1 - water_density_kg_m3 / end_density_kg_m3),
        tape_n_m=tape,
        tape_wet_n_m=tape * (1 - water_density_kg_m3 / tape_density_kg_m3),
    )


def thermal_m(length_m: Num, expansion_per_c: Num, mean_temp_c: Num, standard_temp_c: Num) -> Num:
    """Thermal correction: a warm tape is longer than it shows.

    Parameters
    ----------
    length_m
        Length of tape between the marks read, m, float or (n,).
    expansion_per_c
        Thermal expansion alpha of the tape, 1/degC.
    mean_temp_c
        Temperature of that tape, mean over its length, degC, float or (n,).
    standard_temp_c
        Temperature at which the marks are right, degC.

    Returns
    -------
    float or (n,)
        alpha (T - T0) L, the amount to add, m; NaN where any of them is NaN.

    Example
    -------
    >>> round(thermal_m(150.0, 1.16e-5, 10.0, 20.0), 4)
    -0.0174
    """
    return expansion_per_c * (mean_temp_c - standard_temp_c) * length_m


def elastic_m(
    to_m: Num, load: HangingLoad, pull_n: Num, stiffness_n: Num, *, from_m: Num = 0.0, wet_m: Num = 0.0
) -> Num:
    """Elastic correction of the stretch of tape between two of its marks.

    Parameters
    ----------
    to_m
        Distance of the upper mark from the tape's lower end, m, float or (n,).
    load
        What the tape carries; a field left at 0 leaves its share out.
    pull_n
        Pull at which the tape has its marked length, N.
    stiffness_n
        Section times modulus A E, N.
    from_m
        Distance of the lower mark from the tape's lower end, m, float or (n,).
    wet_m
        Length of tape in water, from the lower end, m; with any, the end weight is in water too.

    Returns
    -------
    float or (n,)
        The amount to add, m; NaN where any of them is NaN.

    Notes
    -----
    The integral of (tension - pull) / (A E) from `from_m` to `to_m`; the tension is that of what hangs below, by
    effective weights in water. Hooke's law holds; the section does not change along the tape.

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
    """How much longer a tape is than its chord between two supports: w^2 L^3 / (24 P^2).

    A certificate made with the tape held at its ends only gives the chord; hanging, the whole tape counts.

    Parameters
    ----------
    span_m
        Distance L between the supports, m, float or (n,).
    tape_n_m
        Weight w of a metre of tape in air, N/m.
    pull_n
        Pull P at the ends, N, > 0.

    Returns
    -------
    float or (n,)
        Tape less chord, m; NaN where any of them is NaN. Small sag is assumed.

    Example
    -------
    >>> round(sag_m(30.0, 0.2, 50.0), 6)
    0.018
    """
    return tape_n_m**2 * span_m**3 / (24 * pull_n**2)


def composite(layers: list[tuple[float, float, float]]) -> tuple[float, float]:
    """Stiffness and expansion of a tape of several materials stretched together.

    Parameters
    ----------
    layers
        (area_m2, modulus_pa, expansion_per_c) of each material: section, m2; modulus, Pa; thermal expansion, 1/degC.

    Returns
    -------
    tuple
        Stiffness EA = sum E_i A_i, N, and expansion alpha = sum E_i A_i alpha_i / EA, 1/degC.

    Raises
    ------
    ValueError
        No layers, or a stiffness that is not positive.

    Example
    -------
    >>> stiffness_n, expansion_per_c = composite([(3e-6, 2e11, 1.16e-5), (6e-6, 2e9, 6e-5)])
    >>> round(stiffness_n), round(expansion_per_c * 1e6, 2)
    (612000, 12.55)
    """
    stiffness = added(area * modulus for area, modulus, _ in layers)
    if stiffness <= 0:
        raise ValueError(f"layers give a stiffness of {stiffness} N; areas and moduli must be positive")
    return stiffness, added(area * modulus * alpha for area, modulus, alpha in layers) / stiffness


def mean_temp_c(surface_temp_c: Num, gradient_c_per_m: Num, length_m: Num) -> Num:
    """Mean of a temperature that changes linearly from the measuring point down: Ts + G L / 2."""
    return surface_temp_c + gradient_c_per_m * length_m / 2
