"""The network at a glance, worked out again only when something was written."""

from __future__ import annotations

from tapedown.record import Head, heads
from tapedown.work.networks import OpenNetwork
from tapedown.work.rounds import WellNow, wells_now


class Overview:
    """Remembers how the wells stood at the last look; a record with the same ends of chains says the same.

    Looks back in time are not remembered. Safe between threads: the worst that can happen is working it out twice.
    """

    def __init__(self) -> None:
        self._known: tuple[tuple[Head, ...], list[WellNow]] = ((), [])

    def wells(self, network: OpenNetwork) -> list[WellNow]:
        """All wells by code."""
        if network.as_of is not None:
            return wells_now(network)
        ends = tuple(heads(network.record))
        if self._known[0] != ends:
            self._known = (ends, wells_now(network))
        return self._known[1]
