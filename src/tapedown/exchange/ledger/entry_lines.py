"""Entries and stored files as lines of JSON, to be carried from one record to another.

The first line says what the file is and how much it holds. Then comes every stored file: a line that tells its SHA-256,
media type and size, followed by its bytes in base64, many to a line. Then every entry, one a line, its fields by name;
the body is text, exactly as it was digested.

    {"tapedown entries":{"version":1,"network":"Marrow Fen","started_by":"0196...","entries":2,"files":1}}
    {"file":{"sha256":"9f86...","media_type":"image/jpeg","size":4}}
    {"bytes":"dGVzdA=="}
    {"entry":{"id":"0197...","kind":"visit","about":"well/MF-07","measured_at":...,"body":"{...}",...}}

Reading is strict: a line that is not exactly this is told with its number and is not taken in. No line is longer than
`LONGEST_LINE`, so a hostile file cannot fill the memory.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator
from typing import IO, Any, NamedTuple

from tapedown.exchange.sheets import UnreadableSheet
from tapedown.exchange.strict_json import no_constant, no_name_twice
from tapedown.values.ledger.entries import Entry

VERSION = 1
LONGEST_LINE = 4_000_000
"""Bytes of a line. An entry is a few hundred; the largest are visits with every note."""
LARGEST_FILE = 100_000_000
"""Bytes of a stored file."""
PIECE = 750_000
"""Bytes of a stored file in one line; a multiple of three, so that base64 needs no padding within a file."""

_MEDIA_TYPE = re.compile(r"[a-z]+/[A-Za-z0-9.+-]+")
_TITLE = "tapedown entries"
_AGAIN = "it was changed on the way; ask for the file again (`tapedown send`)"
_NEWER = "if the other side has a newer version of the program, update this one; else ask for the file again"


class Header(NamedTuple):
    """What the first line says.

    started_by  id of the entry that started the network: the same in every record of it, whatever it is called since
    """

    network: str
    started_by: str
    entries: int
    files: int


class CarriedFile(NamedTuple):
    """A stored file whose bytes match the digest it was sent under."""

    sha256: str
    media_type: str
    data: bytes


class BadLine(NamedTuple):
    """A line that was not taken in: its number, what is wrong and what to do."""

    number: int
    what: str
    mend: str


def header_line(header: Header) -> bytes:
    """The first line."""
    return _line(_TITLE, {"version": VERSION, **header._asdict()})


def entry_line(entry: Entry) -> bytes:
    """An entry as a line.

    Raises
    ------
    ValueError
        The entry is longer than a line may be.
    """
    line = _line("entry", entry._asdict())
    if len(line) > LONGEST_LINE:
        raise ValueError(f"entry {entry.id} takes {len(line)} bytes; a line holds {LONGEST_LINE}")
    return line


def file_lines(data: bytes, media_type: str) -> Iterator[bytes]:
    """A stored file as lines.

    Raises
    ------
    ValueError
        The file is larger than a reader takes.
    """
    if len(data) > LARGEST_FILE:
        raise ValueError(f"a stored file has {len(data)} bytes; {LARGEST_FILE} can be carried")
    sha256 = hashlib.sha256(data).hexdigest()
    yield _line("file", {"sha256": sha256, "media_type": media_type, "size": len(data)})
    for start in range(0, len(data), PIECE):
        yield _line("bytes", base64.b64encode(data[start : start + PIECE]).decode("ascii"))


def _line(name: str, value: Any) -> bytes:
    return json.dumps({name: value}, separators=(",", ":"), ensure_ascii=False).encode("utf-8") + b"\n"


def read_header(lines: IO[bytes], name: str) -> Header:
    """The first line of a file.

    Raises
    ------
    UnreadableSheet
        It is another kind of file, or of a newer version.
    """
    try:
        return _header(lines.readline(LONGEST_LINE))
    except ValueError as error:
        raise UnreadableSheet(
            f"{name}, line 1: {error}",
            hint="name a file made with `tapedown send`; if it was made by a newer version, update this one",
        ) from None


def _header(line: bytes) -> Header:
    title, value = _parsed(line)
    if title != _TITLE or not isinstance(value, dict):
        raise ValueError(f'it does not begin with "{_TITLE}"')
    version = value.pop("version", None)
    if version != VERSION:
        raise ValueError(f"it has version {version!r}; this program reads {VERSION}")
    return Header(**_fields(value, _HEADER))


def read_lines(lines: IO[bytes], header: Header) -> Iterator[Entry | CarriedFile | BadLine]:
    """What follows the first line: entries, files, and every line that is neither."""
    reader = _EntryReader()
    number = 1
    for number, line in enumerate(_bounded(lines), 2):
        try:
            yield from reader.take(number, line)
        except ValueError as error:
            reader.bad += 1
            yield BadLine(number, str(error), _NEWER if "unknown" in str(error) else _AGAIN)
    yield from reader.cut_short()
    promised = (header.entries, header.files)
    if not reader.bad and (reader.entries, reader.files) != promised:
        what = f"line 1 promises {promised[0]} entries and {promised[1]} files, here are"
        yield BadLine(number + 1, f"{what} {reader.entries} and {reader.files}", _AGAIN)


class _Coming(NamedTuple):
    """A file of which the first line was read, and the bytes since."""

    number: int
    sha256: str
    media_type: str
    size: int
    data: bytearray


class _EntryReader:
    """Takes lines one after another; keeps the file whose bytes are coming, and counts."""

    def __init__(self) -> None:
        self.coming: _Coming | None = None
        self.entries = self.files = self.bad = 0

    def take(self, number: int, line: bytes | None) -> Iterator[Entry | CarriedFile | BadLine]:
        """What a line completes. Raises ValueError with what is wrong with it."""
        if line is None:
            raise ValueError(f"it is longer than {LONGEST_LINE} bytes")
        name, value = _parsed(line)
        if name == "bytes":
            self._more(value)
        else:
            yield from self.cut_short()
        if name == "file":
            fields = _fields(value, _FILE)
            if not 0 <= fields["size"] <= LARGEST_FILE:
                raise ValueError(f"size is {fields['size']}, not from 0 to {LARGEST_FILE}")
            if not _MEDIA_TYPE.fullmatch(fields["media_type"]):
                raise ValueError(f"media_type is {fields['media_type'][:60]!r}, not such as image/jpeg")
            self.coming = _Coming(number, **fields, data=bytearray())
        elif name == "entry":
            entry = Entry(**_fields(value, _ENTRY))
            self.entries += 1
            yield entry
        elif name != "bytes":
            raise ValueError(f"it holds an unknown thing, {name[:60]!r}")
        yield from self._finished()

    def _more(self, value: Any) -> None:
        if self.coming is None:
            raise ValueError("bytes that belong to no file")
        if not isinstance(value, str):
            raise ValueError("bytes is not text")  # noqa: TRY004 - what is wrong with a line is a ValueError
        self.coming.data.extend(base64.b64decode(value.encode("utf-8"), validate=True))

    def _finished(self) -> Iterator[CarriedFile]:
        coming = self.coming
        if coming is None or len(coming.data) < coming.size:
            return
        self.coming = None
        data = bytes(coming.data)
        if len(data) != coming.size or hashlib.sha256(data).hexdigest() != coming.sha256:
            raise ValueError(f"the file begun in line {coming.number} does not match its digest")
        self.files += 1
        yield CarriedFile(coming.sha256, coming.media_type, data)

    def cut_short(self) -> Iterator[BadLine]:
        """The file that was begun and will not be finished any more."""
        if self.coming is not None:
            had = f"{len(self.coming.data)} of its {self.coming.size} bytes are here"
            self.bad += 1
            yield BadLine(self.coming.number, f"the file is cut short: {had}", _AGAIN)
            self.coming = None


_HEADER: dict[str, Any] = {"network": str, "started_by": str, "entries": int, "files": int}
_FILE: dict[str, Any] = {"sha256": str, "media_type": str, "size": int}
_ENTRY: dict[str, Any] = dict.fromkeys(Entry._fields, str) | {"sequence": int, "strikes": (str, type(None))}


def _fields(value: Any, types: dict[str, Any]) -> dict[str, Any]:
    """The fields of a mapping, exactly these and of these types. Raises ValueError naming the first that is not."""
    if not isinstance(value, dict):
        raise ValueError("it holds no fields")  # noqa: TRY004 - what is wrong with a line is a ValueError
    for name in types:
        if name not in value:
            raise ValueError(f"{name} is missing")
    for name, member in value.items():
        if name not in types:
            raise ValueError(f"it has an unknown field, {name[:60]!r}")
        if isinstance(member, bool) or not isinstance(member, types[name]):
            wanted = "a whole number" if types[name] is int else "text"
            raise ValueError(f"{name} is {str(member)[:60]!r}, not {wanted}")  # noqa: TRY004 - see above
    return value


def _parsed(line: bytes) -> tuple[str, Any]:
    """The one name in a line and what it holds. Raises ValueError."""
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ValueError(f"byte {error.start + 1} is not UTF-8 text") from None
    try:
        parsed = json.loads(text, object_pairs_hook=no_name_twice, parse_constant=no_constant, parse_float=_no_fraction)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None
    except json.JSONDecodeError as error:
        raise ValueError(f"it is not JSON: {error.msg} at character {error.pos + 1}") from None
    if not isinstance(parsed, dict) or len(parsed) != 1:
        raise ValueError("it does not hold one thing with a name")
    return next(iter(parsed.items()))


def _no_fraction(word: str) -> Any:
    raise ValueError(f"{word[:60]} is not a whole number")


def _bounded(lines: IO[bytes]) -> Iterator[bytes | None]:
    """The lines without their ends; None for one that is too long, which is skipped without being held."""
    while line := lines.readline(LONGEST_LINE + 1):
        whole = line.endswith(b"\n") or len(line) <= LONGEST_LINE
        while not line.endswith(b"\n") and len(line) > LONGEST_LINE:
            line = lines.readline(LONGEST_LINE + 1)
        yield line.rstrip(b"\r\n") if whole else None
