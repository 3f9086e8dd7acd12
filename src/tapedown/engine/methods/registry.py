"""The methods by name: one row each. A new method is a module, a form and a row here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.air_line import reduce_air_line
from tapedown.engine.methods.chalked_tape import reduce_chalked_tape
from tapedown.engine.methods.electric_tape import reduce_electric_tape
from tapedown.engine.methods.flowing_well import reduce_flowing_gauge, reduce_standpipe
from tapedown.engine.methods.logger_check import reduce_logger_check
from tapedown.engine.methods.oil_on_water import reduce_oil_on_water
from tapedown.engine.methods.reported import reduce_reported
from tapedown.engine.methods.total_depth import reduce_total_depth
from tapedown.values.reading_forms import gear_named
from tapedown.values.readings import ReadingSet
from tapedown.values.results import Reduction

ENGINE_VERSION = "2"
"""Rises when a number may come out differently; see CHANGES, "Numbers that change"."""

REDUCERS: dict[str, Callable[[Any, ReadingContext], Reduction]] = {
    "weighted tape": reduce_total_depth,
    "chalked tape": reduce_chalked_tape,
    "electric tape": reduce_electric_tape,
    "air line": reduce_air_line,
    "flowing gauge": reduce_flowing_gauge,
    "standpipe": reduce_standpipe,
    "logger check": reduce_logger_check,
    "oil on water": reduce_oil_on_water,
    "reported": reduce_reported,
}


def reduce_readings(method: str, read: ReadingSet, context: ReadingContext) -> Reduction:
    """Work out a reading set; settings of the gear that was read win over the network's.

    Parameters
    ----------
    method
        Name of the method, one of `REDUCERS`; another is a KeyError.
    read
        The set as written, of that method.
    context
        What stood around the reading.

    Returns
    -------
    Reduction
        Every step, result and finding.
    """
    for serial in gear_named(method, read).values():
        context = context.with_gear(serial)
    return REDUCERS[method](read, context)
