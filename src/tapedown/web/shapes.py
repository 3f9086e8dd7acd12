"""What the JSON beside each page looks like: the models behind /openapi.json. Lengths in m unless names say else."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, Field


class ProblemShape(BaseModel):
    """A place in what was sent, what is wrong there, the mend."""

    place: str
    message: str
    mend: str


class ErrorBody(BaseModel):
    """Why a request was refused and what to do about it."""

    message: str
    hint: str
    places: list[ProblemShape]


class ErrorShape(BaseModel):
    """The one shape of every refusal."""

    error: ErrorBody


REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorShape, "description": text}
    for status, text in {
        400: "the request cannot be understood",
        401: "the office asks for its key",
        403: "not from a page of this office",
        404: "nothing there by that name",
        422: "something asked cannot be read",
        503: "the record cannot be used now",
    }.items()
}


class FieldShape(BaseModel):
    """A field of a form; fields are those of its rows. unit is the one taken when none is written with the number.

    asked is "first" (before anything is read), "moving" (the same where the water moves), "" or "seldom"; gear holds
    the types of gear whose serial number it takes.
    """

    name: str
    kind: str
    help: str
    required: bool
    several: bool
    choices: list[str]
    asked: str
    gear: list[str]
    unit: str
    fields: list[FieldShape]


class FormShape(BaseModel):
    """What a form page asks for, where it is sent (as a form, from the page), and what it starts from."""

    kind: str
    about: str
    sent_to: str
    fields: list[FieldShape]
    given: dict[str, Any]


class VisitFormShape(FormShape):
    """The form of a visit: its own fields, the fields of a reading set by method, cautions."""

    methods: dict[str, list[FieldShape]]
    cautions: list[str]


class FindingShape(BaseModel):
    """Something a person should see."""

    check: str
    weight: str
    message: str
    hint: str
    about: str


class EntryShape(BaseModel):
    """An entry of the record."""

    id: str
    kind: str
    about: str
    measured_at: str
    written_at: str
    by: str
    body: dict[str, Any]
    strikes: str | None
    reason: str
    device: str
    sequence: int
    previous: str
    digest: str


class PartShape(BaseModel):
    """One source of uncertainty."""

    key: str
    what: str
    u_m: float
    dof: float | None
    source: str


class StepShape(BaseModel):
    """One line of the sum; amount_m is the amount to add."""

    what: str
    amount_m: float
    note: str
    source: str
    parts: list[PartShape]


class ResultShape(BaseModel):
    """A value; dof is null beyond counting."""

    name: str
    value_m: float
    u_m: float
    dof: float | None
    k: float
    expanded_m: float


class StageShape(BaseModel):
    """A stretch of the sum and the result it reaches."""

    starts_from: str | None
    steps: list[StepShape]
    result: ResultShape


class DigitsShape(BaseModel):
    """To which digit the value may be reported, and why."""

    step: float
    unit: str
    reason: str


class OneSidedShape(BaseModel):
    """An effect that can only push one way."""

    what: str
    low_m: float
    high_m: float
    source: str


class ReductionShape(BaseModel):
    """A reading set worked out."""

    engine_version: str
    method: str
    use: str
    quality: str
    reported: str | None
    unit: str
    main: str | None
    vertical_datum: str | None
    digits: DigitsShape
    agreement: str
    stages: list[StageShape]
    one_sided: list[OneSidedShape]
    findings: list[FindingShape]


class ReviewShape(BaseModel):
    """What a second person said."""

    entry: str
    quality: str
    why: str


class RowShape(BaseModel):
    """A reading set, or a visit without one, worked out. seen: what went on, as facts; noted: the same in words."""

    entry: EntryShape
    what: str
    seen: dict[str, Any]
    noted: list[str]
    hours_since_pump: float | None
    quality: str
    struck_by: str | None
    review: ReviewShape | None
    remarks: str
    reduction: ReductionShape | None


class WellNowShape(BaseModel):
    """A well as it stands; position is latitude and longitude, degrees."""

    code: str
    name: str
    position: tuple[float, float] | None
    last: RowShape | None
    level: RowShape | None
    bottom: RowShape | None
    to_look_at: list[FindingShape]


class NetworkShape(BaseModel):
    """A network and a page of its wells; next_page is null at the end."""

    name: str
    length_unit: str
    vertical_datum: str
    zone: str
    count: int
    next_page: int | None
    wells: list[WellNowShape]


class ScreenShape(BaseModel):
    """A screen and how much of it is buried."""

    top: str
    bottom: str
    buried_m: float
    share: float


class ProjectionShape(BaseModel):
    """When the chosen share of the lowest screen will be buried."""

    share: float
    on: str
    earliest: str
    latest: str | None


class ConditionShape(BaseModel):
    """State of the bottom of a well."""

    since: str
    fill: ResultShape | None
    real: bool
    screens: list[ScreenShape]
    rate_m_per_year: ResultShape | None
    projection: ProjectionShape | None
    findings: list[FindingShape]


class FactShape(EntryShape):
    """An entry about a well, with what strikes it."""

    struck_by: str | None


class PredictiveShape(BaseModel):
    """Where a reading is expected: Student's t about a middle, and the range of 19 readings in 20."""

    middle_m: float
    scale_m: float
    dof: float
    low_m: float
    high_m: float
    how: str


