"""Drawn examples are judged by what they find, not by how long a busy machine takes over one of them."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("no deadline", deadline=None)
settings.load_profile("no deadline")
