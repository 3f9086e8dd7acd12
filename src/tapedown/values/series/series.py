"""Entries about logger series: a file that was read, and a treatment of what it holds.

A series is known by its well and its name there: "level" of MF-11 is "MF-11/level", a barometer hung at MF-01 may be
"MF-01/air".
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.forms import Field, Form, Problem
from tapedown.values.series.logger_files import PROFILE, Profile
from tapedown.values.series.treatments import (
    TREATMENTS,
    Barometer,
    BarometricEfficiency,
    ClockDrift,
    ClockShift,
    OntoTape,
    QualityTests,
    SetAside,
    Treatment,
    UnitMended,
    WaterDensity,
    treatment_name,
)


class LoggerFile(NamedTuple):
    """A logger's file, kept by the SHA-256 of its bytes, and how it is read.

    series  name of the series at this well that its rows belong to
    logger  serial number
    """

    series: str
    file: str
    sha256: str
    logger: str
    profile: Profile
    remarks: str


class SeriesTreatment(NamedTuple):
    """One treatment of a series, and why."""

    series: str
    why: str
    clock_shift: ClockShift | None
    clock_drift: ClockDrift | None
    set_aside: SetAside | None
    unit_mended: UnitMended | None
    barometer: Barometer | None
    water: WaterDensity | None
    barometric_efficiency: BarometricEfficiency | None
    onto_the_tape: OntoTape | None
    quality_tests: QualityTests | None

    @property
    def given(self) -> tuple[Treatment, ...]:
        """The treatments that say anything; the checks see to it that it is one."""
        return tuple(part for part in self[2:] if part is not None and TREATMENTS[treatment_name(part)].body(part))


def treatment_field(name: str) -> str:
    """The field a treatment stands in: "onto_the_tape" for "onto the tape"."""
    return name.replace(" ", "_")


def _just_one(treatment: SeriesTreatment) -> Sequence[Problem]:
    if len(treatment.given) == 1:
        return []
    names = ", ".join(map(treatment_field, TREATMENTS))
    return [Problem("", f"{len(treatment.given)} treatments are given", f"give one of: {names}")]


_SERIES = Field("series", "text", "name of the series at this well, such as level or air", required=True)
FORMS: dict[str, Form] = {
    "logger file": Form(
        "logger file",
        LoggerFile,
        "a file of a logger",
        (
            _SERIES,
            Field("file", "text", "name of the file", required=True),
            Field("sha256", "text", "SHA-256 of its bytes", required=True),
            Field("logger", "text", "serial number of the logger"),
            Field("profile", "form", "how the file is laid out", required=True, form=PROFILE),
            Field("remarks", "text", "anything else"),
        ),
    ),
    "treatment": Form(
        "treatment",
        SeriesTreatment,
        "what is done to a series",
        (
            _SERIES,
            Field("why", "text", "why", required=True),
            *(Field(treatment_field(name), "form", form.help, form=form) for name, form in TREATMENTS.items()),
        ),
        _just_one,
    ),
}
