"""Units at the edge: what people write, to SI and back.

Inside the engine every number is in m, kPa, degC, kg, N, kg/m3. Conversion happens once, where a number comes in or
goes out. Factors are exact by definition unless a line says otherwise; source: NIST Special Publication 811 (2008),
appendix B (from memory; checked in tests against `scipy.constants`).
"""

from __future__ import annotations

FOOT_M = 0.3048
US_SURVEY_FOOT_M = 1200 / 3937
PSI_KPA = 6.894757293168
STANDARD_GRAVITY_M_S2 = 9.80665
POUND_KG = 0.45359237
POUND_FORCE_N = POUND_KG * STANDARD_GRAVITY_M_S2

# quantity -> unit as written -> (factor, offset): SI = (number + offset) * factor
UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "length": {
        "m": (1.0, 0.0),
        "cm": (0.01, 0.0),
        "mm": (0.001, 0.0),
        "ft": (FOOT_M, 0.0),
        "in": (0.0254, 0.0),
        "US survey ft": (US_SURVEY_FOOT_M, 0.0),
    },
    "pressure": {
        "kPa": (1.0, 0.0),
        "Pa": (0.001, 0.0),
        "hPa": (0.1, 0.0),
        "mbar": (0.1, 0.0),
        "bar": (100.0, 0.0),
        "psi": (PSI_KPA, 0.0),
        # conventional columns of water at 1000 kg/m3 and standard gravity (ISO 80000-4 annex, from memory)
        "cm of water": (STANDARD_GRAVITY_M_S2 / 100, 0.0),
        "m of water": (STANDARD_GRAVITY_M_S2, 0.0),
        "inHg": (3.386389, 0.0),  # conventional inch of mercury, rounded to seven digits
    },
    "temperature": {"degC": (1.0, 0.0), "degF": (5 / 9, -32.0)},
    "temperature difference": {"degC": (1.0, 0.0), "degF": (5 / 9, 0.0)},
    "temperature gradient": {"degC/m": (1.0, 0.0), "degF/ft": (5 / 9 / FOOT_M, 0.0), "degC/100 m": (0.01, 0.0)},
    "mass": {"kg": (1.0, 0.0), "g": (0.001, 0.0), "lb": (POUND_KG, 0.0)},
    "mass per length": {
        "kg/m": (1.0, 0.0),
        "g/m": (0.001, 0.0),
        "lb/ft": (POUND_KG / FOOT_M, 0.0),
        "lb/100 ft": (POUND_KG / FOOT_M / 100, 0.0),
    },
    "force": {"N": (1.0, 0.0), "lbf": (POUND_FORCE_N, 0.0), "kgf": (STANDARD_GRAVITY_M_S2, 0.0)},
    "area": {"mm2": (1e-6, 0.0), "cm2": (1e-4, 0.0), "m2": (1.0, 0.0), "in2": (0.0254**2, 0.0)},
    "density": {"kg/m3": (1.0, 0.0), "g/cm3": (1000.0, 0.0), "lb/ft3": (POUND_KG / FOOT_M**3, 0.0)},
    "modulus": {"GPa": (1e9, 0.0), "MPa": (1e6, 0.0), "Pa": (1.0, 0.0), "psi": (PSI_KPA * 1000, 0.0)},
    "expansion": {"/degC": (1.0, 0.0), "/degF": (1.8, 0.0)},
    "angle": {"deg": (1.0, 0.0)},
    "duration": {"h": (1.0, 0.0), "min": (1 / 60, 0.0), "s": (1 / 3600, 0.0), "d": (24.0, 0.0), "yr": (8766.0, 0.0)},
    "ratio": {"": (1.0, 0.0), "%": (0.01, 0.0)},
}

_SPELLINGS = {
    "feet": "ft",
    "foot": "ft",
    "ft.": "ft",
    "'": "ft",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "inch": "in",
    "inches": "in",
    "°C": "degC",
    "C": "degC",
    "°F": "degF",
    "F": "degF",
    "°": "deg",
    "degrees": "deg",
    "millibar": "mbar",
    "cmH2O": "cm of water",
    "mH2O": "m of water",
    "in2.": "in2",
    "hours": "h",
    "minutes": "min",
    "seconds": "s",
    "days": "d",
    "years": "yr",
}


def known_unit(unit: str, quantity: str) -> str:
    """The unit in our spelling.

    Parameters
    ----------
    unit
        As written: "feet", "ft", "'".
    quantity
        Kind of quantity, a key of `UNITS`.

    Returns
    -------
    str
        A unit of `UNITS[quantity]`.

    Raises
    ------
    ValueError
        The unit is not one of `quantity`; the message lists those that are.

    Example
    -------
    >>> known_unit("feet", "length")
    'ft'
    """
    if unit in UNITS[quantity]:
        return unit
    spelled = unit.strip()
    spelled = _SPELLINGS.get(spelled, spelled)
    if spelled not in UNITS[quantity]:
        choices = ", ".join(name or "(none)" for name in UNITS[quantity])
        raise ValueError(f"unit {unit!r} is not a unit of {quantity}; use one of: {choices}")
    return spelled


def to_si(number: float, unit: str, quantity: str) -> float:
    """A number in any known unit as SI; the unit is checked by `known_unit`.

    Parameters
    ----------
    number
        In `unit`; NaN stays NaN.
    unit
        As written.
    quantity
        Kind of quantity, a key of `UNITS`.

    Returns
    -------
    float
        In the unit the engine counts in: m, kPa, degC, kg/m3, ...; a duration in h, a modulus in Pa.

    Notes
    -----
    SI = (number + offset) x factor.

    Example
    -------
    >>> to_si(100, "ft", "length"), to_si(50, "degF", "temperature")
    (30.48, 10.0)
    """
    factor, offset = UNITS[quantity][known_unit(unit, quantity)]
    return (number + offset) * factor


def from_si(number: float, unit: str, quantity: str) -> float:
    """An SI number in any known unit; the unit is checked by `known_unit`.

    Parameters
    ----------
    number
        As `to_si` gives it; NaN stays NaN.
    unit
        As written.
    quantity
        Kind of quantity, a key of `UNITS`.

    Returns
    -------
    float
        In `unit`.

    Example
    -------
    >>> round(from_si(10.0, "degF", "temperature"), 9)
    50.0
    """
    factor, offset = UNITS[quantity][known_unit(unit, quantity)]
    return number / factor - offset