class ExplanationShape(BaseModel):
    """One explanation: its probability, the depth it would mean (null: this well was not read), what happened."""

    name: str
    probability: float
    likely: str
    percent: str
    corrected_m: float | None
    corrected: str | None
    words: str


class SurpriseShape(BaseModel):
    """A reading held against what was known before it, with the likeliest explanations and what would tell."""

    entry: str
    measured_at: str
    what: str
    struck_by: str | None
    depth_m: float
    expected: PredictiveShape
    surprise: float
    surprising: bool
    verdict: str
    action: str
    ranked: list[ExplanationShape]


class ExpectedShape(BaseModel):
    """What would be read on a day, depths below land surface; null where nothing can be said."""

    on: str
    level: PredictiveShape | None
    bottom: PredictiveShape | None


class WellShape(BaseModel):
    """A well: its facts, its rows oldest first, the state of its bottom, readings unlike it.

    record_findings: what the record as a whole may hide; expected: what the next reading should show
    """

    well: str
    facts: list[FactShape]
    rows: list[RowShape]
    bottom: ConditionShape | None
    surprises: list[SurpriseShape]
    record_findings: list[FindingShape]
    expected: ExpectedShape


class SourceShape(BaseModel):
    """An entry behind a value and what it is to it."""

    part: str
    id: str
    struck_by: str | None


class LeverShape(BaseModel):
    """A change and the expanded uncertainty it would leave."""

    words: str
    about: str
    expanded_m: float
    share: float


class ValueShape(RowShape):
    """A value with what it rests on, what would make it better, and how it lies to what was expected."""

    sources: list[SourceShape]
    levers: list[LeverShape]
    against_its_well: SurpriseShape | None


class GearShape(BaseModel):
    """A piece of gear, with its entries oldest first."""

    serial: str
    type: str
    description: str
    calibrated_on: str | None
    entries: list[FactShape] = Field(default_factory=list)


class PointShape(BaseModel):
    """A measuring point; until is "" for the one in force."""

    entry: EntryShape
    name: str
    height_m: float
    until: str


class LevelShape(BaseModel):
    """Levels carried to a point: elevation found and expected."""

    entry: EntryShape
    found_m: float | None
    expected_m: float | None


class PointsShape(BaseModel):
    """Measuring points of a well, newest first."""

    well: str
    points: list[PointShape]
    levels: list[LevelShape]


class HeadShape(BaseModel):
    """Where a device's chain ends."""

    device: str
    sequence: int
    digest: str


class TroubleShape(BaseModel):
    """Something that is not as it was written."""

    what: str
    where: str
    mend: str


class AsideShape(BaseModel):
    """An entry kept but not in force, and the rival that is."""

    entry: EntryShape
    rival: EntryShape
    struck_by: str | None


class ProofShape(BaseModel):
    """What a check of the whole record found."""

    entries: int
    blobs: int
    devices: int
    sound: bool
    problems: list[TroubleShape]


class RecordShape(BaseModel):
    """The ends of the chains, what is kept aside, and the proof when it was asked for."""

    heads: list[HeadShape]
    kept_aside: list[AsideShape]
    proof: ProofShape | None


class SettingShape(BaseModel):
    """A setting in force."""

    name: str
    value: str
    default: str
    meaning: str
    source: str


