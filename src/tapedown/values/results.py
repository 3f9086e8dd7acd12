"""What a reduction is made of: parts of uncertainty, steps, results, findings.

Lengths are in m, depth positive down, elevation positive up. A step's amount is always the amount to ADD.
`Num` marks what may be a float or an array of shape (n,): the same line serves one reading and an archive.
"""

from __future__ import annotations

from typing import Any, NamedTuple, TypeAlias

Num: TypeAlias = float | Any
"""A float or an array of shape (n,) that does plain arithmetic."""

MANY = 1e9
"""Degrees of freedom of a figure taken as known well."""

GOOD, SUSPECT, ESTIMATE, POOR, UNCHECKED, MISSING = "good", "suspect", "estimate", "poor", "unchecked", "missing"
QUALITIES = (GOOD, SUSPECT, ESTIMATE, POOR, UNCHECKED, MISSING)
"""Quality words of OGC WaterML 2.0 Part 1 (10-126r4), table 5."""


class Part(NamedTuple):
    """One source of uncertainty in a step.

    key     names the quantity behind it; parts with the same key are the same quantity and move together
    what    in words
    u_m     sensitivity times standard uncertainty, signed, m, float or (n,)
    dof     degrees of freedom of that standard uncertainty, float or (n,)
    source  where the figure comes from
    """

    key: str
    what: str
    u_m: Num
    dof: Num = MANY
    source: str = ""


class Step(NamedTuple):
    """One line of the sum.

    what      in words
    amount_m  the amount added, signed, m, float or (n,)
    parts     what makes it uncertain
    source    where the formula or the number comes from
    note      as read or as computed, in the units it was written in
    """

    what: str
    amount_m: Num
    parts: tuple[Part, ...] = ()
    source: str = ""
    note: str = ""


class Result(NamedTuple):
    """A value at one stage of the sum.

    name        "depth below measuring point", "depth below land surface", "elevation"
    value_m     m, not rounded
    u_m         standard uncertainty, m
    dof         effective degrees of freedom
    k           coverage factor
    expanded_m  k times u_m
    """

    name: str
    value_m: Num
    u_m: Num
    dof: Num
    k: Num
    expanded_m: Num


class OneSided(NamedTuple):
    """An effect that can only push one way; it stays outside the symmetric uncertainty.

    what    in words
    low_m   how far below the value the truth may lie because of it, m, <= 0
    high_m  how far above, m, >= 0
    source  where the figure comes from
    """

    what: str
    low_m: float
    high_m: float
    source: str


class Finding(NamedTuple):
    """Something about the data that a person should see.

    check    name of the check, in words with hyphens
    weight   "note" (worth knowing), "look" (a person should look), "stop" (the value must not be used as it stands)
    message  what was found, with the numbers
    hint     what to do
    about    what it is about, when not the reading itself
    """

    check: str
    weight: str
    message: str
    hint: str
    about: str = ""


class Digits(NamedTuple):
    """To which digit a value may be reported, and why. step is in `unit`: 0.01, 0.1, 0.5, ..."""

    step: float
    unit: str
    reason: str


class Stage(NamedTuple):
    """A stretch of the sum: its steps and the result they reach.

    starts_from  name of the result the steps are added to; "" when they start from nothing
    """

    starts_from: str
    steps: tuple[Step, ...]
    result: Result


class Reduction(NamedTuple):
    """A reading set worked out. Always recomputable; never the stored truth.

    method        as in engine.methods.registry
    use           what the value may stand for: "static level", "pumping level", "total depth", "deeper than", ...
    quality       one of QUALITIES
    stages        in order of working
    datum         vertical datum of the elevation, "" when there is none
    digits        reporting digits
    one_sided     effects kept out of the symmetric uncertainty
    findings      weightiest first
    agreement     how the repeats agreed, in one sentence
    """

    method: str
    use: str
    quality: str
    stages: tuple[Stage, ...]
    datum: str
    digits: Digits
    one_sided: tuple[OneSided, ...]
    findings: tuple[Finding, ...]
    agreement: str

    def stage(self, name: str) -> Stage | None:
        """The stage whose result is called `name`, or None when it was not reached."""
        return next((stage for stage in self.stages if stage.result.name == name), None)

    def result(self, name: str) -> Result | None:
        """The result called `name`, or None when it was not reached."""
        stage = self.stage(name)
        return stage.result if stage else None

    @property
    def main(self) -> Result | None:
        """Depth below land surface where it is known, else the first result, else None."""
        return self.result(BELOW_LAND) or (self.stages[0].result if self.stages else None)

    @property
    def parts(self) -> list[Part]:
        """Every part of uncertainty behind `main`, in order of working.

        Returns
        -------
        list
            Parts of every stage that `main` rests on, from the first step; empty where there is no value.
        """
        name = self.main.name if self.main else ""
        parts: list[Part] = []
        while stage := self.stage(name):
            parts = [part for step in stage.steps for part in step.parts] + parts
            name = stage.starts_from
        return parts


BELOW_POINT = "depth below measuring point"
BELOW_LAND = "depth below land surface"
ELEVATION = "elevation"
