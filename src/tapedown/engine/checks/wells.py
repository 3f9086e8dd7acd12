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
    """Depths, casings and screens that contradict each other.

    Parameters
    ----------
    construction
        As recorded; a depth that is not recorded contradicts nothing.

    Returns
    -------
    list
        Findings: a screen upside down or below the well, a hole shallower than the well, a depth no well has. Depths
        within one unit of the last written digit of the well's own are alike.
    """
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
    return findings + [one for depth in (completed, hole) if depth is not None for one in check_depth(depth)]


def check_depth(depth: Written, shallowest_m: float = 0.0) -> list[Finding]:
    """A depth no well has: above `shallowest_m`, or deeper than any well.

    Parameters
    ----------
    depth
        As written.
    shallowest_m
        Least depth that can be, m; negative where the depth may count from a point above land surface.

    Returns
    -------
    list
        One finding, or none.

    Example
    -------
    >>> [found.message for found in check_depth(Written("-3", "m"))], check_depth(Written("-3", "m"), shallowest_m=-5.0)
    (['a depth of -3 m'], [])
    """
    if shallowest_m <= depth.si <= DEEPEST_WELL_M:
        return []
    return [finding("depth-impossible", f"a depth of {depth}", "check the unit and the sign; blank when not known")]


def check_elevation(elevation: Written, what: str) -> list[Finding]:
    """An elevation that cannot be on land.

    Parameters
    ----------
    elevation
        As written.
    what
        What stands there, in words. "water" may stand as deep under the lowest land as a well goes.

    Returns
    -------
    list
        One finding, or none.

    Example
    -------
    >>> dug_out = Written("-900", "m")
    >>> len(check_elevation(dug_out, "land surface")), len(check_elevation(dug_out, "water"))
    (1, 0)
    """
    lowest_m = LAND_M[0] - (DEEPEST_WELL_M if what == "water" else 0.0)
    if lowest_m <= elevation.si <= LAND_M[1]:
        return []
    return [
        finding("elevation-impossible", f"{what} at {elevation}", "no land lies there: check the unit and the sign")
    ]


def beyond_well(below_land_m: float, what: str, construction: Construction | None, settings: Settings) -> list[Finding]:
    """Water or bottom found deeper than the well is recorded to be, beyond what feeling may err by.

    Parameters
    ----------
    below_land_m
        Depth found, m below land surface.
    what
        What was found there, in words: "water".
    construction
        As recorded; without it, or without a depth at completion, nothing can be said.
    settings
        The network's: uncertainty of feeling the bottom, and its unit for the words.

    Returns
    -------
    list
        One finding, or none.

    Notes
    -----
    Allowed excess: 2 u + r / 2 + 0.0005 D, u the setting `u_bottom_feel`, r the last written digit of the recorded
    depth D.
    """
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
    """An elevation or a position that cannot be on land.

    Parameters
    ----------
    position
        As recorded; what is not recorded is not checked.

    Returns
    -------
    list
        Findings about land surface, latitude and longitude.
    """
    findings = check_elevation(position.land_surface, "land surface") if position.land_surface else []
    for name, degrees, limit in (("latitude", position.latitude, 90), ("longitude", position.longitude, 180)):
        if degrees is not None and abs(degrees.si) > limit:
            findings.append(
                finding("elevation-impossible", f"{name} {degrees}", f"{name} lies within {limit} degrees either way")
            )
    return findings


def _lower(a: Written, b: Written) -> float:
    return max(a.si, b.si)
