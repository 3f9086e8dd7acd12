"""Questions to a SensorThings store: the path, the options, and the answer as plain data.

    Things('MF-07')/Datastreams?$expand=Observations($orderby=phenomenonTime desc;$top=1)&$select=name

References
----------
OGC 18-088 (SensorThings 1.1) 9.2 (resource paths) and 9.3 (query options, in the order they are to be applied).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple
from urllib.parse import quote

from tapedown.exchange.services.entities import LINKS, Entity, NoSuchProperty, Related, Wanted
from tapedown.exchange.services.filter_functions import BadFilter
from tapedown.exchange.services.filter_grammar import Question, asked, bounds_of
from tapedown.exchange.services.sensorthings import SETS, Store

DEFAULT_TOP = 100
MOST_TOP = 10_000
MOST_EXPANDED = 200_000
"""Entities in one answer, expanded ones included; ours."""
MOST_ROWS = 200_000
"""Rows of loggers that an answer may look at one by one; ours."""
_SEGMENT = re.compile(r"([A-Za-z]+)(?:\((?:'((?:[^']|'')*)'|([^()']+))\))?", re.ASCII)
_OPTIONS = {"$filter", "$expand", "$select", "$orderby", "$top", "$skip", "$count", "$resultFormat"}
DATA_ARRAY = "dataArray"
_COMPONENTS = ("id", "phenomenonTime", "resultTime", "result", "resultQuality", "parameters")


class BadQuestion(Exception):
    """An option or a path that cannot be read."""


class NothingThere(Exception):
    """The path leads nowhere."""


class Options(NamedTuple):
    """The options of a question, or of one expansion in it; `said` is how they were written."""

    filter: Question | None = None
    expand: tuple[tuple[str, Options], ...] = ()
    select: tuple[str, ...] = ()
    orderby: tuple[tuple[tuple[str, ...], bool], ...] = ()
    top: int | None = None
    skip: int = 0
    counted: bool = False
    arrays: bool = False
    said: tuple[tuple[str, str], ...] = ()


class Target(NamedTuple):
    """What a path leads to: an entity or several, perhaps a property of it, perhaps its bare value or its links."""

    found: Entity | Related
    set_name: str
    steps: tuple[str, ...] = ()
    bare: bool = False
    links: bool = False


def read_options(given: Mapping[str, str]) -> Options:
    """Options of a question, or of an expansion.

    Raises
    ------
    BadQuestion
    """
    for name in given:
        if name not in _OPTIONS:
            raise BadQuestion(f"{name[:40]!r} is no option; known: {', '.join(sorted(_OPTIONS))}")
    try:
        question = asked(given["$filter"]) if "$filter" in given else None
    except BadFilter as error:
        raise BadQuestion(f"$filter: {error}") from None
    count = given.get("$count", "false")
    if count not in {"true", "false"}:
        raise BadQuestion(f"$count is {count[:20]!r}, not true or false")
    return Options(
        question,
        _merged(_expansions(given.get("$expand", ""))),
        tuple(name.strip() for name in given.get("$select", "").split(",") if name.strip()),
        tuple(_order(part) for part in given.get("$orderby", "").split(",") if part.strip()),
        _whole("$top", given["$top"]) if "$top" in given else None,
        _whole("$skip", given["$skip"]) if "$skip" in given else 0,
        count == "true",
        _arrays(given.get("$resultFormat", "")),
        tuple(given.items()),
    )


def _arrays(result_format: str) -> bool:
    if result_format not in {"", DATA_ARRAY}:
        raise BadQuestion(f"$resultFormat is {result_format[:20]!r}; known: {DATA_ARRAY}")
    return bool(result_format)


def _whole(name: str, text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise BadQuestion(f"{name} is {text[:20]!r}, not a whole number from 0 on")
    return int(text)


def _order(part: str) -> tuple[tuple[str, ...], bool]:
    path, _, way = part.strip().partition(" ")
    way = way.strip().lower()
    if way not in {"", "asc", "desc"}:
        raise BadQuestion(f"$orderby: {way[:20]!r} is not asc or desc")
    return tuple(path.split("/")), way == "desc"


def _expansions(text: str) -> Iterable[tuple[str, Options]]:
    for part in _split(text, ","):
        head, bracket, inner = part.partition("(")
        if bracket and not inner.endswith(")"):
            raise BadQuestion(f"$expand: a bracket of {part[:40]!r} does not close")
        first, *more = head.strip().split("/")
        given = {}
        for option in _split(inner[:-1], ";") if bracket else ():
            name, _, value = option.partition("=")
            given[name.strip()] = value
        if more:  # Datastreams/Observations says the same as Datastreams($expand=Observations)
            rest = "/".join(more) + (f"({inner}" if bracket else "")
            given = {"$expand": rest}
        yield first, read_options(given)


def _merged(expansions: Iterable[tuple[str, Options]]) -> tuple[tuple[str, Options], ...]:
    """Datastreams/Sensor,Datastreams/Observations asks for both below the same Datastreams."""
    by_name: dict[str, Options] = {}
    for name, options in expansions:
        before = by_name.get(name)
        by_name[name] = options._replace(expand=before.expand + options.expand) if before else options
    return tuple(by_name.items())


def _split(text: str, by: str) -> list[str]:
    """Parts of a text, cut where `by` stands outside of brackets and quotes."""
    parts, depth, quoted, start = [], 0, False, 0
    for at, sign in enumerate(text):
        if sign == "'":
            quoted = not quoted
        elif not quoted and sign in "()":
            depth += 1 if sign == "(" else -1
            if depth < 0 or depth > 20:
                raise BadQuestion("$expand: its brackets do not match")
        elif not quoted and depth == 0 and sign == by:
            parts.append(text[start:at])
            start = at + 1
    if depth or quoted:
        raise BadQuestion("$expand: a bracket or a quotation mark does not close")
    return [part.strip() for part in (*parts, text[start:]) if part.strip()]


def find(store: Store, path: str) -> Target:
    """What a path leads to.

    Raises
    ------
    NothingThere
    """
    segments = _segments(path)
    set_name, identity = segments[0]
    if set_name not in SETS:
        raise NothingThere
    reached: Entity | Related | None = store.all_of(set_name) if identity is None else store.one(set_name, identity)
    for place, (name, identity) in enumerate(segments[1:], 1):
        rest = [segment for segment, _ in segments[place:]]
        if isinstance(reached, Related):
            if rest == ["$ref"]:
                return Target(reached, set_name, links=True)
            raise NothingThere
        if reached is None:
            raise NothingThere
        if name not in LINKS[reached.set_name]:
            return _property(reached, rest)
        reached = reached.related(name)
        set_name = name if name in SETS else next(several for several, one in SETS.items() if one == name)
        if identity is not None and isinstance(reached, Related):
            reached = reached.named(identity)
    if reached is None:
        raise NothingThere
    return Target(reached, set_name)


def _segments(path: str) -> list[tuple[str, str | None]]:
    """Names of a path with the ids in their brackets; a slash inside of an id is part of it."""
    segments: list[tuple[str, str | None]] = []
    at = 0
    while at < len(path):
        if path.startswith(("$value", "$ref"), at):
            segments.append((path[at:], None))
            break
        match = _SEGMENT.match(path, at)
        if match is None or path[match.end() : match.end() + 1] not in {"", "/"}:
            name = path[at:].partition("/")[0]
            if "(" in name or not name:
                raise NothingThere
            segments.append((name, None))
            at += len(name) + 1
            continue
        text = match[2].replace("''", "'") if match[2] is not None else match[3]
        segments.append((match[1], text))
        at = match.end() + 1
    if not segments:
        raise NothingThere
    return segments


def _property(entity: Entity, rest: list[str]) -> Target:
    bare = rest[-1] == "$value"
    steps = tuple(rest[:-1] if bare else rest)
    try:
        if not steps or entity.value(steps) is None:
            raise NothingThere
    except NoSuchProperty:
        raise NothingThere from None
    return Target(entity, entity.set_name, steps, bare)


class Answer:
    """Entities as plain data: with their links under `base`, expanded and cut as the options say.

    `looked` counts the entities that were looked at for it.
    """

    def __init__(self, base: str) -> None:
        self.base, self.looked, self._rows, self._made = base, 0, 0, 0

    def of(self, target: Target, options: Options, url: str) -> Any:
        """The answer to a question.

        Raises
        ------
        BadQuestion
        """
        reached = target.found
        if target.steps and isinstance(reached, Entity):
            value = reached.value(target.steps)
            return value if target.bare else {target.steps[-1]: value}
        if options.arrays and (target.set_name != "Observations" or isinstance(reached, Entity) or target.links):
            raise BadQuestion(f"$resultFormat={DATA_ARRAY} is for several Observations")
        if isinstance(reached, Entity):
            return self._entity(reached, options)
        most = min(options.top if options.top is not None else DEFAULT_TOP, MOST_TOP)
        entities, count = self._selected(reached, options, most)
        answer: dict[str, Any] = {"@iot.count": count} if options.counted else {}
        if options.skip + most < count and most:
            answer["@iot.nextLink"] = with_option(url, options.skip + most)
        if target.links:
            return {**answer, "value": [{"@iot.selfLink": self.link(entity)} for entity in entities]}
        if options.arrays:
            return {**answer, "value": self._arrays(entities, options)}
        return {**answer, "value": [self._entity(entity, options) for entity in entities]}

    def _arrays(self, entities: list[Entity], options: Options) -> list[dict[str, Any]]:
        """Observations as rows of bare values, stream by stream (18-088, clause 12, from memory)."""
        unknown = set(options.select) - set(_COMPONENTS)
        if options.expand or unknown:
            raise BadQuestion(f"$resultFormat={DATA_ARRAY} takes no $expand, and $select of {', '.join(_COMPONENTS)}")
        names = [name for name in _COMPONENTS if not options.select or name in options.select]
        streams: dict[str, list[list[Any]]] = {}
        for entity in entities:
            stream = entity.related("Datastream")
            if isinstance(stream, Entity):
                row = [entity.id if name == "id" else entity.data[name] for name in names]
                streams.setdefault(self.link(stream), []).append(row)
        return [
            {
                "Datastream@iot.navigationLink": link,
                "components": names,
                "dataArray@iot.count": len(rows),
                "dataArray": rows,
            }
            for link, rows in streams.items()
        ]

    def _selected(self, related: Related, options: Options, most: int) -> tuple[list[Entity], int]:
        wanted = _wanted(options)
        entities, rows = related.looks(wanted)
        self.looked += entities + most
        self._rows += rows
        if self._rows > MOST_ROWS:
            raise BadQuestion(
                f"more than {MOST_ROWS:,} values of loggers would have to be looked at one by one; "
                "narrow it down: phenomenonTime ge ... and phenomenonTime le ..."
            )
        return related.chosen(wanted, options.skip, most)

    def link(self, entity: Entity) -> str:
        """Address of an entity."""
        return f"{self.base}/{entity.set_name}('{quote(entity.id.replace(chr(39), chr(39) * 2), safe='')}')"

    def _entity(self, entity: Entity, options: Options) -> dict[str, Any]:
        self._made += 1
        if self._made > MOST_EXPANDED:
            raise BadQuestion(f"the answer holds more than {MOST_EXPANDED} entities; ask for less with $top or $filter")
        unknown = set(options.select) - {"id", *entity.data, *LINKS[entity.set_name]}
        if unknown:
            raise BadQuestion(f"$select: {entity.set_name} have no {sorted(unknown)[0][:40]!r}")
        link = self.link(entity)
        answer: dict[str, Any] = {"@iot.id": entity.id, "@iot.selfLink": link}
        answer |= {n: v for n, v in entity.data.items() if not options.select or n in options.select}
        expanded = {name for name, _ in options.expand}
        for name in LINKS[entity.set_name]:
            if name not in expanded and (not options.select or name in options.select):
                answer[f"{name}@iot.navigationLink"] = f"{link}/{name}"
        for name, inner in options.expand:
            answer |= self._expanded(entity, name, inner, link)
        return answer

    def _expanded(self, entity: Entity, name: str, options: Options, link: str) -> dict[str, Any]:
        if name not in LINKS[entity.set_name]:
            raise BadQuestion(
                f"$expand: {entity.set_name} lead to {', '.join(LINKS[entity.set_name])}, not {name[:40]!r}"
            )
        if options.arrays:
            raise BadQuestion(f"$resultFormat={DATA_ARRAY} is not for what is expanded; ask for {name} by itself")
        related = entity.related(name)
        if not isinstance(related, Related):
            return {name: self._entity(related, options) if related else None}
        most = min(options.top if options.top is not None else DEFAULT_TOP, MOST_TOP)
        entities, count = self._selected(related, options, most)
        answer: dict[str, Any] = {name: [self._entity(one, options) for one in entities]}
        if options.counted:
            answer[f"{name}@iot.count"] = count
        if options.skip + most < count and most:
            kept = "&".join(f"{option}={quote(value, safe='')}" for option, value in options.said)
            answer[f"{name}@iot.nextLink"] = with_option(f"{link}/{name}?{kept}", options.skip + most)
        return answer


def _wanted(options: Options) -> Wanted:
    """Filter and order of a question, read for those who answer it."""
    question = options.filter
    if question is None:
        return Wanted(order=options.orderby)
    bounds = bounds_of(dict(options.said)["$filter"])
    return Wanted(bounds, lambda entity: question(entity.value) is True, options.orderby)


def with_option(url: str, skip: int) -> str:
    """The address of the next page."""
    start, _, query = url.partition("?")
    parts = [part for part in query.split("&") if part and not part.startswith(("$skip=", "%24skip="))]
    return f"{start}?{'&'.join((*parts, f'$skip={skip}'))}"


def root(base: str, sets: Sequence[str] = tuple(SETS)) -> dict[str, Any]:
    """The service's first page.

    The addresses of the requirement classes (18-088, clause 2) are from memory: no text of the standard was at hand
    when they were written. A client reads the entity sets and does not need them; they tell what is answered.
    """
    part = "http://www.opengis.net/spec/iot_sensing/1.1/req"
    conformance = [f"{part}/datamodel", f"{part}/request-data", f"{part}/data-array"]
    return {
        "value": [{"name": name, "url": f"{base}/{name}"} for name in sets],
        "serverSettings": {"conformance": conformance},
    }
