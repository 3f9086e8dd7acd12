"""Corrections of a hanging tape: calibration, heat, own weight, hanging weight, the certificate's pull. All or none.

The pull of the certificate shortens about as much as the tape's own weight lengthens, up to some 1000 ft; correcting
one without the other makes a reading worse, so the terms are applied together or not at all, and what is left out is
carried as uncertainty.
"""

from __future__ import annotations

from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.physics import stretch
from tapedown.engine.tape.calibration import calibration_step
from tapedown.engine.uncertainty.budget import half_width
from tapedown.engine.uncertainty.digits import rounded
from tapedown.values.gear import Gear
from tapedown.values.readings import Hanging
from tapedown.values.results import MANY, Finding, Part, Step

_STIFFNESS_DOUBT = 0.05  # section, modulus and masses together, standard, ours
_STEEL_EXPANSION_PER_C = 1.16e-5  # 6.45e-6 /degF; JUST and other taping texts


class Hung(NamedTuple):
    """How the tape hung: marks read, what hung on it, whether that weight stood on the bottom.

    from_m, to_m  marks read, along the tape from its zero, m
    end           gear hanging at the tape's end, None when not named
    resting       the weight stands on the bottom: between none and all of it hangs on the tape
    wet_m         length of tape in water, m
    """

    tape: str
    from_m: float
    to_m: float
    hanging: Hanging
    end: Gear | None = None
    resting: bool = False
    wet_m: float = 0.0

    @property
    def length_m(self) -> float:
        """Length of tape between the two marks, m."""
        return self.to_m - self.from_m


class Corrections(NamedTuple):
    """Steps to add, whether every physical term is among them, findings."""

    steps: list[Step]
    corrected: bool
    findings: list[Finding]


def tape_corrections(hung: Hung, context: ReadingContext) -> Corrections:
    """Everything to add to what the tape showed.

    The calibration step, then heat and stretch when every figure for them is known; else one step of no amount that
    carries what was left out as uncertainty. An electric tape with a calibration is taken as corrected by it.

    Parameters
    ----------
    hung
        Marks read and what hung on the tape, m.
    context
        Gear and calibrations in force, gravity at the well, the network's settings.

    Returns
    -------
    Corrections
        Steps to add, m; whether the tape counts as corrected; findings about gear, calibration and what is missing.
    """
    findings: list[Finding] = []
    gear = context.known_gear(hung.tape, findings)
    if gear and gear.length and max(hung.to_m, hung.from_m) > gear.length.si + 1e-9:
        findings.append(_too_long(hung, gear, context))
    calibration, applied, of_calibration = calibration_step(hung.tape, hung.from_m, hung.to_m, context)
    findings += of_calibration
    missing = _missing(gear, hung)
    if gear and not missing:
        steps = [_thermal_step(gear, hung, context, findings), *_elastic_steps(gear, hung, context)]
        return Corrections([calibration, *steps], corrected=True, findings=findings)
    if gear and _began(gear):
        findings.append(_incomplete(gear, missing))
    if gear is not None and gear.type == "electric tape" and applied:
        return Corrections([calibration], corrected=True, findings=findings)
    if hung.length_m > context.settings.si("tape_correct_beyond"):
        findings.append(_uncorrected(hung, context, missing))
    return Corrections([calibration, _left_out(hung, context)], corrected=False, findings=findings)


def _missing(gear: Gear | None, hung: Hung) -> list[str]:
    """Figures still needed before any physical term may be applied."""
    if gear is None:
        return ["the tape's own figures"]
    need = {
        "standard temperature": gear.standard_temp,
        "standard pull": gear.standard_pull,
        "mass per length": gear.mass_per_length,
        "mass of the hanging weight": _end_mass(gear, hung),
    }
    if not gear.layers:
        need |= {"cross-section": gear.area, "modulus": gear.modulus, "expansion": gear.expansion}
    return [name for name, value in need.items() if value is None]


def _began(gear: Gear) -> bool:
    return any((gear.standard_temp, gear.standard_pull, gear.area, gear.modulus, gear.expansion, gear.layers))


def _end_mass(gear: Gear, hung: Hung) -> float | None:
    carrier = hung.end if hung.end is not None else gear
    return carrier.mass.si if carrier.mass else None


def _thermal_step(gear: Gear, hung: Hung, context: ReadingContext, findings: list[Finding]) -> Step:
    temp_c, half_c, how = _temperature(hung, context)
    if "not measured" in how:
        findings.append(
            finding(
                "tape-temperature-unknown",
                f"tape temperature taken as {temp_c:g} +- {half_c:g} degC",
                "note the temperature of the air and of the water next time",
            )
        )
    alpha = _stiffness(gear)[1]
    standard_c = gear.standard_temp.si if gear.standard_temp else 0.0
    add = stretch.thermal_m(hung.length_m, alpha, temp_c, standard_c)
    part = half_width("tape temperature", alpha * half_c * hung.length_m, how)
    note = (
        f"{alpha:.3g} /degC x ({rounded(temp_c, 0.1)} - {rounded(standard_c, 0.1)}) degC x {context.say(hung.length_m)}"
    )
    return Step("tape warmer or colder than its certificate", add, (part,), "alpha (T - T0) L", note)


