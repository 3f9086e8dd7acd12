"""The well sheet as PDF: words come out as words, missing facts leave no holes, the same sheet gives the same bytes."""

from __future__ import annotations

import hashlib
import io
import struct
import subprocess
import sys
import zlib

import pytest
from PIL import Image

from tapedown.reports.photo import MOST_PIXELS, WIDEST, photo_drawing
from tapedown.reports.typeset import LONGEST, Heading
from tapedown.reports.well_picture import PointMark, ReadingMark, Tube, WellPicture
from tapedown.reports.well_sheet import (
    MOST_FINDINGS,
    MOST_GEAR,
    Facts,
    FindingLine,
    GearLine,
    Photo,
    VisitLine,
    WellSheet,
    well_sheet,
)
from tests.reports.printed import edges_white, pages_of, size_mm, words_of

DAY = "2026-05-14"
HEADING = Heading("Marrow Fen", "MF-07", "well sheet", "as known on 14 May 2026", "from 5 entries")
VISIT = VisitLine("14 May 2026 10:20 +0100", "weighted tape", "82.10 ft ± 0.05", "-42.26 ft ± 0.06", "0.01 ft",
                  "total depth", "good", False, "static", "R. Alder")  # fmt: skip
BARE = WellSheet(HEADING, "", "", (), (), WellPicture("MF-07", "ft"), None, (), 0, (), (), (), 0, "95%", "NAVD88")
PICTURE = WellPicture(
    "MF-07",
    "ft",
    (Tube("screen", 21.0, 24.0),),
    25.0,
    points=(PointMark(735_000.0, 1.0, "MP-1"),),
    marks=(ReadingMark(738_000.0, 3.0, 0.01, "level"), ReadingMark(739_000.0, 3.4, 0.01, "level")),
)
FULL = BARE._replace(name="Alder Carr", picture=PICTURE, visits=(VISIT,), visit_count=1)
HOSTILE = ('#import "x.typ"', "*not bold*", "$x^2$", "`raw`", "= no heading", "<script>alert(1)</script>", "\\u{41}",
           "@label #panic()", "// no comment", "]) #[")  # fmt: skip


def jpeg(width: int = 400, height: int = 200, orientation: int = 1) -> bytes:
    """A photo that is red on its left third, blue on the rest, as the sensor saw it."""
    image = Image.new("RGB", (width, height), (0, 0, 255))
    image.paste((255, 0, 0), (0, 0, width // 3, height))
    exif = image.getexif()
    exif[0x0112] = orientation
    kept = io.BytesIO()
    image.save(kept, "JPEG", exif=exif)
    return kept.getvalue()


def made(sheet: WellSheet, paper: str = "A4") -> bytes:
    return well_sheet(sheet, paper=paper, day=DAY)


@pytest.mark.parametrize("words", HOSTILE)
def test_what_people_write_comes_out_as_they_wrote_it(words: str) -> None:
    sheet = FULL._replace(name=words, place=words, visits=(VISIT._replace(noted=words, by=words),), visit_count=1,
                          facts=(Facts("Construction", (("source", words),)),),
                          findings=(FindingLine("look", words, words),), finding_count=1)  # fmt: skip
    text = words_of(made(sheet)).replace(" ", "")
    assert text.count(words.replace(" ", "")) == 7


def test_a_change_of_direction_cannot_turn_a_number_round() -> None:
    text = words_of(made(FULL._replace(name="gate \u202e21.78", place="\x00 \u2066 \u200f")))
    assert "gate [U+202E]21.78" in text
    assert "[U+0000] [U+2066] [U+200F]" in text


def test_a_figure_is_drawn_whatever_a_point_is_called() -> None:
    picture = PICTURE._replace(name="a\x00b\u202e", points=(PointMark(735_000.0, 1.0, "MP<1>&\x07\u202e"),))
    assert "MP<1>&[U+0007][U+202E] 3.28 ft above" in words_of(made(FULL._replace(picture=picture)))


def test_a_word_without_a_break_stays_on_the_paper() -> None:
    word = "W" * 300
    sheet = FULL._replace(name=word, place=word, visits=(VISIT._replace(noted=word, by=word),), visit_count=1,
                          facts=(Facts("Measuring point", (("mark", word),)),), cautions=(word,),
                          gear=(GearLine(word, word, "1 May 2026", word, word, True),))  # fmt: skip
    assert edges_white(made(sheet))


def test_a_text_beyond_measure_is_cut_and_says_so() -> None:
    text = words_of(made(FULL._replace(place="word " * 2000)))
    assert "..." in text
    assert text.count("word") < LONGEST / 5 + 20


def test_a_well_of_which_nothing_is_known_has_a_sheet_of_one_page() -> None:
    pages = pages_of(made(BARE))
    assert len(pages) == 1
    assert "Nothing was read here yet." in pages[0]
    assert "Findings open None." in pages[0]
    assert "page 1 of 1" in pages[0]


def test_a_value_that_must_not_be_used_says_so_in_its_row() -> None:
    text = words_of(made(FULL._replace(visits=(VISIT._replace(quality="poor", stop=True),))))
    assert "82.10 ft ± 0.05 -42.26 ft ± 0.06 0.01 ft total depth poor, do not use static R. Alder" in text
    assert "do not use" not in words_of(made(FULL))


def test_head_and_foot_stand_on_every_page() -> None:
    head = "sha256 " + "9f" * 32
    pages = pages_of(made(FULL._replace(heading=HEADING._replace(head=head))))
    assert len(pages) == 2
    for number, page in enumerate(pages, start=1):
        assert "Marrow Fen · MF-07 · well sheet" in page
        assert "as known on 14 May 2026" in page
        assert f"signed: {head}" in page
        assert f"page {number} of 2" in page


def test_without_a_tree_head_none_is_spoken_of() -> None:
    assert "tree head" not in words_of(made(FULL))


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("Letter", (216, 279))])
def test_both_papers_have_their_size(paper: str, size: tuple[int, int]) -> None:
    """ISO 216 A4; 8.5 by 11 inches."""
    pdf = made(FULL, paper)
    assert size_mm(pdf) == size
    assert edges_white(pdf)


