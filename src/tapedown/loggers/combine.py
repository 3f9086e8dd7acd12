"""Downloads and successive loggers of one well laid into one series, in order, each moment once."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import polars as pl

from tapedown.engine.checks.named import finding
from tapedown.loggers.epoch import said
from tapedown.loggers.survey import Survey, survey
from tapedown.values.results import Finding


class Combined(NamedTuple):
    """One series out of several files: `file` says which a row came from (from 0), in the order they were given."""

    rows: pl.LazyFrame
    look: Survey
    findings: tuple[Finding, ...]


def combined(files: Sequence[tuple[str, pl.LazyFrame]], main: str) -> Combined:
    """Lay files into one series.

    Files that follow one another are only joined. Where two hold the same moment the row of the file named first is
    kept, and it is said how many there were and whether they agree.

    Parameters
    ----------
    files
        Name and rows of each, with `time`, `line` and the main column.
    main
        Name of the main column, by which rows of one moment are compared.

    Returns
    -------
    Combined
        Rows with `file`, from 0 in the order given, in order of time, each moment once; findings about what overlaps.

    Raises
    ------
    ValueError
        No file is given.
    """
    if not files:
        raise ValueError("no file to combine")
    marked = [rows.with_columns(pl.lit(place, pl.UInt16).alias("file")) for place, (_, rows) in enumerate(files)]
    looks = [survey(rows) for rows in marked]
    order = sorted(range(len(files)), key=lambda place: looks[place].first_s)
    joined = pl.concat([marked[place] for place in order], how="diagonal_relaxed") if len(files) > 1 else marked[0]
    apart = all(looks[a].last_s < looks[b].first_s for a, b in pairwise(order))
    if apart and all(look.in_order for look in looks):
        return Combined(joined, looks[0] if len(files) == 1 else survey(joined), ())
    findings = [] if apart else _overlaps([(files[place][0], looks[place]) for place in order])
    ordered = joined.sort("time", "file", "line", maintain_order=True)
    same = ordered.filter(pl.col("time").is_duplicated()).select("time", "line", main).collect()
    if same.height:
        findings += _same_moment(same, main)
        ordered = ordered.unique("time", keep="first", maintain_order=True)
    return Combined(ordered, survey(ordered), tuple(findings))


def _overlaps(looks: Sequence[tuple[str, Survey]]) -> list[Finding]:
    return [
        finding(
            "logger-downloads-overlap",
            f"{name} and {after} both cover {said(later.first_s)} to {said(min(look.last_s, later.last_s))}",
            "where both hold a moment the row of the file named first is kept; set one aside if they disagree",
        )
        for (name, look), (after, later) in pairwise(looks)
        if later.first_s <= look.last_s
    ]


def _same_moment(same: pl.DataFrame, main: str) -> list[Finding]:
    differ = same.group_by("time", maintain_order=True).agg(
        (pl.col(main).max() - pl.col(main).min()).alias("apart"), pl.col("line").first()
    )
    unlike = differ.filter(pl.col("apart") > 1e-9)
    words = f"{differ.height} moments stand there more than once"
    if unlike.height:
        words += f"; {unlike.height} of them with different values, the first at line {unlike['line'][0]}"
    hint = "one row of each is kept" if not unlike.height else "look which is right and set the other aside"
    return [finding("logger-same-moment", words, hint)]
