"""One word on one or several values at a time: accept, set a quality, ask for another measurement, strike."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from tapedown.record import entry
from tapedown.values.forms import Problem
from tapedown.values.results import QUALITIES
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import strike
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.refusals import NoSuchReading, WrittenWrong
from tapedown.work.review.remeasures import ask_again, open_remeasures
from tapedown.work.review.reviewing import accept, own_reading, set_quality
from tapedown.work.wells.history import History, Row, history

ACCEPT, QUALITY, AGAIN, STRIKE = ACTIONS = ("accept", "set the quality", "measure again", "strike")


class Verdict(NamedTuple):
    """What is said: a word of ACTIONS, a quality where one is set, why."""

    action: str
    quality: str = ""
    why: str = ""


def judge(network: OpenNetwork, entry_ids: Sequence[str], verdict: Verdict, author: Author) -> None:
    """Say the same of each of these values. Everything is looked at first; then all of it is written.

    Raises
    ------
    WrittenWrong
        Nothing chosen, no reason where one is needed, or one that the writer read himself; nothing was written.
    NoSuchEntry, NoSuchReading
    """
    chosen = _chosen(network, entry_ids)
    problems = [*_wrong(chosen, verdict), *_refused(network, chosen, verdict, author)]
    if problems:
        raise WrittenWrong("what you say", problems)
    for well_history, row in chosen:
        code = well_history.file.code
        if verdict.action == ACCEPT:
            accept(network, well_history.file, row, verdict.why, author)
        elif verdict.action == QUALITY:
            set_quality(network, code, row.entry, verdict.quality, verdict.why, author)
        elif verdict.action == AGAIN:
            ask_again(network, code, row.entry.id, verdict.why, author)
        else:
            strike(network, row.entry.id, verdict.why, author)


def _chosen(network: OpenNetwork, entry_ids: Sequence[str]) -> list[tuple[History, Row]]:
    shelf, known, chosen = gear_shelf(network), {}, []
    for entry_id in dict.fromkeys(entry_ids):
        code = entry(network.record, entry_id).subject
        if code not in known:
            known[code] = history(network, code, shelf=shelf)
        row = next((r for r in known[code].rows if r.entry.id == entry_id and r.struck_by is None), None)
        if row is None:
            raise NoSuchReading(code, entry_id)
        chosen.append((known[code], row))
    return chosen


def _wrong(chosen: Sequence[tuple[History, Row]], verdict: Verdict) -> list[Problem]:
    problems = []
    if not chosen:
        problems.append(Problem("entry", "no value is chosen", "tick the values you looked at"))
    if verdict.action not in ACTIONS:
        problems.append(Problem("action", f"{verdict.action!r} is not one of: {', '.join(ACTIONS)}", "choose one"))
    if verdict.action == QUALITY and verdict.quality not in QUALITIES:
        problems.append(Problem("quality", "no quality is chosen", f"choose one of: {', '.join(QUALITIES)}"))
    if verdict.action != ACCEPT and not verdict.why.strip():
        problems.append(Problem("why", "why is missing", "say what you saw"))
    return problems


def _refused(
    network: OpenNetwork, chosen: Sequence[tuple[History, Row]], verdict: Verdict, author: Author
) -> list[Problem]:
    if verdict.action == ACCEPT:
        own = [
            (well_history, row) for well_history, row in chosen if own_reading(author.by, row.entry, well_history.file)
        ]
        why = f"{author.by} read or wrote this value"
        return [Problem(_place(well_history, row), why, "let somebody else look at it") for well_history, row in own]
    if verdict.action == AGAIN:
        asked = {one.request.entry for ones in open_remeasures(network).values() for one in ones}
        return [
            Problem(_place(well_history, row), "is to be measured again already", "leave it out")
            for well_history, row in chosen
            if row.entry.id in asked
        ]
    return []


def _place(well_history: History, row: Row) -> str:
    return f"{well_history.file.code} {row.entry.measured_at[:16]}"
