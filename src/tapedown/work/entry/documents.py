"""Photos and papers: bytes kept once, known by what they are rather than by what their name says."""

from __future__ import annotations

from tapedown.record import add_blob, append
from tapedown.values.errors import TapedownError
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.ledger.entries import Entry
from tapedown.values.readings import Document
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import when_written
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import WrittenWrong
from tapedown.work.wells.files import well_file

LARGEST_BYTES = 30_000_000
_SIGNS = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"), (b"%PDF-", "application/pdf"))


class NotKept(TapedownError):
    """A file that is not kept: too large, empty, or of a kind that is not known."""


def media_type(data: bytes, name: str) -> str:
    """What the bytes are, by their first bytes.

    Raises
    ------
    NotKept
        Empty, larger than 30 MB, or neither JPEG, PNG, PDF nor plain text.
    """
    if not data or len(data) > LARGEST_BYTES:
        raise NotKept(f"{name} has {len(data)} bytes", hint="between 1 byte and 30 MB is kept; make the photo smaller")
    for sign, kind in _SIGNS:
        if data.startswith(sign):
            return kind
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        raise NotKept(f"{name} is neither JPEG, PNG, PDF nor text", hint="save it as one of these") from None
    return "text/plain"


def attach(
    network: OpenNetwork, code: str, data: bytes, name: str, caption: str, author: Author, *, measured_at: str = ""
) -> Entry:
    """Keep a photo or paper with a well; the same bytes are kept once however often they come.

    Raises
    ------
    NoSuchWell, NotKept
    WrittenWrong
        The time it was taken cannot be read.
    """
    well_file(network, code)
    when, problems = when_written(measured_at, network)
    if problems:
        raise WrittenWrong(name, problems)
    kind = media_type(data, name)
    sha256 = add_blob(network.record, data, kind)
    body = KINDS["document"].body(Document(sha256, kind, name, caption))
    draft = author.draft("document", about_well(code), body, measured_at=when)
    return append(network.record, author.device, [draft])[0]
