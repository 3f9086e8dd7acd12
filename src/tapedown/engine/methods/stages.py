"""From what a method read to the results: hole, measuring point, land surface, elevation, digits, use.

Every method ends here, so signs and references are written down once: depth below land surface is depth below the
measuring point minus the point's height, which is + above land surface (USGS TM 1-A1 GWPD 3, figure 1).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.checks.at_the_well import (
    DEEPER_THAN,
    DISTURBED,
    NOTHING,
    PUMPING,
    RECOVERING,
    contradictions,
    doubts_of,
    hours_since_pump,
    may_be_total_depth,
    read_although,
    stands_for,
)
from tapedown.engine.checks.named import by_weight, finding, quality_after
from tapedown.engine.checks.wells import beyond_well
from tapedown.engine.context import ReadingContext
from tapedown.engine.physics import hole
from tapedown.engine.repeats.agreement import Agreement
from tapedown.engine.uncertainty.budget import amount, parts_of, scaled, total
from tapedown.engine.uncertainty.digits import reporting_digits
from tapedown.values.results import (
    BELOW_LAND,
    BELOW_POINT,
    ELEVATION,
    MANY,
    Finding,
    Num,
    OneSided,
    Part,
    Reduction,
    Stage,
    Step,
)
from tapedown.values.seen import RUNNING, RUNS_OVER, seen_words, spoken_hours

TOTAL_DEPTH = "total depth"
_GWPD_3 = "USGS TM 1-A1 GWPD 3"


class Worked(NamedTuple):
    """What a method hands over.

    method        name of the method
    path          steps along the hole, from the measuring point
    vertical      steps that are vertical whatever the hole does (heads)
    agreement     of the repeats
    resolution_m  coarsest digit read
    corrected     every tape term is applied, or not; None when no tape of ours was read
    bottom        a bottom was felt, not water
    taped         somebody read this now at the well, so that what goes on there can speak against it
    findings, one_sided  so far
    """

    method: str
    path: list[Step]
    agreement: Agreement
    resolution_m: float
    vertical: Sequence[Step] = ()
    corrected: bool | None = None
    bottom: bool = False
    taped: bool = True
    findings: Sequence[Finding] = ()
    one_sided: Sequence[OneSided] = ()


def finish(worked: Worked, context: ReadingContext) -> Reduction:
    """The reduction of a set read from the measuring point.

    Parameters
    ----------
    worked
        Steps, repeats and findings of the method.
    context
        Point, hole, position and what goes on at the well.

    Returns
    -------
    Reduction
        Depth below measuring point, m, then below land surface where a point is in force, then the elevation where that
        of land surface is known.

    Notes
    -----
    Steps along the hole are brought to the vertical in a leaning or surveyed hole; in one that is neither, how far it
    may lean stands beside the result as an effect to one side.
    """
    findings = [*worked.findings, *worked.agreement.findings]
    path_m = amount(worked.path)
    steps = [*_path_steps(worked.path, path_m, context), *worked.vertical]
    level = context.settings.si("coverage")
    stages = [Stage("", tuple(steps), total(BELOW_POINT, amount(steps), parts_of(steps), level))]
    if context.point is None:
        findings.append(_no_point())
    else:
        stages.append(below_land_stage(stages[0], point_step(context), level))
    one_sided = [*worked.one_sided, *_unsurveyed(path_m, context)]
    return conclude(worked._replace(findings=findings, one_sided=one_sided), stages, context)


def point_step(context: ReadingContext) -> Step:
    """The measuring-point step: minus its height. A taped stick-up that leans counts by its rise, not its path.

    Parameters
    ----------
    context
        With a point in force, and the hole's lean or survey.

    Returns
    -------
    Step
        Minus the height above land surface, m, with its uncertainty: as stated, else the network's, but not less than
        the last digit of the height.

    Raises
    ------
    ValueError
        No point is in force.

    References
    ----------
    USGS TM 1-A1 GWPD 3, figure 1.
    """
    point = context.point
    if point is None:
        raise ValueError("no measuring point in force")
    digit = point.height.resolution_si / math.sqrt(12)
    u = point.u_height.si if point.u_height else max(context.settings.si("u_point_height"), digit)
    stated = "as stated" if point.u_height else context.settings.source("u_point_height")
    rise = point.height_m * (_start_cosine(context) if point.along_casing else 1.0)
    where = "at land surface" if point.height_m == 0 else f"{point.height.text.lstrip('+-')} {point.height.unit}"
    word = "" if point.height_m == 0 else f" {point.side} land surface"
    leaning = f", {context.say(abs(rise))} of it vertical" if rise != point.height_m else ""
    part = Part(f"point {point.name} {point.height}", "height of the measuring point", u, MANY, stated)
    return Step(f"measuring point {point.name}", -rise, (part,), f"{_GWPD_3}, fig. 1", f"{where}{word}{leaning}")


def below_land_stage(before: Stage, step: Step, level: float) -> Stage:
    """Depth below land surface: what was reached before plus the measuring-point step.

    Parameters
    ----------
    before
        The stage with the depth below measuring point.
    step
        Minus the point's height, m, see `point_step`.
    level
        Coverage probability, 0 < level < 1.

    Returns
    -------
    Stage
        Depth below land surface, m, with every part of the stage before.
    """
    parts = [*parts_of(before.steps), *step.parts]
    return Stage(BELOW_POINT, (step,), total(BELOW_LAND, before.result.value_m + step.amount_m, parts, level))


def elevation_stage(depth_m: Num, depth_parts: list[Part], context: ReadingContext) -> tuple[Stage, str]:
    """Elevation = land-surface elevation minus depth below land surface, and its vertical datum.

    Parameters
    ----------
    depth_m
        Depth below land surface, m, float or (n,).
    depth_parts
        What makes that depth uncertain, m.
    context
        Position of the well and the network's datum.

    Returns
    -------
    tuple
        The stage, m, shifted to the network's datum where the position states the offset, and the datum it is in.

    Raises
    ------
    ValueError
        The elevation of land surface is not known.
    """
    position = context.position
    if position is None or position.land_surface is None:
        raise ValueError("no land-surface elevation")
    u = position.u_elevation.si if position.u_elevation else context.settings.si("u_land_surface")
    source = position.elevation_method or context.settings.source("u_land_surface")
    steps = [
        Step("land-surface elevation", position.land_surface.si,
             (Part("land surface", "elevation of land surface", u, MANY, source),), source,
             f"{position.land_surface}, {position.vertical_datum or 'datum not stated'}"),
    ]  # fmt: skip
    datum = position.vertical_datum
    shift = position.datum_shift
    if shift is not None and shift.to == context.vertical_datum and datum != context.vertical_datum:
        part = Part("datum shift", "offset between datums", shift.u.si, MANY, shift.source)
        steps.append(Step(f"{datum} to {shift.to}", shift.offset.si, (part,), shift.source, str(shift.offset)))
        datum = shift.to
    steps.append(Step("minus depth below land surface", -depth_m, tuple(scaled(depth_parts, -1.0)), "", ""))
    return Stage(
        "", tuple(steps), total(ELEVATION, amount(steps), parts_of(steps), context.settings.si("coverage"))
    ), datum


def conclude(worked: Worked, stages: list[Stage], context: ReadingContext) -> Reduction:
    """Add the elevation, weigh what goes on at the well, choose digits, quality and use.

    Parameters
    ----------
    worked
        What the method handed over, with the findings so far.
    stages
        Results so far, m: a depth, below measuring point or land surface, or an elevation.
    context
        Position, construction and what goes on at the well, and the network's settings.

    Returns
    -------
    Reduction
        With findings weightiest first; digits follow from depth below land surface where it is known, else from the
        first result.
    """
    findings, datum = list(worked.findings), ""
    below_land = next((s.result for s in stages if s.result.name == BELOW_LAND), None)
    known = any(s.result.name == ELEVATION for s in stages)
    if below_land is not None and not known:
        if context.position is not None and context.position.land_surface is not None:
            parts = [part for stage in stages for part in parts_of(stage.steps)]
            stage, datum = elevation_stage(below_land.value_m, parts, context)
            stages = [*stages, stage]
            findings += _other_datum(datum, context)
        else:
            findings.append(
                finding("no-land-surface", "no elevation of land surface", "enter the position of the well")
            )
    use, of_use = _use(worked, stages, context)
    findings += of_use
    if below_land is not None:
        what = "bottom" if worked.bottom else "water"
        findings += beyond_well(below_land.value_m, what, context.construction, context.settings)
    main = below_land or stages[0].result
    depth_m = 0.0 if main.name == ELEVATION else abs(main.value_m)  # the rule by depth has no say in an elevation
    digits = reporting_digits(
        depth_m, main.expanded_m, worked.resolution_m, context.settings, corrected=worked.corrected
    )
    return Reduction(
        worked.method,
        use,
        quality_after(findings),
        tuple(stages),
        datum,
        digits,
        tuple(worked.one_sided),
        by_weight(findings),
        worked.agreement.sentence,
    )


def _start_cosine(context: ReadingContext) -> float:
    if context.stations:
        return float(hole.cosine(context.stations[0].inclination_deg))
    lean = context.construction.lean if context.construction else None
    return float(hole.cosine(lean.si)) if lean else 1.0


def _path_steps(path: list[Step], path_m: Num, context: ReadingContext) -> list[Step]:
    """The steps along the path and, in a leaning hole, the one from path to vertical depth below the measuring point.

    There the path's own parts count by the slope of the hole, so they are scaled where they stand.
    """
    construction = context.construction
    if construction is None or (construction.lean is None and not construction.survey) or path_m <= 0:
        return path
    settings = context.settings
    u_angle = construction.u_lean.si if construction.u_lean else settings.si("u_angle")
    source = "as stated" if construction.u_lean else settings.source("u_angle")
    if construction.lean is not None:
        angle = construction.lean.si
        vertical, slope = hole.leaning_vertical_m(path_m, angle), hole.cosine(angle)
        level_m, note = path_m * hole.cosine(90.0 - angle), f"{construction.lean} from vertical"
    else:
        vertical, slope, level_m = _surveyed(path_m, context)
        note = f"survey of {len(construction.survey)} stations"
    per_degree = level_m * math.pi / 180
    part = Part("angle of the hole", "angle of the hole", per_degree * u_angle, MANY, source)
    what = "leaning hole: path to vertical depth"
    formula = "L cos(theta)" if construction.lean is not None else "minimum curvature"
    sloped = [step._replace(parts=tuple(scaled(step.parts, slope))) for step in path]
    return [*sloped, Step(what, vertical - path_m, (part,), formula, note)]


def _surveyed(path_m: float, context: ReadingContext) -> tuple[float, float, float]:
    """Vertical depth below the point, its slope along the path, and the sideways distance reached, m."""
    stations, start = context.stations, _start_cosine(context)
    rise = context.point.height_m if context.point else 0.0
    stick_up = rise if context.point is not None and context.point.along_casing else rise / start

    point, at = hole.surveyed(-stick_up, stations), hole.surveyed(path_m - stick_up, stations)
    sideways = math.sqrt((at.north_m - point.north_m) ** 2 + (at.east_m - point.east_m) ** 2)
    return at.down_m - point.down_m, at.slope, sideways


def _unsurveyed(path_m: float, context: ReadingContext) -> list[OneSided]:
    construction = context.construction
    if path_m <= 0 or (construction is not None and (construction.lean is not None or construction.survey)):
        return []
    settings = context.settings
    too_long = path_m - hole.leaning_vertical_m(path_m, settings.si("plumb_angle_max"))
    what = f"hole not surveyed: it may lean by up to {settings.text('plumb_angle_max')}, the tape path is then too long"
    return [OneSided(what, -float(too_long), 0.0, settings.source("plumb_angle_max"))]


def _no_point() -> Finding:
    return finding(
        "no-measuring-point",
        "no measuring point is in force at the time of the reading: depth below land surface is not known",
        "enter the point with its height and the date it holds from",
    )


def _other_datum(datum: str, context: ReadingContext) -> list[Finding]:
    if not context.vertical_datum or datum == context.vertical_datum:
        return []
    return [
        finding(
            "datum-not-shifted",
            f"the elevation is in {datum or 'a datum not stated'}, the network uses {context.vertical_datum}; it was "
            "not shifted: without the official grid of differences any number would be a guess",
            "give an offset with its source and uncertainty (datum_shift in the position), or level the well anew",
        )
    ]


def _use(worked: Worked, stages: Sequence[Stage], context: ReadingContext) -> tuple[str, list[Finding]]:
    seen = context.seen
    words = ", ".join(seen_words(seen))
    findings = contradictions(seen, context.when)
    if worked.bottom:
        use, of_bottom = _bottom_use(context, words)
        return use, findings + of_bottom
    depths = {stage.result.name: float(stage.result.value_m) for stage in stages}
    at_point_m = depths.get(BELOW_POINT) if worked.taped else None
    findings += doubts_of(worked.method, seen, context.when, context.settings)
    findings += read_although(worked.method, at_point_m, seen) if worked.taped else []
    use = stands_for(at_point_m, seen, context.when, context.settings)
    if use == NOTHING:
        findings.append(finding("no-level", f"{words}: there is no level to read", "keep the visit and the reason"))
    elif use == DEEPER_THAN:
        findings.append(finding("dry", f"{words}: the level is deeper than this", "never use it as a level"))
    elif use in {RECOVERING, DISTURBED, PUMPING}:
        findings.append(
            finding("not-static", f"{words}: {use}{_rested(context)}, not a static one", "keep it out of trend maps")
        )
    return use, findings + _above_land(worked, depths.get(BELOW_LAND), context)


def _rested(context: ReadingContext) -> str:
    hours = hours_since_pump(context.seen, context.when)
    return "" if hours is None else f", {spoken_hours(hours)} after the pump stopped"


def _above_land(worked: Worked, below_land_m: float | None, context: ReadingContext) -> list[Finding]:
    if below_land_m is None or below_land_m >= 0 or RUNS_OVER in context.seen.water or worked.method == "reported":
        return []
    return [
        finding(
            "above-land-surface",
            f"water stands {context.say(-below_land_m)} above land surface and is not said to run over",
            "check the sign of the measuring point's height; say that it runs over if it does",
        )
    ]


def _bottom_use(context: ReadingContext, words: str) -> tuple[str, list[Finding]]:
    if may_be_total_depth(context.seen):
        return TOTAL_DEPTH, []
    check = "sounding-while-pumping" if context.seen.pump == RUNNING else "no-total-depth"
    return NOTHING, [finding(check, f"{words}: this depth is no total depth", "sound again when it is clear")]
