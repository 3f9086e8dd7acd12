"""A number as it was written at the well: its digits are part of the fact.

`84.30 ft` and `84.3 ft` are two different readings: the first was read to a hundredth, the second to a tenth.
"""

from __future__ import annotations

from typing import NamedTuple

from tapedown.values.units import UNITS, from_si, known_unit, to_si

MOST_DIGITS = 40
"""A number longer than this is no reading, and its powers would leave the range of a float."""


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
    """Read what somebody wrote as a number with a unit.

    A decimal comma is accepted; thousands separators, exponents, NaN and infinity are not: nobody writes them at a
    well and each has been mistaken for something else.

    Parameters
    ----------
    value
        "84.30", "84.30 ft", 84.
    default_unit
        Unit of a number that has none of its own.
    quantity
        Kind of quantity, a key of `UNITS`.

    Returns
    -------
    Written
        Digits as written, with a decimal point; unit in our spelling.

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
    sign, digits, unit = _split(str(value).strip())
    if "," in str(value) and len(digits.partition(".")[2]) == 3 and digits[0] not in "0.":
        raise ValueError(f"{value!r} may be a thousand or a decimal comma; write it with a point or without a comma")
    if not any(c.isdigit() for c in digits):
        raise ValueError(f"{value!r} is not a number; write it like 84.30 or 84.30 {default_unit}")
    if len(digits) > MOST_DIGITS:
        raise ValueError(f"{digits[:12]}... has more digits than anybody reads; write it like 84.30 {default_unit}")
    return Written(
        text=sign + (digits if digits[0] != "." else "0" + digits),
        unit=known_unit(unit or default_unit, quantity),
        quantity=quantity,
    )


_DIGITS = frozenset("0123456789")


def _split(text: str) -> tuple[str, str, str]:
    """Sign, digits (with a point) and what follows. By hand: the sheet starts sooner without regular expressions."""
    sign = text[:1] if text[:1] in ("+", "-", "−") else ""
    rest = text[len(sign) :]
    end, points = 0, 0
    while end < len(rest) and (rest[end] in _DIGITS or (rest[end] in ".," and not points)):
        points += rest[end] in ".,"
        end += 1
    return "-" if sign == "−" else sign, rest[:end].replace(",", "."), rest[end:].strip()


def in_unit(length_m: float, unit: str) -> float:
    """A length as a number in the unit people write.

    Parameters
    ----------
    length_m
        Length, m; NaN stays NaN.
    unit
        "ft" or "m", or another unit of length.

    Returns
    -------
    float
        In `unit`, not rounded.

    Example
    -------
    >>> round(in_unit(30.48, "ft"), 9)
    100.0
    """
    return from_si(length_m, unit, "length")
