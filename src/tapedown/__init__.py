"""tapedown: from the tape at the well to a number others can rely on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tapedown.version import VERSION

if TYPE_CHECKING:
    from pathlib import Path

    from tapedown.notebook import Fen

__version__ = VERSION
__all__ = ["__version__", "open"]


def open(place: str | Path, *, as_of: str = "") -> Fen:  # noqa: A001 - read as tapedown.open
    """Open a network for looking: frames of wells, readings and reductions (see `tapedown.notebook`).

    Parameters
    ----------
    place : folder of the network, its record file, or the address of its database
    as_of : a day or a time; everything written later is left out

    Raises
    ------
    NoNetwork
    """
    from tapedown.notebook import open_fen  # the program itself never needs it

    return open_fen(place, as_of=as_of)
