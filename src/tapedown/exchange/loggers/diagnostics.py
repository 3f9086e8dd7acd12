"""What became of every line of a logger's file."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

import polars as pl

from tapedown.engine.checks.named import finding
from tapedown.exchange.loggers.times import shown_time, text_of, time_of
from tapedown.values.results import Finding
from tapedown.values.series.logger_files import Profile, SeriesColumn

MOST_NAMED = 5
LINE, UTC = "the number of the line", "its time in UTC"
"""Names no column of a file is likely to have."""
EMPTY_LINE, NO_VALUE, SKIPPED = "an empty line", "no value", "a time the clocks of this zone skipped"


class LinesAside(NamedTuple):
    """Lines that gave no row: why, their number, the first of them."""

    reason: str
    number: int
    first: tuple[int, ...]


class Account(NamedTuple):
    """Every line of a file: above the data, taken in, set aside. above + rows + the lines aside = lines.

    no_rows    lines that were cut into cells and gave no row; the others aside could not even be cut
    no_values  column -> lines taken in although this further column holds no number
    backwards  places where the time goes back from one row to the next; repeated: where it stands still
    first, last  earliest and latest time, ISO 8601 in UTC; "" without rows
    """

    lines: int
    above: int
    rows: int
    no_rows: int
    aside: tuple[LinesAside, ...]
    no_values: dict[str, int]
    backwards: int
    repeated: int
    first: str
    last: str
    findings: tuple[Finding, ...]


def number_of(column: SeriesColumn, profile: Profile) -> pl.Expr:
    """The number in a column of text cells, null where there is none."""
    text = pl.col(column.name).str.strip_chars()
    if profile.decimal_comma:
        text = text.str.replace(",", ".", literal=True)
    number = text.cast(pl.Float64, strict=False)
    return pl.when(number.is_finite() & ~blank(column.name, profile)).then(number)


def blank(name: str, profile: Profile) -> pl.Expr:
    """Whether a cell says that there is no value."""
    text = pl.col(name).str.strip_chars().fill_null("")
    return text.is_in(["", *profile.blanks])


def reason_of(profile: Profile) -> pl.Expr:
    """Why a line of text cells gives no row; "" when it gives one."""
    main = profile.main.name
    cells = [profile.clock.date, *(column.name for column in profile.columns)]
    empty = pl.all_horizontal(pl.col(name).fill_null("").str.strip_chars() == "" for name in cells)
    unread = pl.concat_str(pl.lit("not a time: "), text_of(profile.clock).fill_null("").str.slice(0, 20))
    word = pl.col(main).fill_null("").str.slice(0, 20)
    return (
        pl.when(empty)
        .then(pl.lit(EMPTY_LINE))
        .when(shown_time(profile.clock).is_null())
        .then(unread)
        .when(pl.col(UTC).is_null())
        .then(pl.lit(SKIPPED))
        .when(blank(main, profile))
        .then(pl.lit(NO_VALUE))
        .when(number_of(profile.main, profile).is_null())
        .then(pl.concat_str(pl.lit("not a number: "), word))
        .otherwise(pl.lit(""))
    )


def lines_aside(cells: pl.DataFrame, profile: Profile) -> tuple[LinesAside, ...]:
    """Lines of text cells that give no row, by reason, the most frequent first."""
    reasons = cells.with_columns(time_of(profile.clock).alias(UTC)).select(LINE, reason_of(profile).alias("reason"))
    return told_aside(reasons.filter(pl.col("reason") != ""))


def told_aside(told: pl.DataFrame) -> tuple[LinesAside, ...]:
    """The same from the numbers of lines and their reasons."""
    grouped = told.group_by("reason").agg(pl.len(), pl.col(LINE).sort().head(MOST_NAMED))
    grouped = grouped.sort("len", "reason", descending=[True, False])
    return tuple(LinesAside(reason, count, tuple(first)) for reason, count, first in grouped.iter_rows())


def no_row(profile: Profile) -> pl.Expr:
    """Whether a line read into columns gives no row: it has no time, or no number that counts."""
    return pl.col("time").is_null() | ~pl.col(profile.main.si_name).is_finite().fill_null(False)


def account_of(
    kept: pl.LazyFrame, aside: tuple[LinesAside, ...], lines: int, profile: Profile, findings: tuple[Finding, ...]
) -> Account:
    """The account of a file from its lines read into columns, and the reasons of those that give no row."""
    further = [column.si_name for column in profile.columns if column is not profile.main]
    cut, no_rows = kept.select(pl.len(), no_row(profile).sum().alias("no")).collect(engine="streaming").row(0)
    rows = kept.filter(~no_row(profile)) if no_rows else kept
    step = pl.col("time").diff()
    counts = rows.select(
        pl.col("time").min().alias("earliest"),
        pl.col("time").max().alias("latest"),
        (step < pl.duration()).sum().alias("backwards"),
        (step == pl.duration()).sum().alias("repeated"),
        *(pl.col(name).is_null().sum().alias(f"no {name}") for name in further),
    ).collect(engine="streaming")
    counted = counts.row(0, named=True)
    account = Account(
        lines=lines,
        above=profile.header_line,
        rows=cut - no_rows,
        no_rows=no_rows,
        aside=aside,
        no_values={name: counted[f"no {name}"] for name in further if counted[f"no {name}"]},
        backwards=counted["backwards"],
        repeated=counted["repeated"],
        first=_iso(counted["earliest"]),
        last=_iso(counted["latest"]),
        findings=findings,
    )
    return account._replace(findings=(*findings, *_file_findings(account, profile.clock.zone)))


def _iso(moment: datetime | None) -> str:
    return "" if moment is None else moment.isoformat() + "+00:00"


def _file_findings(account: Account, zone: str) -> list[Finding]:
    """What the account says that a person should see."""
    findings = []
    skipped = [aside for aside in account.aside if aside.reason == SKIPPED]
    for aside in skipped:
        findings.append(
            finding(
                "logger-clock-zone",
                f"{aside.number} lines, the first at line {aside.first[0]}, show a time that the clocks of {zone} "
                "skipped in spring: this logger did not follow them",
                'give clock.zone the offset it kept all year, such as "+00:00"',
            )
        )
    quiet = {EMPTY_LINE, NO_VALUE, SKIPPED}
    unread = [aside for aside in account.aside if aside.reason not in quiet]
    if unread:
        most = "; ".join(f"line {aside.first[0]}: {aside.reason}" for aside in unread[:MOST_NAMED])
        findings.append(
            finding(
                "logger-lines-aside",
                f"{sum(aside.number for aside in unread)} of {account.lines} lines could not be read: {most}",
                "look at them in the file; is the profile right?",
            )
        )
    if account.backwards:
        findings.append(
            finding(
                "logger-lines-unsorted",
                f"at {account.backwards} places the time goes back from one line to the next",
                "they are put in order; was the clock set while it ran, or were downloads joined?",
            )
        )
    return findings
