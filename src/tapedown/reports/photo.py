"""A photo made ready for paper: upright, no larger than paper can show, whatever came from the telephone."""

from __future__ import annotations

import base64
import io

from PIL import Image, ImageOps

from tapedown.reports import svg

WIDEST = 1000
"""Pixels of the longer side: 80 mm at some 300 dots an inch."""
MOST_PIXELS = 89_000_000
"""A picture with more is not opened: the limit at which Pillow, too, begins to warn."""
_WRONG = (OSError, ValueError, SyntaxError, Image.DecompressionBombError, Image.DecompressionBombWarning)


def photo_drawing(data: bytes) -> str:
    """The photo as an SVG drawing, "" when the bytes are no picture that can be read."""
    try:
        upright = _upright(data)
    except _WRONG:
        return ""
    if upright is None:
        return ""
    kept = io.BytesIO()
    upright.save(kept, "JPEG", quality=82)
    link = f"data:image/jpeg;base64,{base64.b64encode(kept.getvalue()).decode()}"
    return svg.element(
        "svg",
        svg.element("image", href=link, width=upright.width, height=upright.height),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {upright.width} {upright.height}",
    )


def _upright(data: bytes) -> Image.Image | None:
    """Turned as it was held, small, in colours that JPEG knows; None when it has too many pixels."""
    with Image.open(io.BytesIO(data), formats=("JPEG", "PNG")) as opened:
        if opened.width * opened.height > MOST_PIXELS:
            return None
        opened.draft("RGB", (2 * WIDEST, 2 * WIDEST))  # a JPEG is then read at a fraction of its size
        turned = ImageOps.exif_transpose(opened)
        turned.thumbnail((WIDEST, WIDEST))
        return turned.convert("RGB")
