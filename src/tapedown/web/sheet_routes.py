"""What the field sheet asks of the office: its files, pairing, packs, and the way in for entries and photos.

A phone shows its key with every request. There are no cookies here, so nothing a browser adds by itself lets anybody
in.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import partial
from typing import Annotated, Any, NamedTuple, TypedDict, TypeVar

from fastapi import APIRouter, Depends, Path, Request, Response
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from tapedown.record import Head, Receipt
from tapedown.values.errors import TapedownError
from tapedown.values.forms import Problem
from tapedown.values.ledger.entries import Entry
from tapedown.web.answers import REFUSALS, ErrorJson, answers, described
from tapedown.web.pages.common import network_at, office_of
from tapedown.web.pages.rounds.pairing import codes_of
from tapedown.web.security import TooLarge
from tapedown.web.sheet_files import START, VersionJson, headers_of, sheet_files, version
from tapedown.work.authorship import Author
from tapedown.work.entry.documents import LARGEST_BYTES
from tapedown.work.field.packs import OutlineJson, outline_to_json, pack
from tapedown.work.field.pairing import Codes, KeyUnknown, device_of_key, pair
from tapedown.work.field.upload import hand_in, head_of, keep_photo, photo
from tapedown.work.networks import OpenNetwork
from tapedown.work.rounds.planning import outlines, rounds_now

router = APIRouter(prefix="/sheet", tags=["field sheet"])
MOST_ENTRIES, LARGEST_BATCH, LARGEST_PAIRING = 500, 2_000_000, 10_000
SHEET_REFUSALS = REFUSALS | {
    413: {"model": described(ErrorJson), "description": "more than is taken at once"},
    415: {"model": described(ErrorJson), "description": "no photo, or not the kind it is said to be"},
    429: {"model": described(ErrorJson), "description": "too many wrong codes"},
}
answering = partial(answers, router, ending="Out", responses=SHEET_REFUSALS)
BYTES = {"type": "string", "format": "binary"}


Shape = TypeVar("Shape", bound=BaseModel)


class UnreadableRequest(TapedownError):
    """What a phone sent is not in the shape agreed on. problems: the places."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("what was sent cannot be read", hint="bring the sheet up to date: open it once with a network")


class PairingIn(BaseModel):
    """A code as typed, and what the phone is called."""

    model_config = ConfigDict(extra="forbid", strict=True)
    code: str = Field(max_length=40)
    label: str = Field(default="", max_length=200)


class PairedJson(TypedDict):
    """The phone's name and key; the key is shown this once."""

    device: str
    key: str
    network: dict[str, str]


