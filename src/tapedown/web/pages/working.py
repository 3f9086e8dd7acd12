"""How far long work has come: a page that follows it and moves on by itself when it is done."""

from __future__ import annotations

from typing import TypedDict

from fastapi import APIRouter, Request, Response
from starlette.responses import RedirectResponse

from tapedown.values.errors import TapedownError
from tapedown.web.answers import RefusalJson, answers
from tapedown.web.links import words_of
from tapedown.web.pages.common import office_of, render
from tapedown.web.working import PieceOfWork

router = APIRouter()


class WorkingJson(TypedDict):
    """How far long work has come; of is 0 while that is not known, shown_at the address of the outcome once done."""

    title: str
    what: str
    done: int
    of: int
    words: str
    finished: bool
    shown_at: str | None
    error: RefusalJson | None


@answers(router, "/working/{token}.json", tags=["working"])
def working_json(request: Request, token: str) -> WorkingJson:
    """How far a piece of long work has come."""
    piece = office_of(request).working.piece(words_of(token))
    finished, error, step = piece.future.done(), _error(piece), piece.step
    return {
        "title": piece.title,
        "what": step.what,
        "done": step.done,
        "of": step.of,
        "words": str(step),
        "finished": finished,
        "shown_at": piece.shown_at(words_of(token)) if finished and error is None else None,
        "error": {"message": str(error), "hint": error.hint, "places": ()} if error else None,
    }


def _error(piece: PieceOfWork) -> TapedownError | None:
    """The refusal it ended in. Raises what is a fault of the program."""
    error = piece.future.exception() if piece.future.done() else None
    if error is not None and not isinstance(error, TapedownError):
        raise error
    return error


@router.get("/working/{token}", include_in_schema=False)
def working_page(request: Request, token: str) -> Response:
    """How far it has come, or on to the outcome."""
    name = words_of(token)
    piece = office_of(request).working.piece(name)
    error = _error(piece)
    if piece.future.done() and error is None:
        return RedirectResponse(piece.shown_at(name), 303)
    return render(request, "working.html", title=piece.title, piece=piece, error=error)
