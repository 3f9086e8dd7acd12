"""Access for programs: who may see what, how often, and the stores that answer."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from typing import NamedTuple

from starlette.requests import Request

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.services.ogc_features import FeatureStore
from tapedown.exchange.services.sensorthings import Store
from tapedown.values.errors import TapedownError
from tapedown.values.settings import Settings
from tapedown.web.pages.common import network_at, office_of
from tapedown.web.security import KEY_COOKIE
from tapedown.work.exports.gathering import Gatherer
from tapedown.work.exports.publishing import for_strangers

NOW = "now"
EACH_MINUTE = 1200
"""Questions a stranger may ask in a minute; ours. A map program asks some ten a screen."""
A_QUESTION = 1000
"""Entities looked at that count as one question more; ours."""
LONGEST_QUERY = 8000
STORES = 4
CALLERS = 10_000


class TooOften(TapedownError):
    """A program that asks more often than is served."""

    def __init__(self) -> None:
        super().__init__(f"more than {EACH_MINUTE} questions in a minute", hint="wait a minute; ask for larger pages")


class TooLong(TapedownError):
    """An address that is longer than is read."""

    def __init__(self) -> None:
        super().__init__(f"the query is longer than {LONGEST_QUERY} characters", hint="ask in smaller pieces")


class Stores(NamedTuple):
    """What answers: features and things of one delivery."""

    features: FeatureStore
    things: Store


class Access:
    """Remembers the last deliveries and the stores made of them, and how often each stranger asked."""

    def __init__(self) -> None:
        self._gatherer = Gatherer()
        self._lock = threading.Lock()
        self._stores: OrderedDict[tuple[int, str], tuple[Delivery, Stores]] = OrderedDict()
        self._asked: OrderedDict[str, tuple[float, int]] = OrderedDict()

    def stores(self, request: Request, when: str) -> Stores:
        """What answers a request: everything for the office's own people, the published part for strangers.

        Raises
        ------
        NotPublished, TooOften, TooLong, NotADate
        """
        if len(request.url.query) > LONGEST_QUERY:
            raise TooLong
        at_home = _at_home(request)
        if not at_home and self._count(_caller(request), 1) > EACH_MINUTE:
            raise TooOften
        network = network_at(request, "" if when == NOW else when)
        with self._lock:  # a thousand strangers at once make the network worked out once
            delivery = self._gatherer.delivery(network)
            return self._made(delivery, None if at_home else network_at(request).settings)

    def _made(self, delivery: Delivery, strangers: Settings | None) -> Stores:
        """The stores of a delivery; strangers see by the settings of today, however far back they look."""
        key = (id(delivery), strangers.text("publish") if strangers else "")
        kept = self._stores.get(key)
        if kept is None:
            shown = for_strangers(delivery, strangers) if strangers else delivery
            kept = self._stores[key] = (delivery, Stores(FeatureStore(shown), Store(shown)))
            while len(self._stores) > STORES:
                self._stores.popitem(last=False)
        self._stores.move_to_end(key)
        return kept[1]

    def charge(self, request: Request, looked: int) -> None:
        """Count a question that was dear to answer as several: strangers pay for what they make us look at."""
        if not _at_home(request):
            self._count(_caller(request), looked // A_QUESTION)

    def _count(self, caller: str, questions: int) -> int:
        """Questions of a caller since the minute began, these included."""
        moment = time.monotonic()
        with self._lock:
            began, asked = self._asked.pop(caller, (moment, 0))
            if moment - began > 60:
                began, asked = moment, 0
            self._asked[caller] = (began, asked + questions)
            while len(self._asked) > CALLERS:
                self._asked.popitem(last=False)
        return asked + questions


def _at_home(request: Request) -> bool:
    return office_of(request).doors.let_in({KEY_COOKIE: request.cookies.get(KEY_COOKIE, "")})


def _caller(request: Request) -> str:
    return request.client.host if request.client else ""


def access_of(request: Request) -> Access:
    """Access to this office for programs."""
    found: Access = request.app.state.access
    return found


def base_of(request: Request, path: str) -> str:
    """Address of a service as its client sees it."""
    return f"{request.url.scheme}://{request.headers.get('host', '')}{path}"
