"""Entries, the tree of their digests, what a second person says of them."""
