"""What the desk of Marrow Fen does with what the crews bring: rounds, blind repeats, looks, sign-offs, a comparison."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any, NamedTuple

from tapedown.record import append
from tapedown.values.kinds import about_well
from tapedown.values.ledger.entries import Draft
from tapedown.work.authorship import Author
from tapedown.work.entry.comparing import calibrate_by, comparisons
from tapedown.work.entry.entering import enter_fact, read_visit, write_visit
from tapedown.work.marrow_fen.places import ALDER, PLACES, SEDGE, TEASEL
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.review.remeasures import draw
from tapedown.work.review.reviewing import looks_of, reviewed
from tapedown.work.review.signing import Scope, sign_off
from tapedown.work.rounds.planning import make_round
from tapedown.work.wells.history import history

ROUNDS_FROM = date(2024, 5, 1)
"""Rounds are planned in the record, and wells drawn from them, since then."""
LAST_DRAW = date(2025, 9, 4)
"""The well drawn from this round waits for the next one."""
SIGNED_ON = datetime(2025, 2, 24, 10, 0, tzinfo=UTC)
COMPARED_ON = datetime(2025, 10, 14, 13, 0, tzinfo=UTC)
HELD = (("20.00", "20.02"), ("60.00", "60.04"), ("100.00", "100.06"), ("160.00", "160.10"), ("240.00", "240.15"))
"""Depths at which ST-014 and ET-006 were lowered one after the other, ft: reference, tape compared."""
OF_BLUNDERS = ("MF-11", "MF-12")
"""Wells left out of the early sign-off: what was misread there still waits for a look."""


class FenDesk(NamedTuple):
    """The network and the story's clock, set ahead by `at`."""

    network: OpenNetwork
    clock: Callable[[], datetime]
    at: Callable[[datetime], None]

    def author(self, by: str) -> Author:
        """Whoever writes."""
        return Author(by, "marrow-fen desk", self.clock)


def plan(desk: FenDesk, day: date) -> str:
    """Plan a round over all wells three days ahead; gives its id, "" before rounds were planned here."""
    if day < ROUNDS_FROM:
        return ""
    desk.at(datetime(day.year, day.month, day.day, 14, 0, tzinfo=UTC) - timedelta(days=3))
    given = {"name": f"{day:%B %Y}", "day": day.isoformat(), "wells": [place.code for place in PLACES]}
    return make_round(desk.network, given, desk.author(TEASEL)).id


def repeat(desk: FenDesk, round_id: str, day: date, by: str, visit: Callable[[str, date], dict[str, Any]]) -> None:
    """Draw the blind share of a round when it is done; the other crew measures it before dark."""
    if not round_id:
        return
    evening = datetime(day.year, day.month, day.day, 20, 30, tzinfo=UTC)
    desk.at(evening)
    wells = draw(desk.network, round_id, desk.author(TEASEL))[0].data["wells"]
    if day >= LAST_DRAW:
        return
    desk.at(evening + timedelta(hours=2))
    for code in wells:
        fields = visit(code, day)
        given = {"well": code, "when": f"{day}T17:10", "people": [by], **fields, "readings": fields["readings"][:1]}
        write_visit(desk.network, read_visit(desk.network, given), desk.author(by))


def sign(desk: FenDesk) -> None:
    """Look at the readings of 2024, then sign them; sign the years before with a word on why nobody looked."""
    desk.at(SIGNED_ON)
    append(desk.network.record, "marrow-fen desk", [look for place in PLACES for look in _looks(desk, place.code)])
    author = desk.author(TEASEL)
    remarks = "read, looked at and complete"
    sign_off(desk.network, "2024", remarks, Scope((), "2024-01-01", "2024-12-31"), author)
    early = tuple(place.code for place in PLACES if place.code not in OF_BLUNDERS)
    sign_off(desk.network, "2020 to 2023", "as found in the record, hydrographs looked through", Scope(
        early, "2020-01-01", "2023-12-31"), author, unreviewed="read before the network asked for looks")  # fmt: skip


def _looks(desk: FenDesk, code: str) -> list[Draft]:
    """A word on every value of 2024 that still needs one, by somebody who neither read nor wrote it."""
    well_history, drafts = history(desk.network, code), []
    looks = looks_of(well_history.file)
    for row in well_history.rows:
        state = reviewed(row, well_history.file, looks, desk.network)
        if row.entry.kind != "readings" or row.struck_by or row.entry.measured_at[:4] != "2024" or not state.missing:
            continue
        by = next(name for name in (TEASEL, ALDER, SEDGE) if name not in state.readers)
        body = {"entry": row.entry.id, "quality": row.quality}
        when = row.entry.measured_at
        drafts.append(desk.author(by).draft("acceptance", about_well(code), body, measured_at=when))
    return drafts


def compare(desk: FenDesk) -> None:
    """Both tapes in four wells and one deep one; the comparison becomes the electric tape's calibration."""
    desk.at(COMPARED_ON)
    pairs = [{"reference": f"{reference} ft", "shown": f"{shown} ft"} for reference, shown in HELD]
    given = {"reference": "ST-014", "pairs": pairs, "remarks": "lowered one after the other, in five wells"}
    author, day = desk.author(TEASEL), COMPARED_ON.date().isoformat()
    enter_fact(desk.network, "side by side", "ET-006", given, author, measured_at=day)
    calibrate_by(desk.network, comparisons(desk.network, "ET-006", gear_shelf(desk.network))[-1], author)
