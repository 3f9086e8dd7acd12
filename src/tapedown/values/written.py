"""A number as it was written at the well: its digits are part of the fact.

`84.30 ft` and `84.3 ft` are two different readings: the first was read to a hundredth, the second to a tenth.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from tapedown.values.units import UNITS, from_si, known_unit, to_si

_NUMBER = re.compile(r"([+\-−]?)(\d+(?:[.,]\d*)?|[.,]\d+)\s*(.*)", re.DOTALL)


class Written(NamedTuple):
    """A number as written, with its unit and the kind of quantity it is.

    text      the digits as written, decimal point, optional sign: "84.30"
    unit      unit in our spelling: "ft"
    quantity  "length", "pressure", "temperature", ... (see values.units.UNITS)
    """

    text: str
    unit: str
    quantity: str = "length"

    @property
    def si(self) -> float:
        """Value in SI (m, kPa, degC, ...)."""
        return to_si(float(self.text), self.unit, self.quantity)

    @property
    def decimals(self) -> int:
        """How many digits stand after the point."""
        return len(self.text.partition(".")[2])

    @property
    def resolution_si(self) -> float:
        """Size of one unit in the last written digit, in SI.

        Example
        -------
        >>> round(Written("84.30", "ft").resolution_si, 6)
        0.003048
        """
        return float(10**-self.decimals * UNITS[self.quantity][self.unit][0])

    def __str__(self) -> str:
        return f"{self.text} {self.unit}".strip()


def written(value: object, default_unit: str, quantity: str = "length") -> Written:
    """Read `value` ("84.30", "84.30 ft", 84) as a number with a unit.

    A decimal comma is accepted; thousands separators, exponents, NaN and infinity are not: nobody writes them at a
    well and each has been mistaken for something else.

    Raises
    ------
    ValueError
        It is no number, or its unit is not a unit of `quantity`.

    Example
    -------
    >>> str(written("84.30", "ft")), str(written("25,7 m", "ft"))
    ('84.30 ft', '25.7 m')
    """
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise ValueError(f"{value!r} is not a number; write it like 84.30 or 84.30 {default_unit}")  # noqa: TRY004
    match = _NUMBER.fullmatch(str(value).strip())
    if match is None:
        raise ValueError(f"{value!r} is not a number; write it like 84.30 or 84.30 {default_unit}")
    sign, digits, unit = match.groups()
    digits = digits.replace(",", ".")
    if digits.startswith("."):
        digits = "0" + digits
    return Written(
        text=("-" if sign in {"-", "−"} else sign) + digits,
        unit=known_unit(unit or default_unit, quantity),
        quantity=quantity,
    )


def in_unit(length_m: float, unit: str) -> float:
    """A length in m as a number in `unit` ("ft" or "m").

    Example
    -------
    >>> round(in_unit(30.48, "ft"), 9)
    100.0
    """
    return from_si(length_m, unit, "length")