class PackageShape(BaseModel):
    """A package this office runs on."""

    name: str
    version: str
    licence: str


class AboutShape(BaseModel):
    """Versions."""

    version: str
    engine_version: str
    python: str
    packages: list[PackageShape]


class ImportLineShape(BaseModel):
    """What became, or would become, of a line of a table."""

    number: int
    outcome: str
    reason: str
    mend: str
    findings: list[FindingShape]
    same_as: int


class WorkingShape(BaseModel):
    """How far long work has come; of is 0 while that is not known, shown_at the address of the outcome once done."""

    title: str
    what: str
    done: int
    of: int
    words: str
    finished: bool
    shown_at: str | None
    error: ErrorBody | None


class TrayShape(BaseModel):
    """A table that was sent in and looked at: a page of its lines."""

    file_name: str
    sha256: str
    makes: str
    totals: dict[str, int]
    written: dict[str, int]
    findings: list[FindingShape]
    lines: list[ImportLineShape]
    next_page: int | None


class PackageTableShape(BaseModel):
    """A table of a package: how many of its lines had each outcome, entries written or to be by kind."""

    name: str
    totals: dict[str, int]
    written: dict[str, int]
    findings: list[FindingShape]
    entry: str


class PackageLineShape(ImportLineShape):
    """What became, or would become, of a line of one of its tables; `what` tells an entry of a record."""

    table: str
    what: str


class NotTakenShape(BaseModel):
    """Something in a package that is not taken in: lines is 0 for all of it."""

    name: str
    lines: int
    why: str
    mend: str


class HandedShape(BaseModel):
    """A package that was sent in and looked at: its tables, what is not taken, a page of its lines.

    own says that it holds a record's own entries; dry_run that nothing is written yet.
    """

    name: str
    sha256: str
    own: bool
    dry_run: bool
    totals: dict[str, int]
    tables: list[PackageTableShape]
    not_taken: list[NotTakenShape]
    lines: list[PackageLineShape]
    next_page: int | None


class SeriesCheckShape(BaseModel):
    """A tape reading a series is held to: depth by tape, water above the logger's zero, depth of that zero."""

    at_s: float
    depth_m: float
    u_m: float
    entry: str
    water_m: float
    offset_m: float


class SegmentShape(BaseModel):
    """A stretch between two checks and how far the logger drifted over it."""

    from_s: float
    to_s: float
    drift_m: float
    refused: bool


class LinesAsideShape(BaseModel):
    """Lines of a logger's file that gave no row: why, how many, the first of them."""

    reason: str
    number: int
    first: list[int]


class AccountShape(BaseModel):
    """What would become of every line of a logger's file."""

    lines: int
    above: int
    rows: int
    aside: list[LinesAsideShape]
    no_values: dict[str, int]
    backwards: int
    repeated: int
    first: str
    last: str
    findings: list[FindingShape]


class LoggerFileShape(BaseModel):
    """A logger's file that was sent in and looked at: its profile (TOML), what remains to be answered, its lines."""

    well: str
    series: str
    logger: str
    remarks: str
    file: str
    profile: str
    questions: list[str]
    account: AccountShape | None
    problems: list[dict[str, str]]


class SeriesPointShape(BaseModel):
    """A point of a series: steps as what, value, where from; tests as name and outcome."""

    at_s: float
    quality: str
    depth_m: float | None
    u_depth_m: float | None
    steps: list[tuple[str, str, str]]
    tests: list[tuple[str, str]]


class SeriesShape(BaseModel):
    """A logger's series; times in seconds since 1970, UTC."""

    rows: int
    first_s: float
    last_s: float
    interval_s: float
    share: str
    walk_m: float | None
    checks: list[SeriesCheckShape]
    segments: list[SegmentShape]
    findings: list[FindingShape]
    treatments: list[dict[str, Any]]


class ServicesShape(BaseModel):
    """Where programs ask, and what strangers see there."""

    features: str
    sensorthings: str
    publish: str


class FormatShape(BaseModel):
    """A format of deliveries."""

    name: str
    what: str


class ParcelShape(BaseModel):
    """A delivery that was made: its file, how many are in it, bytes before packing, SHA-256 of its manifest."""

    name: str
    files: int
    size: int
    sha256: str
