"""A treatment of a series: checked, looked at before it is written, written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import polars as pl

from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.results import QUALITIES, Finding
from tapedown.values.series.series import treatment_field
from tapedown.values.series.treatments import TREATMENTS, Treatment
from tapedown.values.times import seconds
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import Entered, enter_fact
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NoSuchSeries, NoSuchWell, SeriesInACircle, WrittenWrong
from tapedown.work.series.corrected import Corrected, SeriesInputs, corrected_as_told, story_of

SAME_M = 1e-9
"""Depths closer than this are the same; ours: less than any digit shown."""


class NoSuchTreatment(TapedownError):
    """A treatment nobody knows."""

    def __init__(self, does: str) -> None:
        super().__init__(f"there is no treatment {does!r}", hint=f"take one of: {', '.join(TREATMENTS)}")


class Zero(NamedTuple):
    """A tape reading and the depth of the logger's zero there, without the treatment and with it; None: not known."""

    at_s: float
    depth_m: float
    before_m: float | None
    after_m: float | None


class Change(NamedTuple):
    """What a treatment would change.

    rows       rows of the series with it
    moved      rows whose depth, or height of water where there is no depth, would be another
    largest_m  the largest of these changes, None without any
    gained, lost  rows that would get a depth, or lose it
    retimed    rows whose time would be another
    qualities  word -> rows of that quality before and after
    zeros      the tape readings, in the order of time
    refused    stretches that would be refused and are not, s
    findings   what would be found anew; gone: what would not be found any more
    """

    rows: int
    moved: int
    largest_m: float | None
    gained: int
    lost: int
    retimed: int
    qualities: dict[str, tuple[int, int]]
    zeros: tuple[Zero, ...]
    refused: tuple[tuple[float, float], ...]
    findings: tuple[Finding, ...]
    gone: tuple[Finding, ...]


def change_by(network: OpenNetwork, code: str, name: str, does: str, given: Mapping[str, Any]) -> Change:
    """What a treatment would change in a series; nothing is written.

    Raises
    ------
    NoSuchWell, NoSuchSeries
        The series is not there.
    WrittenWrong
        The treatment does not hold; every problem with its place.
    """
    story = story_of(network, code, name)
    after = _tried(network, story, does, _treatment(network, does, given))
    return _change(corrected_as_told(network, story), after)


def add_treatment(
    network: OpenNetwork, code: str, name: str, does: str, given: Mapping[str, Any], *, why: str, author: Author
) -> Entered:
    """Write a treatment of a series. Raises as change_by."""
    field = treatment_field(does)
    _treatment(network, does, given)
    story_of(network, code, name)
    return enter_fact(network, "treatment", code, {"series": name, "why": why, field: dict(given)}, author)


def _treatment(network: OpenNetwork, does: str, given: Mapping[str, Any]) -> Treatment:
    """The treatment, checked. Raises WrittenWrong."""
    field = treatment_field(does)
    treatment, problems = TREATMENTS[does].read(dict(given), network.unit)
    if treatment is None or problems:
        raise WrittenWrong(does, [p._replace(place=f"{field}.{p.place}" if p.place else field) for p in problems])
    if not TREATMENTS[does].body(treatment):
        raise WrittenWrong(does, [Problem(field, "nothing is given", "fill in a field at least")])
    backwards = _backwards(treatment)
    if backwards:
        raise WrittenWrong(does, [backwards._replace(place=f"{field}.{backwards.place}")])
    return treatment  # type: ignore[no-any-return]


def _backwards(treatment: Any) -> Problem | None:
    """The end of a stretch before its start: it would hold for no row."""
    for first, last in (("start", "end"), ("set_at", "read_at")):
        ends = getattr(treatment, first, ""), getattr(treatment, last, "")
        if all(ends) and (
            seconds(ends[1]) < seconds(ends[0]) or (last == "read_at" and seconds(ends[0]) == seconds(ends[1]))
        ):
            return Problem(last, f"{ends[1]} does not lie after {ends[0]}", "put the later time here")
    return None


def _tried(network: OpenNetwork, story: SeriesInputs, does: str, treatment: Treatment) -> Corrected:
    """The series with the treatment; what it names and is not there is a problem of that field. Raises WrittenWrong."""
    place = f"{treatment_field(does)}.{'neighbour' if does == 'quality tests' else 'series'}"
    try:
        return corrected_as_told(network, story._replace(tried=(treatment,)))
    except (NoSuchWell, NoSuchSeries, SeriesInACircle) as error:
        raise WrittenWrong(does, [Problem(place, str(error), error.hint)]) from None


_SHOWN = pl.coalesce("depth_m", -pl.col("water_m")).alias("shown")


def _change(before: Corrected, after: Corrected) -> Change:
    columns = ("file", "line", "time", "depth_m", _SHOWN)
    was, now = (series.rows.select(columns) for series in (before, after))
    both = now.join(was, on=("file", "line"), how="left", suffix="_was")
    apart = (pl.col("shown") - pl.col("shown_was")).abs()
    counts = both.select(
        (apart > SAME_M).sum().alias("moved"),
        apart.filter(apart > SAME_M).max().alias("largest"),
        (pl.col("depth_m").is_not_null() & pl.col("depth_m_was").is_null()).sum().alias("gained"),
        (pl.col("depth_m").is_null() & pl.col("depth_m_was").is_not_null()).sum().alias("lost"),
        (pl.col("time") != pl.col("time_was")).sum().alias("retimed"),
    )
    words = [series.rows.select("quality").group_by("quality").len() for series in (before, after)]
    sums, *counted = pl.collect_all([counts, *words], engine="streaming")
    one, other = (dict(table.cast({"quality": pl.String}).iter_rows()) for table in counted)
    row = sums.row(0, named=True)
    return Change(
        rows=int(after.about["rows"]),
        moved=row["moved"],
        largest_m=row["largest"],
        gained=row["gained"],
        lost=row["lost"],
        retimed=row["retimed"],
        qualities={word: (one.get(word, 0), other.get(word, 0)) for word in QUALITIES if word in one or word in other},
        zeros=_zeros(before, after),
        refused=tuple(sorted(_refused(after) - _refused(before))),
        findings=tuple(finding for finding in after.findings if finding not in before.findings),
        gone=tuple(finding for finding in before.findings if finding not in after.findings),
    )


def _zeros(before: Corrected, after: Corrected) -> tuple[Zero, ...]:
    one, other = ({(c["at_s"], c["depth_m"]): c["offset_m"] for c in s.about["checks"]} for s in (before, after))
    return tuple(Zero(*key, one.get(key), other.get(key)) for key in sorted({*one, *other}))


def _refused(series: Corrected) -> set[tuple[float, float]]:
    return {(segment["from_s"], segment["to_s"]) for segment in series.about["segments"] if segment["refused"]}
