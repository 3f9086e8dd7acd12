"""Commands that carry entries between devices: send, receive, rivals, settle."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import click

from tapedown.cli.desk import Desk, as_json, at_desk, print_json, read_bytes
from tapedown.cli.exits import SET_ASIDE
from tapedown.exchange.ledger.heads import heads_from_text
from tapedown.exchange.shapes import entry_to_json
from tapedown.record import Aside, Head, kept_aside
from tapedown.record.merge import Outcome
from tapedown.reports.words import when_text
from tapedown.values.ledger.entries import Entry
from tapedown.work.refusals import UnreadableFile
from tapedown.work.sync.sending import Received, receive, sending, settle, undecided

OUTCOMES: tuple[Outcome, ...] = ("entered", "already there", "kept aside", "refused")


@click.command(name="send")
@click.argument("path", metavar="FILE")
@click.option("--since-heads", "heads_path", default="", metavar="HEADS_FILE",
              help="Only what the other side lacks, by what `tapedown heads` printed there.")  # fmt: skip
@at_desk
def send_command(desk: Desk, path: str, heads_path: str) -> None:
    """Write entries with the photos and papers they name to FILE, for another device to `receive`.

    \b
      on the other device:   tapedown heads > theirs.txt
      here:                  tapedown send for-them.jsonl --since-heads theirs.txt
      on the other device:   tapedown receive for-them.jsonl
    """
    known = [Head(*row) for row in heads_from_text(read_bytes(heads_path), heads_path)] if heads_path else []
    outgoing = sending(desk.network(), known)
    _write_new(path, outgoing.lines())
    devices = len({entry.device for entry in outgoing.entries})
    click.echo(
        f"wrote {path}: {_counted(len(outgoing.entries), 'entry', 'entries')} of "
        f"{_counted(devices, 'device', 'devices')}, {_counted(len(outgoing.files), 'file', 'files')}"
    )
    for sha256 in outgoing.without:
        click.echo(f"  a photo or paper is not here and was not sent: {sha256}")


@click.command(name="receive")
@click.argument("path", metavar="FILE")
@click.option("--dry-run", is_flag=True, help="Tell what would become of each entry, write nothing.")
@as_json
@at_desk
def receive_command(desk: Desk, path: str, dry_run: bool, as_json: bool) -> None:
    """Take in the entries and files of FILE, which another device wrote with `send`.

    What is there already is left as it is, so a file may be received twice. A correction of an entry that somebody else
    corrected is kept: the one written first is in force, the other is kept aside until somebody decides (`rivals`).

    With -n NEWFOLDER a new record is made there.
    """
    with _opened(path) as file:
        received = receive(desk.where, file, Path(path).name, dry_run=dry_run)
    told_received(received, dry_run=dry_run, as_json=as_json)


def told_received(received: Received, *, dry_run: bool, as_json: bool) -> None:
    """Print what became of entries, and leave with the code for what was set aside."""
    if as_json:
        print_json(_received(received, dry_run=dry_run))
    else:
        click.echo("\n".join(_lines(received, dry_run=dry_run)))
    if not received.clean:
        click.get_current_context().exit(SET_ASIDE)


@click.command(name="rivals")
@click.option("--settled", is_flag=True, help="Show those that somebody has settled as well.")
@as_json
@at_desk
def rivals_command(desk: Desk, settled: bool, as_json: bool) -> None:
    """Corrections kept aside because somebody else corrected the same entry first."""
    rivals = kept_aside(desk.network().record)
    shown = rivals if settled else undecided(rivals)
    if as_json:
        print_json([{"kept_aside": entry_to_json(one.entry), "written_first": entry_to_json(one.rival),
                     "struck_by": one.struck_by} for one in shown])  # fmt: skip
        return
    if not shown:
        click.echo("no correction waits for a decision")
    for aside in shown:
        click.echo("\n".join(_rival_lines(aside)))


@click.command(name="settle")
@click.argument("which", metavar="ID")
@click.option("--reason", default="", help="What was decided, and why.")
@at_desk
def settle_command(desk: Desk, which: str, reason: str) -> None:
    """Strike a correction that is kept aside: ID is the end of its id, as `rivals` shows it."""
    struck = settle(desk.network(), which, reason, desk.author())
    click.echo(f"settled: the correction that ends {str(struck.strikes)[-8:]} is struck: {reason}")


def _opened(path: str) -> IO[bytes]:
    try:
        return Path(path).open("rb")
    except OSError as error:
        raise UnreadableFile(path, error.strerror or str(error), "check the name; is the file there?") from None


def _write_new(path: str, lines: Iterator[bytes]) -> None:
    """A new file, whole or not at all."""
    place = Path(path)
    try:
        with place.open("xb") as file:
            try:
                file.writelines(lines)
            except BaseException:
                place.unlink()
                raise
    except FileExistsError:
        raise UnreadableFile(path, "there is a file of this name", "choose another; nothing is overwritten") from None
    except OSError as error:
        raise UnreadableFile(path, error.strerror or str(error), "check the folder, its rights and its room") from None


def _counted(number: int, one: str, several: str) -> str:
    return f"{number} {one if number == 1 else several}"


def _received(received: Received, *, dry_run: bool) -> dict[str, object]:
    counts = Counter(receipt.outcome for receipt in received.receipts)
    return {
        "dry_run": dry_run,
        "counts": {outcome: counts[outcome] for outcome in OUTCOMES},
        "new_files": received.files,
        "told": [receipt for receipt in received.receipts if receipt.why],
        "bad_lines": received.bad,
    }


def _lines(received: Received, *, dry_run: bool) -> list[str]:
    counts = Counter(receipt.outcome for receipt in received.receipts)
    counted = [f"{counts[outcome]} {outcome}" for outcome in OUTCOMES]
    lines = [f"{', '.join(counted)}; {_counted(received.files, 'new file', 'new files')}"]
    lines += [f"  line {bad.number}: {_shown(bad.what)}\n      -> {bad.mend}" for bad in received.bad]
    for receipt in received.receipts:
        if receipt.why:
            what, _, mend = receipt.why.rpartition("; ")
            lines.append(f"  {receipt.outcome}, {_shown(receipt.id)}: {_shown(what)}\n      -> {_shown(mend)}")
    return [*lines, "a dry run: nothing was written"] if dry_run else lines


def _rival_lines(aside: Aside) -> list[str]:
    entry, rival = aside.entry, aside.rival
    about = entry.subject or entry.about
    mend = (
        f"if the first is right: tapedown settle {entry.id[-8:]} --reason '...'; "
        f"if not, correct it ({rival.id[-8:]}) first, then settle"
    )
    return [
        f"{_shown(about)}, {when_text(entry.measured_at)}: {_shown(entry.kind)}",
        f"  written first: {_told(rival)}",
        f"  kept aside:    {_told(entry)}",
        f"      settled by {aside.struck_by}" if aside.struck_by else f"      -> {mend}",
    ]


def _told(entry: Entry) -> str:
    words = f"{entry.kind} by {entry.by}, written {entry.written_at} on {entry.device}, id ends {entry.id[-8:]}"
    return _shown(f"{words}: {entry.reason}")


def _shown(text: str) -> str:
    """Text that came from elsewhere, without characters that could steer a terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)
