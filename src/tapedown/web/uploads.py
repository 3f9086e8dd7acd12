"""Forms and files as they arrive: kept in memory, never on disk, counted before they are believed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from starlette.datastructures import FormData, UploadFile
from starlette.formparsers import FormParser, MultiPartException, MultiPartParser
from starlette.requests import Request

from tapedown.values.errors import TapedownError
from tapedown.web.security import LARGEST_UPLOAD, check_form_token

MOST_FIELDS = 2000
"""In one form; the longest of ours has some hundred."""
TOKEN = "token"  # noqa: S105 - a name, not a secret
"""Name of the hidden field with the page's token."""


class UnreadableForm(TapedownError):
    """The body of a request is not a form."""


class Sent(NamedTuple):
    """A form as sent: its fields in order, its files by name (name of the file, bytes)."""

    fields: tuple[tuple[str, str], ...]
    files: dict[str, tuple[str, bytes]]

    def text(self, name: str) -> str:
        """The last value of a field, "" when it was not sent."""
        return next((value for key, value in reversed(self.fields) if key == name), "")


class _InMemory(MultiPartParser):
    """Keeps uploads in memory: what a person sends is written to disk nowhere but, when they say so, in the record."""

    spool_max_size = LARGEST_UPLOAD + 1


async def form_sent(request: Request) -> Sent:
    """The form of a request, its token checked. A dependency of every route that changes something.

    Raises
    ------
    UnreadableForm, ForgedForm, TooLarge
    """
    sent = await _sent(request)
    check_form_token(request, sent.text(TOKEN))
    return sent


async def _sent(request: Request) -> Sent:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    try:
        if kind == "multipart/form-data":
            parser = _InMemory(request.headers, request.stream(), max_files=4, max_fields=MOST_FIELDS)
            return await _taken(await parser.parse())
        if kind == "application/x-www-form-urlencoded":
            return await _taken(await FormParser(request.headers, request.stream()).parse())
    except (MultiPartException, UnicodeDecodeError, KeyError, LookupError) as error:
        raise UnreadableForm(f"the form cannot be read: {error}", hint="send it from its page again") from None
    raise UnreadableForm(f"a form was expected, {kind or 'nothing'} came", hint="send the form of the page")


async def _taken(data: FormData) -> Sent:
    items = data.multi_items()
    try:
        if len(items) > MOST_FIELDS:
            raise UnreadableForm(f"{len(items)} fields in one form", hint="send fewer readings at once")
        fields = tuple((key, value) for key, value in items if isinstance(value, str))
        return Sent(fields, {key: await _file(value) for key, value in _files(items) if value.filename})
    finally:
        await data.close()


def _files(items: Iterable[tuple[str, UploadFile | str]]) -> list[tuple[str, UploadFile]]:
    return [(key, value) for key, value in items if isinstance(value, UploadFile)]


async def _file(sent: UploadFile) -> tuple[str, bytes]:
    """Last part of the name it had there, and its bytes."""
    name = (sent.filename or "").replace("\\", "/").rpartition("/")[2][:200]
    return name, await sent.read()
