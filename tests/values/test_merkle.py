"""The tree head is that of RFC 6962, its proofs hold, and nothing else passes for one.

Heads of the eight inputs below: from memory, the test vectors of the reference implementation published with RFC 6962.
Peer: pymerkle, an independent library of the same tree (a test tool only: its licence keeps it out of the program).
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pymerkle import InmemoryTree

from tapedown.values.ledger.merkle import (
    EMPTY,
    consistency_path,
    consistent,
    included,
    inclusion_path,
    leaf,
    tree_head,
)

INPUTS = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
HEADS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
LEAVES = [leaf(bytes.fromhex(text)) for text in INPUTS]
MANY = [leaf(number.to_bytes(4, "big")) for number in range(70)]


def peer(datas: Sequence[bytes]) -> InmemoryTree:
    tree = InmemoryTree(algorithm="sha256")
    for data in datas:
        tree.append_entry(data)
    return tree


@pytest.mark.parametrize("count", range(1, 9))
def test_heads_of_the_published_inputs_come_out(count: int) -> None:
    assert tree_head(LEAVES[:count]).hex() == HEADS[count - 1]


def test_head_of_nothing_is_the_digest_of_nothing() -> None:
    assert tree_head([]) == EMPTY
    assert EMPTY.hex().startswith("e3b0c44298fc1c14")  # SHA-256 of nothing, FIPS 180-4 examples


@settings(max_examples=60, deadline=None)
@given(st.lists(st.binary(max_size=40), min_size=1, max_size=40))
def test_heads_and_paths_are_those_of_an_independent_library(datas: list[bytes]) -> None:
    leaves, tree = [leaf(data) for data in datas], peer(datas)
    assert tree_head(leaves) == tree.get_root(len(datas))
    for index in {0, len(datas) // 2, len(datas) - 1}:
        theirs = tree.prove_inclusion(index + 1, len(datas)).serialize()["path"]
        path = inclusion_path(leaves, index)
        assert sorted([leaves[index].hex(), *(p.hex() for p in path)]) == sorted(theirs)


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 7, 8, 9, 31, 64, 65, 70])
def test_every_leaf_of_a_tree_is_proved_and_at_its_own_place_only(count: int) -> None:
    leaves = MANY[:count]
    head = tree_head(leaves)
    for index in range(count):
        path = inclusion_path(leaves, index)
        assert [i for i in range(count + 1) if included(leaves[index], i, count, path, head)] == [index]
        assert not included(leaf(b"other"), index, count, path, head)
        assert not included(leaves[index], index, count, [*path, head], head)


@pytest.mark.parametrize("count", [1, 2, 3, 6, 7, 8, 33])
def test_a_longer_list_is_proved_to_begin_with_each_shorter_one(count: int) -> None:
    leaves, head = MANY[:count], tree_head(MANY[:count])
    for earlier in range(1, count + 1):
        path = consistency_path(leaves, earlier)
        before = tree_head(leaves[:earlier])
        assert consistent(earlier, before, count, head, path)
        altered = tree_head([leaf(b"altered"), *leaves[1:earlier]])
        assert not consistent(earlier, altered, count, head, path)
        assert not consistent(earlier, before, count, leaf(b"other"), path)


@settings(max_examples=80, deadline=None)
@given(st.integers(1, 40), st.data())
def test_a_path_with_one_bit_changed_proves_nothing(count: int, data: st.DataObject) -> None:
    leaves = MANY[:count]
    index = data.draw(st.integers(0, count - 1))
    path = inclusion_path(leaves, index)
    proof = [leaves[index], *path]
    which = data.draw(st.integers(0, len(proof) - 1))
    bit = data.draw(st.integers(0, 255))
    changed = (int.from_bytes(proof[which], "big") ^ (1 << bit)).to_bytes(32, "big")
    proof[which] = changed
    assert not included(proof[0], index, count, proof[1:], tree_head(leaves))


def test_a_leaf_that_is_not_there_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="index 3 must lie between 0 and 2"):
        inclusion_path(MANY[:3], 3)
    with pytest.raises(ValueError, match="earlier 4 must lie between 1 and 3"):
        consistency_path(MANY[:3], 4)