def test_an_unknown_paper_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="'A3' is not one of: A4, Letter"):
        made(FULL, "A3")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_full_sheet_stays_on_two_pages(paper: str) -> None:
    """Everything at its most, with long lines: nothing is pushed to a third page."""
    long = "a long remark that goes on for a while, as remarks do when somebody has time to write one, and on"
    visit = VISIT._replace(what="electric tape", noted="near by at rest since 06:00, mill, near by tide or stream",
                           use="disturbed level", quality="unchecked (reviewed)", by="M. Teasel-Alderson")  # fmt: skip
    facts = tuple(Facts(title, tuple((f"fact {n}", long[:60]) for n in range(7))) for title in ("A", "B", "C", "D"))
    sheet = FULL._replace(
        place=long, cautions=(long,) * 6, facts=facts, photo=Photo(jpeg(), long),
        visits=(visit,) * 300, visit_count=300, bottom=(long,) * 6,
        gear=(GearLine("ST-014", long[:50], "14 May 2026", long[:60], "was due 3 Feb 2026", True),) * 40,
        findings=(FindingLine("look", long * 2, long),) * 90, finding_count=90,
        heading=HEADING._replace(head="9f" * 32),
    )  # fmt: skip
    pages = pages_of(made(sheet, paper))
    assert len(pages) == 2
    assert "6 of 300, newest first" in pages[1]
    assert f"and {90 - MOST_FINDINGS} more in the record" in pages[1]
    assert pages[1].count("ST-014") == MOST_GEAR
    assert "signature" in pages[1]


def test_the_same_sheet_and_day_give_the_same_bytes() -> None:
    sheet = FULL._replace(photo=Photo(jpeg(), "MP-1"))
    assert made(sheet) == made(sheet)
    assert made(sheet) != well_sheet(sheet, paper="A4", day="2026-05-15")


def test_another_process_makes_the_same_bytes() -> None:
    program = ("import hashlib; from tests.reports.test_well_sheet import FULL, Photo, jpeg, made;"
               "print(hashlib.sha256(made(FULL._replace(photo=Photo(jpeg(), 'MP-1')))).hexdigest())")  # fmt: skip
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == hashlib.sha256(made(FULL._replace(photo=Photo(jpeg(), "MP-1")))).hexdigest()


def test_a_photo_stands_upright_however_the_phone_was_held() -> None:
    """Orientation 6 (EXIF 2.3, tag 274): the sensor's left side is up. The drawing says how wide and high it is."""
    lying, upright = photo_drawing(jpeg(orientation=1)), photo_drawing(jpeg(orientation=6))
    assert 'viewBox="0 0 400 200"' in lying
    assert 'viewBox="0 0 200 400"' in upright


def test_a_large_photo_is_made_as_small_as_paper_can_show() -> None:
    drawn = photo_drawing(jpeg(3000, 2000))
    assert f'width="{WIDEST}"' in drawn
    assert len(drawn) < 60_000


def test_a_png_with_a_see_through_ground_is_shown() -> None:
    kept = io.BytesIO()
    Image.new("RGBA", (30, 20), (10, 20, 30, 40)).save(kept, "PNG")
    assert photo_drawing(kept.getvalue())


@pytest.mark.parametrize(
    "data",
    [b"", b"\xff\xd8\xff", b"\xff\xd8\xffnot a photo" * 9, b"\x89PNG\r\n\x1a\n" + b"x" * 60, b"%PDF-1.7", jpeg()[:300]],
)
def test_bytes_that_are_no_photo_are_told_and_the_sheet_is_made(data: bytes) -> None:
    text = words_of(made(FULL._replace(photo=Photo(data or b"-", "notch, north side"))))
    assert "notch, north side: the photo cannot be read" in text


def test_a_photo_that_would_unpack_beyond_measure_is_not_opened() -> None:
    """A PNG of 40,000 by 40,000 pixels in a few hundred bytes."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    side = 40_000
    assert side * side > MOST_PIXELS
    head = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 99)) + chunk(b"IEND", b"")
    assert photo_drawing(bomb) == ""


def test_a_photo_that_has_not_come_in_yet_is_told() -> None:
    assert "notch: not in this record yet" in words_of(made(FULL._replace(photo=Photo(None, "notch"))))
