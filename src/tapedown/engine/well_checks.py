"""Checks of what is recorded about a well: screens, depths, elevations that cannot be."""

from __future__ import annotations

from tapedown.engine.checks import finding
from tapedown.values.results import Finding
from tapedown.values.wells import Construction, Position
from tapedown.values.written import Written

DEEPEST_WELL_M = 3000.0
"""Deeper than any well a tape is lowered into; ours."""
LAND_M = (-450.0, 8900.0)
"""Lowest shore (Dead Sea, about -430 m) and highest summit (about 8,849 m); from memory."""


def check_construction(construction: Construction) -> list[Finding]:
    """Findings about depths, casings and screens that contradict each other."""
    findings = []
    completed, hole = construction.completed_depth, construction.hole_depth
    for screen in construction.screens:
        if screen.top.si > screen.bottom.si:
            findings.append(
                finding("screen-upside-down", f"screen from {screen.top} to {screen.bottom}", "are the two swapped?")
            )
        if completed is not None and _lower(screen.top, screen.bottom) > completed.si + completed.resolution_si:
            findings.append(
                finding(
                    "screen-below-well",
                    f"screen from {screen.top} to {screen.bottom} in a well {completed} deep",
                    "one of the depths counts from another point, or the well was filled back",
                )
            )
    if completed is not None and hole is not None and hole.si < completed.si - completed.resolution_si:
        findings.append(finding("hole-above-well", f"hole {hole} deep, well {completed} deep", "are the two swapped?"))
    findings += [_impossible_depth(depth) for depth in (completed, hole) if depth is not None and _no_depth(depth.si)]
    return findings


def check_position(position: Position) -> list[Finding]:
    """Findings about an elevation or a position that cannot be on land."""
    land, findings = position.land_surface, []
    if land is not None and not LAND_M[0] <= land.si <= LAND_M[1]:
        findings.append(
            finding(
                "elevation-impossible", f"land surface at {land}", "no land lies there: check the unit and the sign"
            )
        )
    for name, degrees, limit in (("latitude", position.latitude, 90), ("longitude", position.longitude, 180)):
        if degrees is not None and abs(degrees.si) > limit:
            findings.append(
                finding("elevation-impossible", f"{name} {degrees}", f"{name} lies within {limit} degrees either way")
            )
    return findings


def _lower(a: Written, b: Written) -> float:
    return max(a.si, b.si)


def _no_depth(depth_m: float) -> bool:
    return depth_m < 0 or depth_m > DEEPEST_WELL_M


def _impossible_depth(depth: Written) -> Finding:
    return finding("depth-impossible", f"a depth of {depth}", "check the unit and the sign; blank when not known")
