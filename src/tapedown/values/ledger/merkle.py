"""One digest for a list of entries: the Merkle tree of RFC 6962 over SHA-256, with its proofs.

A leaf is the digest of 0x00 and the entry's bytes, a node that of 0x01, its left and its right. From the head alone
follows, with a proof of a few dozen digests, that an entry is in the list, or that a shorter list begins it.

References
----------
RFC 6962 2.1 (tree, paths, consistency); RFC 9162 2.1.3.2 and 2.1.4.2 (how proofs are checked).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

EMPTY = hashlib.sha256(b"").digest()
"""Head of a list without entries."""


def leaf(data: bytes) -> bytes:
    """Digest of one entry's bytes.

    Parameters
    ----------
    data
        The bytes the entry stands for (see `values.ledger.entries.entry_bytes`).

    Returns
    -------
    bytes
        SHA-256 of 0x00 and the data, 32 bytes.

    References
    ----------
    RFC 6962 2.1.

    Example
    -------
    >>> leaf(b"").hex()[:16]
    '6e340b9cffb37a98'
    """
    return hashlib.sha256(b"\x00" + data).digest()


def _node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def tree_head(leaves: Sequence[bytes]) -> bytes:
    """Digest of the whole list.

    Parameters
    ----------
    leaves
        Digests of the entries, in the order of the list.

    Returns
    -------
    bytes
        32 bytes; `EMPTY` for a list without entries.

    Notes
    -----
    The RFC splits from above at the largest power of two below the count; built from below, an odd one out going up as
    it is, the tree comes out the same.

    References
    ----------
    RFC 6962 2.1.

    Example
    -------
    >>> one, two, three = leaf(b"1"), leaf(b"2"), leaf(b"3")
    >>> tree_head([one]) == one, tree_head([one, two, three]) == _node(_node(one, two), three)
    (True, True)
    """
    level = list(leaves)
    while len(level) > 1:  # the tree of the RFC, built from below: an odd one out goes up as it is
        paired = [_node(level[i], level[i + 1]) for i in range(0, len(level) - 1, 2)]
        level = paired + level[len(level) - len(level) % 2 :]
    return level[0] if level else EMPTY


def _split(count: int) -> int:
    """The largest power of two below `count`."""
    return 1 << ((count - 1).bit_length() - 1)


def inclusion_path(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The digests that lead from one leaf to the head.

    Parameters
    ----------
    leaves
        Digests of the entries, in the order of the list.
    index
        Place of the leaf, from 0.

    Returns
    -------
    list
        Digests from below; none for a list of one.

    Raises
    ------
    ValueError
        No such leaf.

    References
    ----------
    RFC 6962 2.1 (paths).

    Example
    -------
    >>> three = [leaf(b"1"), leaf(b"2"), leaf(b"3")]
    >>> included(three[2], 2, 3, inclusion_path(three, 2), tree_head(three))
    True
    """
    if not 0 <= index < len(leaves):
        raise ValueError(f"index {index} must lie between 0 and {len(leaves) - 1}")
    if len(leaves) == 1:
        return []
    k = _split(len(leaves))
    if index < k:
        return [*inclusion_path(leaves[:k], index), tree_head(leaves[k:])]
    return [*inclusion_path(leaves[k:], index - k), tree_head(leaves[:k])]


def included(found: bytes, index: int, count: int, path: Sequence[bytes], head: bytes) -> bool:
    """Whether a leaf is in the list that a head stands for, at this place.

    Parameters
    ----------
    found
        Digest of the leaf.
    index
        Place it is said to have, from 0.
    count
        Entries of the list that the head stands for.
    path
        Digests from the leaf to the head, from below.
    head
        Head of the list.

    Returns
    -------
    bool
        False as well for a place outside the list and for a path of the wrong length.

    References
    ----------
    RFC 9162 2.1.3.2.
    """
    if not 0 <= index < count:
        return False
    here, last = index, count - 1
    for beside in path:
        if last == 0:
            return False
        if here % 2 or here == last:
            found = _node(beside, found)
            while here % 2 == 0 and here:
                here, last = here >> 1, last >> 1
        else:
            found = _node(found, beside)
        here, last = here >> 1, last >> 1
    return last == 0 and found == head


def consistency_path(leaves: Sequence[bytes], earlier: int) -> list[bytes]:
    """The digests that show the first leaves to be the beginning of all of them.

    Parameters
    ----------
    leaves
        Digests of the entries, in the order of the list.
    earlier
        How many were there before.

    Returns
    -------
    list
        Digests; none where nothing came since.

    Raises
    ------
    ValueError
        `earlier` is not between 1 and the count.

    References
    ----------
    RFC 6962 2.1 (consistency).

    Example
    -------
    >>> three = [leaf(b"1"), leaf(b"2"), leaf(b"3")]
    >>> consistent(2, tree_head(three[:2]), 3, tree_head(three), consistency_path(three, 2))
    True
    """
    if not 0 < earlier <= len(leaves):
        raise ValueError(f"earlier {earlier} must lie between 1 and {len(leaves)}")
    return _subproof(leaves, earlier, whole=True)


def _subproof(leaves: Sequence[bytes], earlier: int, *, whole: bool) -> list[bytes]:
    if earlier == len(leaves):
        return [] if whole else [tree_head(leaves)]
    k = _split(len(leaves))
    if earlier <= k:
        return [*_subproof(leaves[:k], earlier, whole=whole), tree_head(leaves[k:])]
    return [*_subproof(leaves[k:], earlier - k, whole=False), tree_head(leaves[:k])]


def consistent(earlier: int, earlier_head: bytes, count: int, head: bytes, path: Sequence[bytes]) -> bool:
    """Whether an earlier list is the beginning of a later one, by their heads alone.

    Parameters
    ----------
    earlier
        Entries of the earlier list.
    earlier_head
        Its head.
    count
        Entries of the later list.
    head
        Its head.
    path
        Digests that lead from one to the other.

    Returns
    -------
    bool
        False as well where `earlier` is not between 1 and the count, and for a path of the wrong length.

    References
    ----------
    RFC 9162 2.1.4.2.
    """
    if not 0 < earlier <= count:
        return False
    if earlier == count:
        return not path and earlier_head == head
    rest = [earlier_head, *path] if earlier & (earlier - 1) == 0 else list(path)
    if not rest:
        return False
    here, last = earlier - 1, count - 1
    while here % 2:
        here, last = here >> 1, last >> 1
    old = new = rest[0]
    for beside in rest[1:]:
        if last == 0:
            return False
        if here % 2 or here == last:
            old, new = _node(beside, old), _node(beside, new)
            while here % 2 == 0 and here:
                here, last = here >> 1, last >> 1
        else:
            new = _node(new, beside)
        here, last = here >> 1, last >> 1
    return last == 0 and old == earlier_head and new == head