def _temperature(hung: Hung, context: ReadingContext) -> tuple[float, float, str]:
    settings, hanging = context.settings, hung.hanging
    if hanging.tape_temp is not None:
        return hanging.tape_temp.si, settings.si("tape_temp_half_width"), settings.source("tape_temp_half_width")
    if hanging.surface_temp is not None:
        gradient = hanging.temp_gradient.si if hanging.temp_gradient else 0.0
        mean = stretch.mean_temp_c(hanging.surface_temp.si, gradient, hung.length_m)
        return mean, settings.si("tape_temp_half_width"), settings.source("tape_temp_half_width")
    half = settings.si("tape_temp_unknown_half_width")
    return settings.si("tape_temp_unknown"), half, "not measured: " + settings.source("tape_temp_unknown")


def _stiffness(gear: Gear) -> tuple[float, float]:
    """Stiffness (N) and expansion (per degC) of a tape whose figures are complete."""
    if gear.layers:
        return stretch.composite([(x.area.si, x.modulus.si, x.expansion.si) for x in gear.layers])
    if gear.area is None or gear.modulus is None or gear.expansion is None:
        raise ValueError(f"tape {gear.serial} has no section, modulus or expansion")
    return gear.area.si * gear.modulus.si, gear.expansion.si


def _elastic_steps(gear: Gear, hung: Hung, context: ReadingContext) -> list[Step]:
    stiffness, _ = _stiffness(gear)
    end_kg, tape_kg_m = _end_mass(gear, hung) or 0.0, gear.mass_per_length.si if gear.mass_per_length else 0.0
    carried = end_kg / 2 if hung.resting else end_kg
    load = stretch.hanging_load(
        carried,
        tape_kg_m,
        end_density_kg_m3=_density(hung.end),
        tape_density_kg_m3=_density(gear),
        gravity_m_s2=context.gravity_m_s2,
    )

    def stretched(pull_n: float = 0.0, **carried_n: float) -> float:
        alone = stretch.HangingLoad(0.0, 0.0, 0.0, 0.0)._replace(**carried_n)
        return float(stretch.elastic_m(hung.to_m, alone, pull_n, stiffness, from_m=hung.from_m, wet_m=hung.wet_m))

    pull_n = gear.standard_pull.si if gear.standard_pull else 0.0
    own = stretched(tape_n_m=load.tape_n_m, tape_wet_n_m=load.tape_wet_n_m)
    end = stretched(end_n=load.end_n, end_wet_n=load.end_wet_n)
    pull = stretched(pull_n)
    doubt = Part("", "section, modulus and masses", _STIFFNESS_DOUBT * (own + end + pull), MANY, "5 %, ours")
    resting = half_width("share of the weight the bottom carries", end, "none to all of it rests")
    wet = f", {context.say(hung.wet_m)} of it in water" if hung.wet_m > 0 else ""
    half = " (half of it: the weight stands on the bottom)" if hung.resting else ""
    own_note = f"{context.say(hung.length_m)} hanging{wet}"
    steps = [
        Step("stretch by the tape's own weight", own, (), "w L^2 / (2 A E)", own_note),
        Step("stretch by the hanging weight", end, (resting,) * hung.resting, "W L / (A E)", f"{carried:.3g} kg{half}"),
        Step("pull of the certificate", pull, (doubt,), "-P0 L / (A E)", f"{pull_n:.4g} N"),
    ]
    return steps + _sag_steps(gear, hung, load.tape_n_m, pull_n)


def _sag_steps(gear: Gear, hung: Hung, tape_n_m: float, pull_n: float) -> list[Step]:
    """A certificate made with the tape held at its ends only: the tape is longer than that chord."""
    if gear.support != "ends only" or gear.length is None:
        return []
    share = hung.length_m / gear.length.si
    add = stretch.sag_m(gear.length.si, tape_n_m, pull_n) * share
    return [Step("sag in the certificate", add, (), "w^2 L^3 / (24 P^2), by share of length", "held at its ends only")]


def _density(gear: Gear | None) -> float:
    return gear.density.si if gear is not None and gear.density is not None else 7850.0


def _left_out(hung: Hung, context: ReadingContext) -> Step:
    """What heat and stretch may have done to a tape that is not corrected for them."""
    settings, length = context.settings, hung.length_m
    off_c = abs(settings.si("tape_temp_unknown") - 20.0) + settings.si("tape_temp_unknown_half_width")
    parts = (
        half_width(
            "heat, not corrected", _STEEL_EXPANSION_PER_C * off_c * length, settings.source("tape_temp_unknown")
        ),
        half_width("stretch, not corrected", settings.si("stretch_doubt") * length, settings.source("stretch_doubt")),
    )
    return Step("heat and stretch of the tape, not corrected", 0.0, parts, "", "carried as uncertainty")


def _too_long(hung: Hung, gear: Gear, context: ReadingContext) -> Finding:
    length = gear.length.si if gear.length else 0.0
    return finding(
        "longer-than-tape",
        f"{context.say(hung.to_m)} was read on tape {gear.serial}, which is {context.say(length)} long",
        "read the foot mark aloud; check the serial number of the tape",
    )


def _incomplete(gear: Gear, missing: list[str]) -> Finding:
    return finding(
        "tape-terms-incomplete",
        f"tape {gear.serial} is not corrected for heat and stretch: {', '.join(missing)} missing. The terms partly "
        "cancel (own weight against the certificate's pull), so some without the others would make the depth worse",
        "enter what is missing from the certificate of the tape",
    )


def _uncorrected(hung: Hung, context: ReadingContext, missing: list[str]) -> Finding:
    limit = context.say(context.settings.si("tape_correct_beyond"))
    return finding(
        "tape-not-corrected",
        f"{context.say(hung.length_m)} of tape is more than {limit}: heat and stretch matter and are not corrected",
        f"needed: {', '.join(missing)}",
    )
