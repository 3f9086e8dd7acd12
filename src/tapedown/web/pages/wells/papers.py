"""Photos and papers kept with a well from the desk."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response

from tapedown.values.forms import Field, Form, Problem
from tapedown.values.readings import Document
from tapedown.web.answers import answers
from tapedown.web.forms import FormJson, asks_for, by_place, listed
from tapedown.web.links import well_path, words_of
from tapedown.web.pages.common import author_for, done, network_at, render
from tapedown.web.pages.wells.entry import missing
from tapedown.web.uploads import Sent, form_sent
from tapedown.work.entry.documents import NotKept, attach
from tapedown.work.networks import OpenNetwork
from tapedown.work.refusals import NobodyNamed, WrittenWrong
from tapedown.work.wells.files import well_file

router = APIRouter()
PAPER = Form(
    "document",
    Document,
    "A photo or paper kept with a well: JPEG, PNG, PDF or text, up to 30 MB.",
    (
        Field("paper", "text", "the file: JPEG, PNG, PDF or text, up to 30 MB", required=True),
        Field("caption", "text", "what it shows"),
        Field("taken", "when", "the day it was taken: 2026-05-14, or with the time 2026-05-14 10:20"),
    ),
)


@answers(router, "/wells/{code}/papers/new.json", tags=["forms"])
def paper_json(request: Request, code: str) -> FormJson:
    """What a photo or paper asks for."""
    network = network_at(request)
    code = well_file(network, words_of(code)).code
    return asks_for(PAPER, about=code, sent_to=_path(code), unit=network.unit, given={})


def _path(code: str) -> str:
    return f"{well_path(code)}/papers/new"


@router.get("/wells/{code}/papers/new", include_in_schema=False)
def paper_page(request: Request, code: str) -> Response:
    """The form for a photo or paper."""
    return _show(request, well_file(network_at(request), words_of(code)).code)


def _show(request: Request, code: str, sent: Sent | None = None, problem: Problem | None = None) -> Response:
    problems = [problem] if problem else []
    return render(
        request,
        "paper.html",
        title=f"photo or paper of {code}",
        code=code,
        path=_path(code),
        back=well_path(code),
        caption=sent.text("caption") if sent else "",
        taken=sent.text("taken") if sent else "",
        problems=by_place(problems),
        listed=listed(problems),
        status=422 if problems else 200,
        **({"by": sent.text("by")} if sent else {}),
    )


@router.post("/wells/{code}/papers/new", include_in_schema=False)
def paper_sent(request: Request, code: str, sent: Annotated[Sent, Depends(form_sent)]) -> Response:
    """Keep it, by what its bytes are."""
    network = network_at(request)
    code = well_file(network, words_of(code)).code
    try:
        _keep(network, code, sent, request)
    except NobodyNamed as error:
        return _show(request, code, sent, missing(error))
    except NotKept as error:
        return _show(request, code, sent, Problem("paper", str(error), error.hint))
    except WrittenWrong as error:
        return _show(request, code, sent, error.problems[0]._replace(place="taken"))
    return done(request, sent, f"{well_path(code)}#known")


def _keep(network: OpenNetwork, code: str, sent: Sent, request: Request) -> None:
    name, data = sent.files.get("paper", ("", b""))
    if not name:
        raise NotKept("no file was chosen", hint="choose a photo (JPEG, PNG), a PDF or a text file")
    caption, taken = sent.text("caption").strip(), sent.text("taken").strip()
    attach(network, code, data, name, caption, author_for(request, sent), measured_at=taken)
