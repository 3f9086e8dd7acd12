"""Gear: tapes, weights, gauges, loggers, and their calibrations.

A tape's figures are what its maker's certificate gives: without standard temperature and pull nothing about heat and
stretch can be said.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.values.forms import Field, Form, Problem
from tapedown.values.settings import checked_settings
from tapedown.values.wells import SETTING, NamedValue
from tapedown.values.written import Written

GEAR_TYPES = ("steel tape", "electric tape", "weight", "gauge", "logger", "barometer", "other")


class Layer(NamedTuple):
    """One material of a composite tape: section, modulus, expansion."""

    material: str
    area: Written
    modulus: Written
    expansion: Written


class Gear(NamedTuple):
    """One piece of gear, known by its serial number."""

    serial: str
    type: str
    description: str
    length: Written | None
    graduation: Written | None
    area: Written | None
    mass_per_length: Written | None
    modulus: Written | None
    expansion: Written | None
    density: Written | None
    layers: tuple[Layer, ...]
    standard_temp: Written | None
    standard_pull: Written | None
    support: str
    mass: Written | None
    weight_interval: Written | None
    range: str
    settings: tuple[NamedValue, ...]
    remarks: str


class CheckedMark(NamedTuple):
    """One mark checked: what the gear showed and what was true, both along the tape."""

    shown: Written
    true: Written
    u: Written | None


class Calibration(NamedTuple):
    """A calibration: marks against a reference, and how it is to be applied.

    apply       "between marks" reads between the marks; "straight line" fits one by least squares; "checked" applies
                nothing
    comparison  id of the side-by-side comparison it was made of, "" for none
    """

    serial: str
    against: str
    marks: tuple[CheckedMark, ...]
    apply: str
    remarks: str
    comparison: str = ""


class DepthCompared(NamedTuple):
    """One depth at which two tapes were held side by side, or lowered one after the other: what each showed."""

    reference: Written
    shown: Written


class SideBySide(NamedTuple):
    """A tape compared with a reference tape at several depths. The comparison itself applies nothing.

    serial     the tape that is compared
    reference  the tape it is held against
    u_setting  standard uncertainty of bringing the two readings to the same point or the same water
    """

    serial: str
    reference: str
    pairs: tuple[DepthCompared, ...]
    u_setting: Written | None
    remarks: str


def _another_tape(compared: SideBySide) -> Sequence[Problem]:
    if compared.serial == compared.reference:
        return [Problem("reference", "a tape cannot be its own reference", "name the tape it was held against")]
    return []


def _settings_known(gear: Gear) -> Sequence[Problem]:
    try:
        checked_settings({row.name: row.value for row in gear.settings})
    except ValueError as error:
        return [Problem("settings", str(error), "the settings and their defaults are in the docs")]
    return []


def _marks_in_order(calibration: Calibration) -> Sequence[Problem]:
    shown = [mark.shown.si for mark in calibration.marks]
    if any(b <= a for a, b in itertools.pairwise(shown)):
        return [Problem("marks", "marks are not in order of length", "sort them by what the tape showed, each once")]
    if calibration.apply == "straight line" and len(shown) < 3:
        return [Problem("marks", f"{len(shown)} marks cannot carry a line with its uncertainty", "check three or more")]
    return []


FORMS: dict[str, Form] = {
    "gear": Form(
        "gear",
        Gear,
        "a piece of gear",
        (
            Field("serial", "text", "serial number", required=True),
            Field("type", "choice", "what it is", required=True, choices=GEAR_TYPES),
            Field("description", "text", "what it looks like"),
            Field("length", "length", "length of the tape"),
            Field("graduation", "length", "smallest division"),
            Field("area", "area", "cross-section of the band", metric="mm2", feet="in2"),
            Field("mass_per_length", "mass per length", "mass of the tape per length", metric="kg/m", feet="lb/100 ft"),
            Field("modulus", "modulus", "modulus of elasticity", metric="GPa", feet="psi"),
            Field("expansion", "expansion", "thermal expansion", metric="/degC", feet="/degF"),
            Field("density", "density", "density of the material", metric="kg/m3", feet="lb/ft3"),
            Field(
                "layers",
                "form",
                "materials of a composite tape (wires, jacket)",
                many=True,
                form=Form(
                    "layer",
                    Layer,
                    "one material of a composite tape",
                    (
                        Field("material", "text", "material"),
                        Field("area", "area", "cross-section", required=True, metric="mm2", feet="in2"),
                        Field("modulus", "modulus", "modulus", required=True, metric="GPa", feet="psi"),
                        Field("expansion", "expansion", "expansion", required=True, metric="/degC", feet="/degF"),
                    ),
                ),
            ),
            Field("standard_temp", "temperature", "temperature of the certificate", metric="degC", feet="degF"),
            Field("standard_pull", "force", "pull of the certificate", metric="N", feet="lbf"),
            Field("support", "choice", "support at that pull", choices=("throughout", "ends only")),
            Field("mass", "mass", "mass of the weight", metric="kg", feet="lb"),
            Field("weight_interval", "length", "tape zero to bottom of the hanging weight"),
            Field("range", "text", "range of a gauge or logger, in words"),
            Field("settings", "form", "settings that differ for this piece", many=True, form=SETTING),
            Field("remarks", "text", "anything else"),
        ),
        _settings_known,
    ),
    "calibration": Form(
        "calibration",
        Calibration,
        "a calibration against a reference",
        (
            Field("serial", "text", "serial number of the gear", required=True),
            Field("against", "text", "reference tape, certificate or laboratory", required=True),
            Field(
                "marks",
                "form",
                "marks checked",
                required=True,
                many=True,
                form=Form(
                    "mark",
                    CheckedMark,
                    "one mark checked",
                    (
                        Field("shown", "length", "what the tape showed", required=True),
                        Field("true", "length", "what the reference showed", required=True),
                        Field("u", "length", "standard uncertainty of the reference there"),
                    ),
                ),
            ),
            Field(
                "apply",
                "choice",
                "how it is applied",
                required=True,
                choices=("between marks", "straight line", "checked"),
            ),
            Field("remarks", "text", "anything else"),
            Field("comparison", "text", "id of the side-by-side comparison it was made of"),
        ),
        _marks_in_order,
    ),
    "side by side": Form(
        "side by side",
        SideBySide,
        "a tape compared with a reference tape at several depths",
        (
            Field("serial", "text", "serial number of the tape compared", required=True),
            Field("reference", "text", "serial number of the reference tape", required=True),
            Field(
                "pairs",
                "form",
                "depths compared",
                required=True,
                many=True,
                form=Form(
                    "pair",
                    DepthCompared,
                    "one depth compared",
                    (
                        Field("reference", "length", "what the reference showed", required=True),
                        Field("shown", "length", "what the tape showed", required=True),
                    ),
                ),
            ),
            Field("u_setting", "length", "standard uncertainty of bringing both to the same water or mark"),
            Field("remarks", "text", "anything else"),
        ),
        _another_tape,
    ),
}
