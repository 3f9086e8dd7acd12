"""Marrow Fen: an invented network of twelve wells over six years, to show the tool at work.

Places, people and serial numbers are invented. The truth comes from a stated model (`model`), the wells and gear from
`places`, and everything is entered through the same use cases as a user's (`story`). The same seed gives the same fen.
"""

from tapedown.work.marrow_fen.story import build

__all__ = ["build"]
