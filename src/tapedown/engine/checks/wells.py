"""Checks of what is recorded about a well: screens, depths, elevations that cannot be."""

from __future__ import annotations

from tapedown.engine.checks.named import finding
from tapedown.engine.uncertainty.digits import spoken
from tapedown.values.results import Finding
from tapedown.values.settings import Settings
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
    return findings + [found for depth in (completed, hole) if depth is not None for found in check_depth(depth)]


def check_depth(depth: Written, shallowest_m: float = 0.0) -> list[Finding]:
    """Findings about a depth no well has: above `shallowest_m`, or deeper than any well."""
    if shallowest_m <= depth.si <= DEEPEST_WELL_M:
        return []
    return [finding("depth-impossible", f"a depth of {depth}", "check the unit and the sign; blank when not known")]


def check_elevation(elevation: Written, what: str) -> list[Finding]:
    """Findings about an elevation that cannot be on land. Water may stand as deep under it as a well goes."""
    lowest_m = LAND_M[0] - (DEEPEST_WELL_M if what == "water" else 0.0)
    if lowest_m <= elevation.si <= LAND_M[1]:
        return []
    return [
        finding("elevation-impossible", f"{what} at {elevation}", "no land lies there: check the unit and the sign")
    ]


def beyond_well(below_land_m: float, what: str, construction: Construction | None, settings: Settings) -> list[Finding]:
    """Findings about water or bottom found deeper than the well is recorded to be, beyond what feeling may err by."""
    recorded = construction.completed_depth if construction else None
    excess_m = below_land_m - recorded.si if recorded else 0.0
    if recorded is None or excess_m <= 0 or excess_m <= _leeway_m(recorded, settings):
        return []
    return [
        finding(
            "deeper-than-well",
            f"{what} at {spoken(below_land_m, settings)} below land surface, but the well is recorded as "
            f"{recorded} deep",
            "right well? right foot mark? Was the well deepened? Look at the construction record",
        )
    ]


def _leeway_m(recorded: Written, settings: Settings) -> float:
    return 2 * settings.si("u_bottom_feel") + recorded.resolution_si / 2 + 0.0005 * recorded.si


def check_position(position: Position) -> list[Finding]:
    """Findings about an elevation or a position that cannot be on land."""
    findings = check_elevation(position.land_surface, "land surface") if position.land_surface else []
    for name, degrees, limit in (("latitude", position.latitude, 90), ("longitude", position.longitude, 180)):
        if degrees is not None and abs(degrees.si) > limit:
            findings.append(
                finding("elevation-impossible", f"{name} {degrees}", f"{name} lies within {limit} degrees either way")
            )
    return findings


def _lower(a: Written, b: Written) -> float:
    return max(a.si, b.si)
