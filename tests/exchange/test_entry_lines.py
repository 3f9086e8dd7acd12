"""Entries and stored files as lines, read strictly."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import tracemalloc
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.exchange.ledger.entry_lines import (
    LARGEST_FILE,
    LONGEST_LINE,
    PIECE,
    BadLine,
    CarriedFile,
    Header,
    entry_line,
    file_lines,
    header_line,
    read_header,
    read_lines,
)
from tapedown.exchange.sheets import UnreadableSheet
from tapedown.values.ledger.entries import Draft, Entry, canonical, chained

TEXT = st.text(st.characters(exclude_categories=["Cs"]))
ENTRIES = st.builds(
    Entry,
    *[TEXT] * 7,
    strikes=st.none() | TEXT,
    reason=TEXT,
    device=TEXT,
    sequence=st.integers(1, 2**63 - 1),
    previous=TEXT,
    digest=TEXT,
)
DRAFT = Draft(
    "id-1", "visit", "well/MF-07", "", "2026-05-14T09:20:00.000000Z", "R. Alder", canonical({"readings": ["84.30"]})
)
GOOD = chained(DRAFT, device="tablet", sequence=1, previous="0" * 64)


def written(entries: list[Entry], files: list[tuple[bytes, str]] | None = None) -> bytes:
    carried = files or []
    lines = [header_line(Header("Marrow Fen", "start", len(entries), len(carried)))]
    for data, media_type in carried:
        lines += file_lines(data, media_type)
    return b"".join([*lines, *map(entry_line, entries)])


def read(data: bytes) -> list[Entry | CarriedFile | BadLine]:
    lines = io.BytesIO(data)
    return list(read_lines(lines, read_header(lines, "fen.jsonl")))


@given(entries=st.lists(ENTRIES), files=st.lists(st.binary(max_size=50)))
def test_what_is_written_is_read_back(entries: list[Entry], files: list[bytes]) -> None:
    carried = [(data, "image/jpeg") for data in files]
    found = read(written(entries, carried))
    assert found == [CarriedFile(hashlib.sha256(data).hexdigest(), kind, data) for data, kind in carried] + entries


@pytest.mark.parametrize("size", [0, 1, PIECE - 1, PIECE, PIECE + 1, 3 * PIECE])
def test_a_photo_of_any_size_comes_through_byte_for_byte(size: int) -> None:
    data = (bytes(range(256)) * (size // 256 + 1))[:size]
    whole = written([], [(data, "image/jpeg")])
    assert read(whole) == [CarriedFile(hashlib.sha256(data).hexdigest(), "image/jpeg", data)]
    assert max(map(len, whole.splitlines())) < LONGEST_LINE


def test_what_a_reader_would_refuse_is_not_written() -> None:
    with pytest.raises(ValueError, match=str(LONGEST_LINE)):
        entry_line(GOOD._replace(body="x" * LONGEST_LINE))
    with pytest.raises(ValueError, match=str(LARGEST_FILE)):
        list(file_lines(bytes(LARGEST_FILE + 1), "image/jpeg"))


@pytest.mark.parametrize(
    "first",
    [
        b"",
        b"\n",
        b"well,depth\nMF-07,84.30\n",
        b'{"tapedown entries":3}\n',
        b'{"tapedown entries":{"version":1}}\n',
        b'{"tapedown entries":{"version":2,"network":"Marrow Fen","started_by":"x","entries":0,"files":0}}\n',
        b'{"tapedown entries":{"version":1,"network":7,"started_by":"x","entries":0,"files":0}}\n',
        b'{"tapedown entries":{"version":1,"network":"","started_by":"x","entries":true,"files":0}}\n',
        b'{"entry":{}}\n',
        b"\xff\xfe{\n",
        b"[" * 100_000,
        b"9" * 5000,
    ],
)
def test_a_file_of_another_kind_is_refused_as_a_whole(first: bytes) -> None:
    with pytest.raises(UnreadableSheet, match="line 1") as refused:
        read(first + entry_line(GOOD))
    assert "tapedown send" in refused.value.hint


def fields(**changes: Any) -> bytes:
    """An entry's line with changed fields; a field that is `...` is left out."""
    told = {k: v for k, v in {**GOOD._asdict(), **changes}.items() if v is not ...}
    return json.dumps({"entry": told}).encode()


BAD_LINES: list[tuple[bytes, str]] = [
    (b"", "not JSON"),
    (b"not JSON at all", "not JSON"),
    (b"[]", "one thing"),
    (b"7", "one thing"),
    (b"{}", "one thing"),
    (b'{"entry":{},"file":{}}', "one thing"),
    (b'{"birds":{}}', "unknown"),
    (b'{"entry":[]}', "no fields"),
    (b'{"entry":{"id":"a","id":"b"}}', "twice"),
    (b'{"entry":1,"entry":2}', "twice"),
    (fields(by=...), "by is missing"),
    (fields(colour="green"), "unknown field"),
    (fields(by=7), "by is '7'"),
    (fields(by=None), "by is 'None'"),
    (fields(body={"readings": []}), "body"),
    (fields(strikes=3), "strikes"),
    (fields(sequence="1"), "sequence"),
    (fields(sequence=True), "sequence"),
    (fields(sequence=1.5), "not a whole number"),
    (fields(sequence=float("nan")), "NaN"),
    (fields(sequence=float("-inf")), "Infinity"),
    (fields(by="x").replace(b'"x"', b'"\xff"'), "not UTF-8"),
    (b"9" * 10_000, "digit"),
    (b'{"a":' * 200_000, "deep"),
    (b'"' + b"x" * LONGEST_LINE + b'"', "longer than"),
    (b'{"bytes":"AAAA"}', "no file"),
    (b'{"file":{"sha256":"x","media_type":"text/plain","size":-1}}', "size"),
    (b'{"file":{"sha256":"x","media_type":"text/plain","size":99999999999}}', "size"),
    (b'{"file":{"sha256":"x","media_type":"text/plain","size":0}}', "digest"),
    (b'{"file":{"sha256":"x","media_type":"a b\\r\\nc","size":1}}', "media_type"),
]


