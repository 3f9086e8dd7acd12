"""The JSON beside the pages of reviews, repeats, sign-offs and comparisons. Lengths in m; null: not known."""

from __future__ import annotations

from pydantic import BaseModel

from tapedown.web.shapes import EntryShape, RowShape


class LookShape(BaseModel):
    """One person's word on a value."""

    by: str
    written_at: str
    quality: str
    why: str


class ReviewedShape(BaseModel):
    """Who looked at a value and who still must; readers do not count."""

    looks: list[LookShape]
    readers: list[str]
    people: list[str]
    needed: int
    missing: int


class AgainShape(BaseModel):
    """A request to measure a well again; drawing is null when a person asked, answer while it is open."""

    well: str
    request: str
    why: str
    drawing: str | None
    asked_by: str
    asked_at: str
    original: str | None
    answer: str | None


class ItemShape(BaseModel):
    """A value that waits for a look, with what the look is worth."""

    well: str
    value: RowShape
    review: ReviewedShape
    again: AgainShape | None
    chance: float
    moves_m: float
    worth_m: float


class QueueShape(BaseModel):
    """A page of the queue in its order; older readings are counted, not looked through."""

    count: int
    older: int
    next_page: int | None
    items: list[ItemShape]


class RepeatErrorShape(BaseModel):
    """Observed repeat error with intervals, and the claim held against it."""

    n: int
    mean_m: float | None
    mean_low_m: float | None
    mean_high_m: float | None
    sd_m: float | None
    sd_low_m: float | None
    sd_high_m: float | None
    repeat_m: float | None
    claimed_m: float | None
    chi2: float | None
    chi2_low: float | None
    chi2_high: float | None
    verdict: str


class RepeatShape(AgainShape):
    """A drawn well measured twice: second less first, and the standard uncertainty claimed for that."""

    method: str
    first_at: str
    second_at: str
    difference_m: float
    u_m: float
    late: bool


class RepeatsShape(BaseModel):
    """All drawn repeats and what they say."""

    error: RepeatErrorShape
    by_method: dict[str, RepeatErrorShape]
    pairs: list[RepeatShape]
    waiting: list[AgainShape]


class SignedShape(BaseModel):
    """A sign-off."""

    entry: EntryShape
    name: str
    by: str
    statement: str
    wells: list[str]
    since: str
    until: str
    as_of: str
    entries: int
    tree_head: str
    follows: str | None
    unreviewed: int
    why_unreviewed: str
    struck_by: str | None
    words: str


class SetShape(SignedShape):
    """A signed set with its values as they stood then; struck_since: entry -> what struck it."""

    values: dict[str, list[RowShape]]
    struck_since: dict[str, EntryShape]


class ComparedMarkShape(BaseModel):
    """One depth of a comparison: shown, true by the corrected reference, amount to add, and that by the line."""

    shown_m: float
    true_m: float
    u_m: float
    add_m: float
    line_add_m: float | None
    line_expanded_m: float | None


class LineShape(BaseModel):
    """true = offset + slope * shown."""

    offset_m: float
    slope: float
    residual_m: float


class ComparedShape(BaseModel):
    """A side-by-side comparison; within: year of the document -> whether its allowed difference is kept."""

    entry: EntryShape
    reference: str
    marks: list[ComparedMarkShape]
    line: LineShape | None
    within: dict[str, bool]
    apply: str
    used_by: str | None
