"""Files of loggers taken in: the bytes kept once, the layout confirmed, every line accounted for."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.exchange.loggers.diagnostics import Account
from tapedown.exchange.loggers.files import read_logger_file
from tapedown.record import add_blob, append, present
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.ledger.entries import Entry, content_digest
from tapedown.values.series.logger_files import Profile
from tapedown.values.series.series import LoggerFile
from tapedown.work.authorship import Author
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import WrittenWrong
from tapedown.work.wells.files import well_file

LARGEST_BYTES = 500_000_000
"""A larger file is refused; ours: some fifteen million rows."""
_SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class NoRowRead(TapedownError):
    """No line of the file gave a row by this profile."""


class SeriesFileTooLarge(TapedownError):
    """The file is larger than is kept."""


class FileTaken(NamedTuple):
    """A file taken in: its entry (None when it was there already, or in a dry run) and what became of its lines."""

    entry: Entry | None
    account: Account
    there_already: bool


def take_logger_file(
    network: OpenNetwork,
    code: str,
    given: LoggerFile,
    data: bytes,
    author: Author,
    *,
    dry_run: bool = False,
) -> FileTaken:
    """Take in a logger's file for a series of a well; `given` may leave the SHA-256 out.

    The same bytes by the same profile for the same series are taken in once.

    Raises
    ------
    NothingRead, NotATable, TableTooLarge, ProfileDoesNotFit, SeriesFileTooLarge
        Nothing was written.
    """
    well_file(network, code)
    if len(data) > LARGEST_BYTES:
        raise SeriesFileTooLarge(f"{given.file} has {len(data):,} bytes", hint=f"split it; {LARGEST_BYTES:,} are kept")
    if not given.series or "/" in given.series:
        problem = Problem("series", f"{given.series!r} is no name", "one word without a stroke, such as level or air")
        raise WrittenWrong("the logger file", [problem])
    account = read_logger_file(data, given.profile).account
    if account.rows == 0:
        reasons = "; ".join(f"{aside.number} times {aside.reason}" for aside in account.aside[:3])
        raise NoRowRead(f"no line of {given.file} gave a row: {reasons}", hint="look at the profile: times and columns")
    if dry_run:
        return FileTaken(None, account, there_already=False)
    sha256 = add_blob(network.record, data, _media_type(given.profile))
    draft = author.draft("logger file", about_well(code), KINDS["logger file"].body(given._replace(sha256=sha256)))
    digest = content_digest(draft.kind, draft.about, draft.measured_at, draft.body)
    if digest in present(network.record, [digest]):
        return FileTaken(None, account, there_already=True)
    return FileTaken(append(network.record, author.device, [draft])[0], account, there_already=False)


def _media_type(profile: Profile) -> str:
    return "text/plain" if profile.delimiter else _SPREADSHEET


def account_lines(account: Account) -> list[str]:
    """The account of a file in words, one line each."""
    lines = [f"{account.lines} lines: {account.above} above the table, {account.rows} rows taken in"]
    if account.first:
        lines[0] += f", from {account.first[:16]} to {account.last[:16]} UTC"
    for aside in account.aside:
        where = ", ".join(map(str, aside.first)) + (", ..." if aside.number > len(aside.first) else "")
        lines.append(f"  {aside.number} set aside: {aside.reason} (line {where})")
    lines += [f"  {number} rows without {name}" for name, number in account.no_values.items()]
    return lines