class EntryIn(BaseModel):
    """An entry, chained on the phone; body is its canonical JSON as text."""

    model_config = ConfigDict(extra="forbid", strict=True)
    id: str = Field(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$")
    kind: str
    about: str
    measured_at: str
    written_at: str
    by: str
    body: str
    strikes: str | None
    reason: str
    device: str
    sequence: int = Field(ge=1, le=2**53)
    previous: str
    digest: str


class EntriesIn(BaseModel):
    """Entries of one phone."""

    model_config = ConfigDict(extra="forbid", strict=True)
    entries: list[EntryIn] = Field(max_length=MOST_ENTRIES)


class EntriesJson(TypedDict):
    """Receipts in the order of the entries, and the end of the chain."""

    receipts: list[Receipt]
    head: Head


class OpenRoundsJson(TypedDict):
    """Open rounds, newest first."""

    rounds: list[OutlineJson]


class BlobJson(TypedDict):
    """A photo that is kept."""

    sha256: str


def body_up_to(limit: int) -> Callable[[Request], Awaitable[bytes]]:
    """A dependency that gives the request's body and stops at `limit` bytes."""

    async def read(request: Request) -> bytes:
        taken = bytearray()
        async for piece in request.stream():
            taken += piece
            if len(taken) > limit:
                raise TooLarge(limit)
        return bytes(taken)

    return read


def read_as(shape: type[Shape], body: bytes) -> Shape:
    """The body in its agreed shape. Raises UnreadableRequest."""
    try:
        return shape.model_validate_json(body)
    except ValidationError as error:
        found = error.errors(include_input=False, include_url=False)[:20]
        places = [Problem(".".join(map(str, one["loc"])), one["msg"], "see the contract of the sheet") for one in found]
        raise UnreadableRequest(places) from None


PHONE_KEY = HTTPBearer(auto_error=False, scheme_name="phone key", description="the key told when pairing")


class Caller(NamedTuple):
    """The phone whose key came with the request, and the network it asks."""

    network: OpenNetwork
    device: str


def caller(request: Request, shown: Annotated[HTTPAuthorizationCredentials | None, Depends(PHONE_KEY)]) -> Caller:
    """Who asks. Raises KeyUnknown."""
    if shown is None:
        raise KeyUnknown
    network = network_at(request)
    return Caller(network, device_of_key(network, shown.credentials.strip()).name)


Paired = Annotated[Caller, Depends(caller)]
DIGEST = Path(pattern="^[0-9a-f]{64}$", description="sha256 of the photo")


def body_of(schema: dict[str, Any], kind: str = "application/json") -> dict[str, Any]:
    """How a body that is read by hand stands in the description of the interface."""
    return {"requestBody": {"required": True, "content": {kind: {"schema": schema}}}}


def _entries_schema() -> dict[str, Any]:
    items = {"type": "array", "maxItems": MOST_ENTRIES, "items": EntryIn.model_json_schema()}
    return {"type": "object", "required": ["entries"], "properties": {"entries": items}, "additionalProperties": False}


@answering(
    "/pair",
    method="POST",
    openapi_extra=body_of(PairingIn.model_json_schema()),
)
def pair_phone(
    request: Request,
    codes: Annotated[Codes, Depends(codes_of)],
    body: Annotated[bytes, Depends(body_up_to(LARGEST_PAIRING))],
) -> PairedJson:
    """Pair a phone that shows a code; its key is told this once."""
    given, network, office = read_as(PairingIn, body), network_at(request), office_of(request)
    paired = pair(network, codes, given.code, given.label, Author("", office.device, office.clock))
    return {"device": paired.device, "key": paired.key, "network": {"name": network.facts.name}}


@answering("/rounds.json")
def open_rounds(who: Paired) -> OpenRoundsJson:
    """Open rounds, newest first."""
    found = rounds_now(who.network, outlines(who.network))
    return {"rounds": [outline_to_json(one.entry, one.planned) for one in found if one.open]}


@answering("/packs/{round_id}.json")
def round_pack(request: Request, who: Paired, round_id: str) -> dict[str, Any]:
    """Everything a round needs, to be kept on the phone."""
    return pack(who.network, round_id, office_of(request).clock)


@answering("/head.json")
def phone_head(who: Paired) -> Head:
    """Where the phone's chain ends in the record."""
    return head_of(who.network, who.device)


@answering("/entries", method="POST", openapi_extra=body_of(_entries_schema()))
def take_entries(
    request: Request, who: Paired, body: Annotated[bytes, Depends(body_up_to(LARGEST_BATCH))]
) -> EntriesJson:
    """Take in entries of the phone's own chain; the same ones again change nothing."""
    given = read_as(EntriesIn, body)
    offered = [Entry(**one.model_dump()) for one in given.entries]
    receipts = hand_in(who.network, who.device, offered, office_of(request).clock)
    return {"receipts": receipts, "head": head_of(who.network, who.device)}


@router.get("/blobs/{sha256}", responses={**SHEET_REFUSALS, 200: {"content": {"image/jpeg": {}, "image/png": {}}}},
           response_class=Response)  # fmt: skip
def photo_bytes(who: Paired, sha256: Annotated[str, DIGEST]) -> Response:
    """A photo of the network."""
    found = photo(who.network, sha256)
    return Response(found.bytes, media_type=found.media_type)


@answering(
    "/blobs/{sha256}",
    method="PUT",
    openapi_extra=body_of(BYTES, "image/jpeg"),
)
def take_photo(
    request: Request,
    who: Paired,
    sha256: Annotated[str, DIGEST],
    body: Annotated[bytes, Depends(body_up_to(LARGEST_BYTES))],
) -> BlobJson:
    """Keep a photo; the same one again changes nothing."""
    return {"sha256": keep_photo(who.network, sha256, body, request.headers.get("content-type", ""))}


@answering("/version.json", responses={})
def sheet_version() -> VersionJson:
    """Which files make up the sheet."""
    return version()


@router.get("", include_in_schema=False)
def without_slash() -> Response:
    """The sheet stands under a folder's name, so that its worker covers it."""
    return RedirectResponse("/sheet/", 308)


@router.get("/{name:path}", include_in_schema=False)
def sheet_file(request: Request, name: str) -> Response:
    """A file of the sheet, of a closed list."""
    name = name or START
    file = sheet_files().get(name)
    if file is None:
        raise HTTPException(404)
    headers = headers_of(name, file)
    if request.headers.get("if-none-match") == file.etag:
        return Response(status_code=304, headers=headers)
    return Response(file.data, media_type=file.media_type, headers=headers)
