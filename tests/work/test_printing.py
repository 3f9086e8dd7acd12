"""Sheets from the record: the numbers on paper are the engine's, struck rows stay off, an as-of date is honoured."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from PIL import Image
from sqlalchemy import event

from tapedown.engine.uncertainty.digits import rounded
from tapedown.record import append
from tapedown.reports.typeset import PAPERS
from tapedown.reports.well_sheet import MOST_VISITS
from tapedown.reports.words import headline, when_text
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.values.readings import Document
from tapedown.values.settings import CHOICES
from tapedown.values.units import FOOT_M
from tapedown.work.authorship import Author
from tapedown.work.entry.documents import attach
from tapedown.work.entry.entering import correct, enter_fact, read_visit, strike, write_visit
from tapedown.work.marrow_fen import build
from tapedown.work.networks import OpenNetwork, as_of_text, change_settings, network_of
from tapedown.work.printing.network_report import MOST_WELLS, TooManyWells, print_map, print_network, report_of
from tapedown.work.printing.well_sheets import NoSuchPaper, print_figure, print_well, sheet_of
from tapedown.work.refusals import NoSuchWell, NotKnownYet
from tapedown.work.rounds.planning import make_round
from tapedown.work.wells.files import well_codes
from tapedown.work.wells.history import history
from tests.reports.printed import edges_white, pages_of, size_mm, words_of
from tests.work.conftest import SteppingClock

DAY = "2025-10-31"


@pytest.fixture(scope="module")
def fen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    """Marrow Fen after six years, as known at the end of October 2025."""
    built = build(tmp_path_factory.mktemp("fen") / "fen")
    yield network_of(built.record, as_of=as_of_text(DAY, built.facts.zone))
    built.record.close()


def visit(network: OpenNetwork, author: Author, when: str, *readings: str, **more: Any) -> None:
    read = {"method": "electric tape", "readings": list(readings), **more}
    given = {"well": "MF-07", "when": when, "seen": {"quiet": True}, "readings": [read]}
    write_visit(network, read_visit(network, given), author)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_well_of_the_fen_prints_with_the_engines_own_numbers(fen: OpenNetwork, paper: str) -> None:
    for code in well_codes(fen):
        pdf = print_well(fen, code, paper=paper)
        pages, told = pages_of(pdf), history(fen, code)
        standing = [row for row in told.rows if row.struck_by is None][::-1]
        assert 1 <= len(pages) <= 2, code
        assert edges_white(pdf), code
        for row in standing[:12]:
            assert row.value is not None
            assert f"{when_text(row.entry.measured_at)} {row.what} {headline(row.value)}" in pages[1], (code, row)


def test_the_sheet_of_the_well_that_fills_tells_fill_rate_date_and_gear(fen: OpenNetwork) -> None:
    text = words_of(print_well(fen, "MF-02"))
    told = history(fen, "MF-02").bottom
    assert told is not None
    assert told.fill is not None
    assert f"fill since completion: {rounded(told.fill.value_m / FOOT_M, 0.01)} ft" in text
    assert "screen 70.0 ft to 80.0 ft: 12% buried" in text
    assert "20% of the lowest screen buried about Aug 2026" in text
    assert "ST-014 steel tape on a reel, black figures" in text
    assert "in order, due 3 Feb 2026" in text
    assert "look the bottom has come up 3.34 ft" in text


def test_a_reading_that_must_not_be_used_is_told_though_it_is_years_old(fen: OpenNetwork) -> None:
    """MF-12, 12 November 2022: hold and cut were swapped and nobody has struck it."""
    text = words_of(print_well(fen, "MF-12"))
    assert "static level poor, do not use" in text
    assert "stop chalked tape, 12 Nov 2022:" in text


def test_a_dry_well_has_no_elevation_and_no_change(fen: OpenNetwork) -> None:
    newest = sheet_of(fen, "MF-07", DAY).visits[0]
    assert (newest.depth, newest.elevation) == ("deeper than 19.50 ft", "")
    line = next(line for line in report_of(fen, DAY).wells if line.code == "MF-07")
    assert (line.water, line.change) == ("deeper than 19.50 ft", "")


def test_a_struck_reading_is_not_on_the_sheet_and_its_correction_is(fen: OpenNetwork) -> None:
    """At MF-01 a reading was typed ten feet wrong on 4 September 2024 and mended on the 18th."""
    before = network_of(fen.record, as_of=as_of_text("2024-09-10", fen.facts.zone))
    after = network_of(fen.record, as_of=as_of_text("2024-09-30", fen.facts.zone))
    assert "30.08 ft ± 0.022" in words_of(print_well(before, "MF-01"))
    mended = words_of(print_well(after, "MF-01"))
    assert "30.08 ft" not in mended
    assert "20.08 ft ± 0.022" in mended
    assert "as known on 10 Sep 2024" in words_of(print_well(before, "MF-01"))


def test_an_as_of_sheet_shows_the_old_measuring_point_and_what_it_gave(fen: OpenNetwork) -> None:
    """The casing of MF-04 was cut down in August 2023; the office heard of it in March 2024."""
    before = network_of(fen.record, as_of=as_of_text("2024-03-01", fen.facts.zone))
    text, now = words_of(print_well(before, "MF-04")), words_of(print_well(fen, "MF-04"))
    assert "4 Sep 2023 10:24 -0400 chalked tape 14.75 ft ± 0.021" in text
    assert "4 Sep 2023 10:24 -0400 chalked tape 15.37 ft ± 0.021" in now
    assert "before MP-1, 2.85 ft, until 21 Aug 2023" in now
    assert "MP-2" not in text


def test_a_sheet_as_of_a_time_of_day_says_so(fen: OpenNetwork) -> None:
    """Ten in the morning of 1 May by the clock where the wells are, which is four hours behind."""
    then = network_of(fen.record, as_of=as_of_text("2025-05-01T10:00", fen.facts.zone))
    assert "as known on 1 May 2025 10:00 -0400" in words_of(print_well(then, "MF-01"))


def test_a_well_that_was_not_known_yet_is_refused(network: OpenNetwork) -> None:
    earlier = network_of(network.record, as_of="2025-12-31T00:00:00.000000Z")
    with pytest.raises(NotKnownYet):
        print_well(earlier, "MF-07")
    with pytest.raises(NoSuchWell):
        print_well(network, "MF-99")


def test_three_hundred_visits_stay_on_two_pages(network: OpenNetwork, author: Author) -> None:
    drafts = []
    for number in range(300):
        read, _ = readings_from_body(
            {
                "method": "electric tape",
                "read": {"readings": [f"{15 + number % 7 / 10:.2f}", f"{15 + number % 7 / 10:.2f}"]},
            },
            "ft",
        )
        assert read is not None
        when = f"{2000 + number // 12}-{number % 12 + 1:02d}-14T10:20-04:00"
        drafts.append(author.draft("readings", about_well("MF-07"), readings_body(read), measured_at=when))
    append(network.record, author.device, drafts)
    pages = pages_of(print_well(network, "MF-07"))
    assert len(pages) == 2
    assert f"{MOST_VISITS} of 300, newest first" in pages[1]
    assert "14 Dec 2024 10:20 -0400 electric tape" in pages[1]


def test_a_sheet_is_made_of_a_well_with_a_code_and_nothing_else(network: OpenNetwork, author: Author) -> None:
    enter_fact(network, "well", "MF-20", {}, author)
    text = words_of(print_well(network, "MF-20"))
    assert "none on record: a depth below land surface cannot be given" in text
    assert "no permission is on record: ask first" in text
    assert "Nothing was read here yet." in text


def test_a_sheet_on_a_wall_does_not_tell_where_the_keys_are(network: OpenNetwork, author: Author) -> None:
    enter_fact(network, "access", "MF-07", {"permission": "owner, in writing", "keys": "padlock 4711"}, author)
    text = words_of(print_well(network, "MF-07"))
    assert "keys needed, see the record" in text
    assert "4711" not in text


def test_gear_that_is_due_or_unknown_or_never_checked_says_so(network: OpenNetwork, author: Author) -> None:
    enter_fact(network, "gear", "ET-006", {"type": "electric tape", "description": "yellow jacket"}, author)
    enter_fact(network, "gear", "ET-007", {"type": "electric tape"}, author)
    checked = {"against": "ST-014", "marks": [{"shown": "50.01", "true": "50.00"}], "apply": "checked"}
    enter_fact(network, "calibration", "ET-006", checked, author, measured_at="2024-02-03")
    for day, tape in (("2025-05-14 09:10", "ET-006"), ("2025-06-14 09:10", "ET-007"), ("2025-07-14 09:10", "ET-008")):
        visit(network, author, day, "15.02", "15.03", tape=tape)
    lines = {line.serial: line for line in sheet_of(network, "MF-07", "2026-01-01").gear}
    assert lines["ET-006"].state == "was due 2 Feb 2025"
    assert lines["ET-007"].state == "never checked"
    assert lines["ET-008"].state == "not in the record: enter it"
    assert all(line.late for line in lines.values())
    assert lines["ET-006"].what == "electric tape, yellow jacket"
    assert [line.state for line in sheet_of(network, "MF-07", "2024-12-01").gear if line.serial == "ET-006"] == \
        ["in order, due 2 Feb 2025"]  # fmt: skip


def photo(colour: str) -> bytes:
    kept = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(kept, "JPEG")
    return kept.getvalue()


def test_the_photo_of_the_point_in_force_is_shown_before_newer_ones(network: OpenNetwork, author: Author) -> None:
    assert sheet_of(network, "MF-07", DAY).photo is None
    attach(network, "MF-07", photo("red"), "a.jpg", "MP-1, notch, north side", author, measured_at="2020-05-01")
    attach(network, "MF-07", photo("blue"), "b.jpg", "the yard from the gate", author, measured_at="2025-05-01")
    attach(network, "MF-07", b"%PDF-1.7 log", "log.pdf", "MP-1 levelled", author, measured_at="2025-06-01")
    shown = sheet_of(network, "MF-07", DAY).photo
    assert shown is not None
    assert (shown.data, shown.caption) == (photo("red"), "MP-1, notch, north side, 1 May 2020, by R. Alder")
    assert "MP-1, notch, north side" in words_of(print_well(network, "MF-07"))


def test_a_photo_whose_bytes_have_not_come_in_is_told(network: OpenNetwork, author: Author) -> None:
    body = KINDS["document"].body(Document("0" * 64, "image/jpeg", "a.jpg", "MP-1"))
    append(
        network.record, author.device, [author.draft("document", about_well("MF-07"), body, measured_at="2025-05-01")]
    )
    assert "MP-1, 1 May 2025, by R. Alder: not in this record yet" in words_of(print_well(network, "MF-07"))


def test_the_paper_is_the_networks_unless_another_is_asked_for(network: OpenNetwork, author: Author) -> None:
    assert size_mm(print_well(network, "MF-07")) == (210, 297)
    change_settings(network, {"paper": "Letter"}, author, "the office buys letter paper")
    changed = network_of(network.record)
    assert size_mm(print_well(changed, "MF-07")) == (216, 279)
    assert size_mm(print_network(changed)) == (279, 216)
    assert size_mm(print_well(changed, "MF-07", paper="A4")) == (210, 297)
    with pytest.raises(NoSuchPaper):
        print_well(changed, "MF-07", paper="A3")


def test_a_sheet_as_of_a_day_is_the_same_on_any_later_day(
    network: OpenNetwork, author: Author, clock: SteppingClock
) -> None:
    visit(network, author, "2025-05-14 09:10", "15.02", "15.03")
    then = as_of_text("2026-01-01", network.facts.zone)
    before = print_well(network_of(network.record, as_of=then), "MF-07", clock=clock)
    report = print_network(network_of(network.record, as_of=then), clock=clock)
    clock.moment = clock.moment.replace(year=2031)
    visit(network, author, "2030-05-14 09:10", "16.02", "16.03")
    assert print_well(network_of(network.record, as_of=then), "MF-07", clock=clock) == before
    assert print_network(network_of(network.record, as_of=then), clock=clock) == report
    assert "16.02" not in words_of(before)


def test_the_tree_head_is_printed_where_it_is_given(network: OpenNetwork) -> None:
    assert "signed: 41 of 667, 9f2c" in words_of(print_well(network, "MF-07", head="41 of 667, 9f2c"))
    assert "signed: 41 of 667, 9f2c" in words_of(print_network(network, head="41 of 667, 9f2c"))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_report_holds_every_well_with_the_engines_own_numbers(fen: OpenNetwork, paper: str) -> None:
    pdf = print_network(fen, paper=paper)
    text = words_of(pdf)
    assert edges_white(pdf)
    for code in well_codes(fen):
        told = history(fen, code)
        levels = [
            r for r in told.rows if not r.struck_by and r.value and r.value.use not in {"total depth", "no value"}
        ]
        assert levels[-1].value is not None
        assert f"{code} {told.file.identity.name if told.file.identity else ''}" in text
        assert headline(levels[-1].value) in text, code
    for words in ("12 wells; vertical datum NAVD88; lengths in ft", "filling: 1 (MF-02)", "+0.620 ft ± 0.012",
                  "12% of 70.0 ft to 80.0 ft", "about Aug 2026 (from Jul 2026 to Sep 2026)", "logger-off-tape",
                  "was due 1 Feb 2025", "stop MF-12, chalked tape, 12 Nov 2022:"):  # fmt: skip
        assert words in text, words


def test_the_report_tells_what_repeats_showed(fen: OpenNetwork) -> None:
    """Electric tape at MF-11 and MF-12 and so on: counted again here from the readings as written, in hundredths."""
    apart = []
    for code in well_codes(fen):
        for fact in history(fen, code).file.of_kind("readings"):
            if fact.value.method == "electric tape" and len(fact.value.read.readings) > 1:
                first, second = (round(float(r.text) * 100) for r in fact.value.read.readings[:2])
                apart.append(abs(second - first))
    line = next(line for line in report_of(fen, DAY).repeats if line.method == "electric tape")
    assert line.pairs == str(len(apart))
    assert line.largest == f"{max(apart) / 100:.3f} ft"
    assert line.half == f"{sorted(apart)[(len(apart) + 1) // 2 - 1] / 100:.3f} ft"
    deviation = (sum(d * d for d in apart) / (2 * len(apart))) ** 0.5 / 100
    assert float(line.deviation.split()[0]) == pytest.approx(deviation, rel=0.1)
    assert line.rule == "0.020 ft"


def test_a_change_is_told_with_what_two_readings_do_not_share(network: OpenNetwork, author: Author) -> None:
    """Both readings lie 3.40 ft above land by the same point, whose uncertainty cancels."""
    visit(network, author, "2025-05-14 09:10", "15.02", "15.02")
    assert report_of(network, DAY).wells[0].change == ""
    visit(network, author, "2025-06-14 09:10", "14.02", "14.02")
    value = history(network, "MF-07").rows[-1].value
    assert value is not None
    assert value.main is not None
    words = report_of(network, DAY).wells[0].change
    assert words.startswith("rose 1.00 ft ± ")
    assert words.endswith(" since 14 May 2025")
    assert float(words.split()[4]) < 1.5 * float(value.main.expanded_m) / FOOT_M
    visit(network, author, "2025-07-14 09:10", "14.02", "14.03")
    assert report_of(network, DAY).wells[0].change.startswith("no change seen, ")


def test_a_change_is_not_counted_from_a_value_that_must_not_be_used(network: OpenNetwork, author: Author) -> None:
    """Hold and cut swapped between two good readings, then as the last one."""
    swapped = {"method": "chalked tape", "readings": [{"hold": "1.00", "cut": "16.02"}] * 2}
    good = {"method": "electric tape", "readings": ["15.02", "15.02"]}
    for when, read in (("2025-05-14", good), ("2025-06-14", swapped), ("2025-07-14", good)):
        given = {"well": "MF-07", "when": f"{when} 09:10", "seen": {"quiet": True}, "readings": [read]}
        write_visit(network, read_visit(network, given), author)
    assert report_of(network, DAY).wells[0].change.endswith("since 14 May 2025")
    given = {"well": "MF-07", "when": "2025-08-14 09:10", "seen": {"quiet": True}, "readings": [swapped]}
    write_visit(network, read_visit(network, given), author)
    assert report_of(network, DAY).wells[0].change == ""


def test_a_bad_reading_stays_open_when_somebody_came_by_since_without_reading(
    network: OpenNetwork, author: Author
) -> None:
    swapped = {"method": "chalked tape", "readings": [{"hold": "1.00", "cut": "16.02"}] * 2}
    for when, readings in (("2025-06-14", [swapped]), ("2025-07-14", [])):
        given = {"well": "MF-07", "when": f"{when} 09:10", "seen": {"quiet": True}, "readings": readings}
        write_visit(network, read_visit(network, given), author)
    assert "stop chalked tape, 14 Jun 2025:" in words_of(print_well(network, "MF-07"))


def test_a_struck_reading_counts_neither_as_level_nor_as_change(network: OpenNetwork, author: Author) -> None:
    for day, depth in (("2025-05-14 09:10", "15.02"), ("2025-06-14 09:10", "14.02")):
        visit(network, author, day, depth, depth)
    strike(network, history(network, "MF-07").rows[-1].entry.id, "wrong well", author)
    line = report_of(network, DAY).wells[0]
    assert (line.water.split()[0], line.change) == ("11.62", "")


def test_a_corrected_fact_is_printed_as_corrected(network: OpenNetwork, author: Author) -> None:
    point = next(f.entry for f in history(network, "MF-07").file.of_kind("measuring point"))
    correct(network, point.id, {"height": "3.45"}, "height read again", author)
    facts = dict(sheet_of(network, "MF-07", DAY).facts[0].rows)
    assert facts["height"] == "3.45 ft above land surface"


def test_a_round_has_a_report_of_its_own_wells(fen: OpenNetwork, tmp_path: Path) -> None:
    built = build(tmp_path / "fen")
    author = Author("J. Sedge", "desk", SteppingClock())
    make_round(built, {"name": "spring", "day": "2026-03-01", "wells": ["MF-02", "MF-07"]}, author)
    text = words_of(print_network(built, which_round="spring"))
    built.record.close()
    assert "spring, 1 Mar 2026" in text
    assert "MF-07 Dry Lode" in text
    assert "MF-03" not in text
    assert "ST-020" not in text


def test_an_empty_network_has_a_report_that_says_so(network: OpenNetwork, author: Author, tmp_path: Path) -> None:
    text = words_of(print_network(network_of(network.record, as_of="2025-12-31T00:00:00.000000Z")))
    assert "0 wells" in text
    assert "nothing was read yet" in text


def test_more_wells_than_a_report_holds_are_refused_with_the_way_out(network: OpenNetwork, author: Author) -> None:
    drafts = [author.draft("well", about_well(f"W-{n:04d}"), {"code": f"W-{n:04d}"}) for n in range(MOST_WELLS)]
    append(network.record, author.device, drafts)
    with pytest.raises(TooManyWells, match="401 wells") as refused:
        print_network(network)
    assert "--round" in refused.value.hint


def test_what_people_write_comes_out_of_a_report_as_they_wrote_it(network: OpenNetwork, author: Author) -> None:
    words = '*a* #import "x" $y$ <b>'
    enter_fact(network, "well", "MF-#1", {"name": words}, author)
    enter_fact(network, "position", "MF-#1", {"latitude": "43.1", "longitude": "-76.3"}, author)
    assert f"MF-#1 {words}" in words_of(print_network(network))


def test_figure_and_map_stand_alone_as_drawings(fen: OpenNetwork) -> None:
    for drawing in (print_figure(fen, "MF-02"), print_map(fen)):
        assert ElementTree.fromstring(drawing).tag == "{http://www.w3.org/2000/svg}svg"  # noqa: S314 - made by us
    assert "MF-02" in print_map(fen)


def asked(network: OpenNetwork, made: Callable[[], bytes]) -> int:
    """How often the record is asked."""
    said: list[str] = []

    def note(_c: object, _cursor: object, statement: str, *_: object) -> None:
        said.append(statement)

    event.listen(network.record.engine, "before_cursor_execute", note)
    made()
    event.remove(network.record.engine, "before_cursor_execute", note)
    return len(said)


def test_a_sheet_asks_as_often_in_a_large_network_as_in_a_small_one(network: OpenNetwork, author: Author) -> None:
    def counts() -> list[int]:
        return [
            asked(network, lambda: print_well(network, "MF-07")),
            asked(network, lambda: print_network(network)),
        ]

    visit(network, author, "2025-05-14 09:10", "15.02", "15.03")
    few = counts()
    append(
        network.record,
        author.device,
        [author.draft("well", about_well(f"W-{n}"), {"code": f"W-{n}"}) for n in range(60)],
    )
    assert counts() == few
    assert max(few) < 20


def test_every_paper_that_a_network_may_choose_can_be_printed_on(network: OpenNetwork) -> None:
    assert tuple(PAPERS) == CHOICES["paper"]
    assert {size_mm(print_well(network, "MF-07", paper=paper)) for paper in CHOICES["paper"]} == {
        (210, 297),
        (216, 279),
    }