@pytest.mark.parametrize(("line", "why"), BAD_LINES)
def test_a_bad_line_is_told_with_its_number_and_the_others_are_taken_in(line: bytes, why: str) -> None:
    other = chained(DRAFT._replace(id="id-2"), device="phone", sequence=1, previous="0" * 64)
    whole = header_line(Header("Marrow Fen", "start", 2, 0)) + entry_line(GOOD) + line + b"\n" + entry_line(other)
    first, bad, last = read(whole)
    assert (first, last) == (GOOD, other)
    assert isinstance(bad, BadLine)
    assert bad.number == 3
    assert why in bad.what
    assert len(bad.what) < 200
    assert bad.mend


def photo(data: bytes) -> list[bytes]:
    return list(file_lines(data, "image/jpeg"))


def piece(data: bytes) -> bytes:
    return b'{"bytes":"' + base64.b64encode(data) + b'"}\n'


HEAD = b'{"file":{"sha256":"%s","media_type":"image/jpeg","size":4}}\n' % hashlib.sha256(b"fen1").hexdigest().encode()


@pytest.mark.parametrize(
    ("lines", "number", "why"),
    [
        ([HEAD, piece(b"fen2")], 3, "does not match its digest"),
        ([HEAD, piece(b"fen12")], 3, "does not match its digest"),
        ([HEAD, piece(b"fen")], 2, "cut short: 3 of its 4"),
        ([HEAD], 2, "cut short: 0 of its 4"),
        ([HEAD, *photo(b"other")], 2, "cut short"),
        ([HEAD, b'{"bytes":"????"}\n'], 3, ""),
        ([HEAD, b'{"bytes":[1]}\n'], 3, "not text"),
    ],
)
def test_a_photo_that_was_changed_or_cut_is_told_and_not_taken_in(lines: list[bytes], number: int, why: str) -> None:
    whole = header_line(Header("Marrow Fen", "start", 1, 1)) + b"".join(lines) + entry_line(GOOD)
    found = read(whole)
    bad = next(one for one in found if isinstance(one, BadLine))
    assert bad.number == number
    assert why in bad.what
    assert found[-1] == GOOD
    assert not [one for one in found if isinstance(one, CarriedFile) and one.data != b"other"]


def test_a_file_that_ends_early_is_told() -> None:
    whole = written([GOOD, GOOD], [(b"fen1", "image/jpeg")])
    *_, bad = read(b"".join(whole.splitlines(keepends=True)[:-1]))
    assert isinstance(bad, BadLine)
    assert "promises 2 entries and 1 files, here are 1 and 1" in bad.what


@given(cut=st.integers(0, 2000))
def test_no_cut_goes_unnoticed(cut: int) -> None:
    whole = written([GOOD, GOOD], [(b"fen1" * 20, "image/jpeg")])
    cut %= len(whole) - 1  # the end of the last line may be missing
    try:
        found = read(whole[:cut])
    except UnreadableSheet:
        return
    assert any(isinstance(one, BadLine) for one in found)


@given(at=st.integers(0, 5000), byte=st.integers(0, 255))
def test_no_changed_byte_of_a_photo_goes_unnoticed(at: int, byte: int) -> None:
    data = bytes(range(200))
    lines = photo(data)
    at = len(b'{"bytes":"') + at % (len(lines[1]) - len(b'{"bytes":""}\n'))
    changed = lines[1][:at] + bytes([byte]) + lines[1][at + 1 :]
    found = read(header_line(Header("Marrow Fen", "start", 0, 1)) + lines[0] + changed)
    assert any(isinstance(one, BadLine) for one in found) or found == [
        CarriedFile(hashlib.sha256(data).hexdigest(), "image/jpeg", data)
    ]


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_told(noise: bytes) -> None:
    found = read(header_line(Header("Marrow Fen", "start", 0, 0)) + noise)
    assert bool(found) == bool(noise)


class Endless(io.RawIOBase):
    """A line that goes on for half a gigabyte."""

    def __init__(self) -> None:
        self.left = 500_000_000

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        size = min(len(buffer), self.left)
        buffer[:size] = b"x" * size
        self.left -= size
        return size


@pytest.fixture
def traced() -> Iterator[None]:
    tracemalloc.start()
    yield
    tracemalloc.stop()


def test_an_endless_line_does_not_fill_the_memory(traced: None) -> None:
    lines = io.BufferedReader(Endless(), 1_000_000)
    (bad,) = read_lines(lines, Header("Marrow Fen", "start", 0, 0))
    assert isinstance(bad, BadLine)
    assert "longer than" in bad.what
    assert tracemalloc.get_traced_memory()[1] < 6 * LONGEST_LINE


def test_lines_that_end_as_on_another_system_are_read() -> None:
    assert read(written([GOOD], [(b"fen1", "text/plain")]).replace(b"\n", b"\r\n"))[-1] == GOOD
