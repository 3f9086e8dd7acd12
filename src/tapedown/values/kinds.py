"""Every kind of entry and its form."""

from __future__ import annotations

from tapedown.values import gear, reading_forms, rounds, wells
from tapedown.values.forms import Form
from tapedown.values.ledger import reviews
from tapedown.values.series import series

KINDS: dict[str, Form] = {
    **wells.FORMS, **gear.FORMS, **reading_forms.FORMS, **rounds.FORMS, **reviews.FORMS, **series.FORMS,
    "readings": reading_forms.READING_SETS,
}  # fmt: skip
"""kind -> form."""


def about_well(code: str) -> str:
    """What an entry about a well is about.

    Parameters
    ----------
    code
        Code of the well.

    Returns
    -------
    str
        The `about` of its entries.

    Example
    -------
    >>> about_well("MF-07")
    'well/MF-07'
    """
    return f"well/{code}"


def about_gear(serial: str) -> str:
    """What an entry about a piece of gear is about."""
    return f"gear/{serial}"


def about_round(name: str) -> str:
    """What an entry about a round is about."""
    return f"round/{name}"


def about_device(name: str) -> str:
    """What an entry about a device is about."""
    return f"device/{name}"


ABOUT_NETWORK = "network"
