"""The tree head of a signed set and a proof from it, beside an independent library of the same tree in memory."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from pymerkle import InmemoryTree

from tapedown.values.ledger.merkle import included, inclusion_path, leaf, tree_head

ENTRIES = 50_000
BYTES = 600
"""Bytes of an entry, about those of a reading set."""


def run(scale: float) -> list[dict[str, Any]]:
    """The row of this benchmark: both start from the bytes of the entries and end with a head and one proof."""
    count = max(100, round(ENTRIES * scale))
    data = [number.to_bytes(8, "big") * (BYTES // 8) for number in range(count)]
    ours_s, (leaves, head, path) = _timed(lambda: _ours(data))
    peer_s, theirs = _timed(lambda: _peer(data))
    assert head == theirs
    assert included(leaves[count // 3], count // 3, count, path, head)
    name = "tree head of a signed set, and one proof"
    return [{"name": name, "n": count, "ours_s": ours_s, "peer": "pymerkle, in memory", "peer_s": peer_s,
             "ratio": ours_s / peer_s, "aim": "<= 1"}]  # fmt: skip


def _ours(data: list[bytes]) -> tuple[list[bytes], bytes, list[bytes]]:
    leaves = [leaf(one) for one in data]
    return leaves, tree_head(leaves), inclusion_path(leaves, len(data) // 3)


def _peer(data: list[bytes]) -> bytes:
    tree = InmemoryTree(algorithm="sha256")
    for one in data:
        tree.append_entry(one)
    tree.prove_inclusion(len(data) // 3 + 1, len(data))
    root: bytes = tree.get_root(len(data))
    return root


def _timed(work: Callable[[], Any]) -> tuple[float, Any]:
    began = time.perf_counter()
    found = work()
    return time.perf_counter() - began, found
