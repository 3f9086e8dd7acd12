"""Entities of the observation service: one with the way to its neighbours, and several, one after another."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple, Protocol

from tapedown.exchange.services.filter_functions import as_span
from tapedown.exchange.services.filter_grammar import BOUNDED, Bounds

LINKS: dict[str, tuple[str, ...]] = {
    "Things": ("Locations", "HistoricalLocations", "Datastreams"),
    "Locations": ("Things", "HistoricalLocations"),
    "HistoricalLocations": ("Thing", "Locations"),
    "Datastreams": ("Thing", "Sensor", "ObservedProperty", "Observations"),
    "Sensors": ("Datastreams",),
    "ObservedProperties": ("Datastreams",),
    "Observations": ("Datastream", "FeatureOfInterest"),
    "FeaturesOfInterest": ("Observations",),
}
"""Where each entity leads; a name in the plural leads to several."""
Order = tuple[tuple[tuple[str, ...], bool], ...]
"""Paths to order by, the first one first, each with whether downwards."""


class Wanted(NamedTuple):
    """Which entities: those that meet bounds and pass a test (None for none), in an order."""

    bounds: Bounds = Bounds()
    test: Callable[[Entity], bool] | None = None
    order: Order = ()

    @property
    def by_columns(self) -> bool:
        """Whether the columns of a logger's series can answer without looking at its rows one by one."""
        return (self.test is None or self.bounds.whole) and (not self.order or bool(self.column))

    @property
    def column(self) -> str:
        """The one column that the order goes by, "" when there is no such one."""
        return BOUNDED.get("/".join(self.order[0][0]), "") if len(self.order) == 1 else ""

    @property
    def downwards(self) -> bool:
        """Whether the order begins with the greatest."""
        return bool(self.order) and self.order[0][1]


class Looks(NamedTuple):
    """What choosing costs: entities looked at one by one, or as dear, and those among them that are rows of loggers."""

    entities: int
    rows: int = 0


class Related:
    """Several entities: how many, and one after another; made only as they are asked for."""

    def __init__(self, count: int, make: Callable[[int], Entity]) -> None:
        self.count, self.at = count, make

    def __iter__(self) -> Iterator[Entity]:
        return (self.at(place) for place in range(self.count))

    def named(self, identity: str) -> Entity | None:
        """The one of an id, None where it is not among them."""
        return next((entity for entity in self if entity.id == identity), None)

    def chosen(self, wanted: Wanted, start: int, most: int) -> tuple[list[Entity], int]:
        """A part of those that are wanted, and how many there are."""
        if wanted.test is None and not wanted.order:
            return [self.at(place) for place in range(start, min(self.count, start + most))], self.count
        kept = in_order(list(self.kept(wanted)), wanted.order)
        return kept[start : start + most], len(kept)

    def kept(self, wanted: Wanted) -> Iterator[Entity]:
        """Those that are wanted, as they stand."""
        return (entity for entity in self if wanted.test is None or wanted.test(entity))

    def looks(self, wanted: Wanted) -> Looks:
        """What it costs to choose those that are wanted, before any is shown."""
        return Looks(0 if wanted.test is None and not wanted.order else self.count)


class Home(Protocol):
    """Where entities come from."""

    def told(self, set_name: str, about: Any) -> dict[str, Any]:
        """The properties of an entity, without links."""

    def related(self, entity: Entity, link: str, about: Any) -> Entity | Related | None:
        """The neighbour, or the neighbours, that a link leads to."""


class NoSuchProperty(Exception):
    """A property that entities of a set do not have."""


class Entity:
    """One entity: its set, its id, its own properties, and the way to its neighbours."""

    __slots__ = ("_about", "_data", "_store", "id", "set_name")

    def __init__(self, store: Home, set_name: str, identity: str, about: Any) -> None:
        self._store, self.set_name, self.id, self._about = store, set_name, identity, about
        self._data: dict[str, Any] | None = None

    @property
    def data(self) -> dict[str, Any]:
        """Its properties, without links."""
        if self._data is None:
            self._data = self._store.told(self.set_name, self._about)
        return self._data

    def related(self, link: str) -> Entity | Related | None:
        """The neighbour, or the neighbours, that a link of LINKS leads to."""
        return self._store.related(self, link, self._about)

    def value(self, path: tuple[str, ...]) -> Any:
        """The value at a path, through links that lead to one entity; None where there is none.

        Raises
        ------
        NoSuchProperty
            The path begins with nothing these entities have, or leads to several of them.
        """
        name, *rest = path
        if name in {"id", "@iot.id"}:
            return self.id if not rest else None
        if name in LINKS[self.set_name]:
            target = self.related(name)
            if isinstance(target, Related):
                if target.count > 1 or not rest:
                    raise NoSuchProperty(f"{self.set_name} lead to several {name}; ask {name} instead")
                target = next(iter(target), None)
            return target.value(tuple(rest)) if target and rest else None
        if name not in self.data:
            raise NoSuchProperty(f"{self.set_name} have no {name[:40]!r}; they have {', '.join(self.data)}")
        inner: Any = self.data[name]
        for step in rest:
            inner = inner.get(step) if isinstance(inner, dict) else None
        return inner


def in_order(entities: list[Entity], order: Order) -> list[Entity]:
    """Entities in an order; those alike stay as they stand."""
    for path, downwards in reversed(order):
        entities.sort(key=lambda entity, path=path: sortable(entity.value(path)), reverse=downwards)  # type: ignore[misc]
    return entities


def sortable(value: Any) -> tuple[int, Any]:
    """Values of one kind in their order, kinds one after another, nothing first."""
    if value is None:
        return (0, 0)
    if isinstance(value, (int, float)):
        return (1, value)
    span = as_span(value)
    return (2, span.begin.timestamp()) if span else (3, str(value))
