"""SVG text: elements with escaped attributes and text, numbers to a tenth.

Colours stand in presentation attributes, so that a figure is whole by itself; a page's style sheet may repaint it by
the class names (dark screens). What XML cannot carry stands in it as its code.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from tapedown.reports.words import visible

Attribute = str | float | int | None

PAINT: dict[str, dict[str, Attribute]] = {
    "f-ink": {"stroke": "#22313a", "fill": "none"},
    "f-faint": {"stroke": "#c9d1d4", "fill": "none"},
    "f-text": {"fill": "#22313a"},
    "f-soft": {"fill": "#4a5a63"},
    "f-water": {"stroke": "#155f96", "fill": "#155f96"},
    "f-wash": {"fill": "#d5e6f2"},
    "f-earth": {"stroke": "#7a4a1e", "fill": "#7a4a1e"},
    "f-silt": {"fill": "#e2cdb4"},
    "f-pump": {"stroke": "#8a2c6d", "fill": "#8a2c6d"},
    "f-look": {"stroke": "#a84300", "fill": "none"},
    "f-stop": {"stroke": "#a3122f", "fill": "none"},
    "f-point": {"stroke": "#2c6b35", "fill": "#2c6b35"},
    "f-struck": {"stroke": "#6c7a82", "fill": "none"},
    "f-paper": {"fill": "#ffffff"},
}
"""Class -> how it is painted where no style sheet says otherwise."""
SCREEN_FACE = "system-ui, sans-serif"
"""The typeface of a drawing on a screen: whatever the machine's own one is."""


def number(value: float) -> str:
    """A coordinate to a tenth, short.

    Example
    -------
    >>> number(12.04), number(-0.01), number(7.26)
    ('12', '0', '7.3')
    """
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def element(name: str, *children: str, paint: str = "", **attributes: Attribute) -> str:
    """One element. Children are SVG already; attribute values are escaped here, `_` stands for `-`.

    Example
    -------
    >>> element("line", x1=0, y1=2.25, stroke_width=1)
    '<line x1="0" y1="2.2" stroke-width="1"/>'
    """
    given: dict[str, Attribute] = {**({"class": paint} if paint else {}), **PAINT.get(paint, {}), **attributes}
    written = "".join(f' {_name(key)}="{_value(value)}"' for key, value in given.items() if value is not None)
    return f"<{name}{written}>{''.join(children)}</{name}>" if children else f"<{name}{written}/>"


def _name(key: str) -> str:
    return key.rstrip("_").replace("_", "-") if key not in {"viewBox", "markerWidth"} else key


def _value(value: Attribute) -> str:
    return number(value) if isinstance(value, float) else escape(visible(str(value)), quote=True)


def text(words: str, x: float, y: float, *, paint: str = "f-text", anchor: str = "", **attributes: Attribute) -> str:
    """A line of words, escaped."""
    return element("text", escape(visible(words)), paint=paint, x=x, y=y, text_anchor=anchor or None, **attributes)


def line(x1: float, y1: float, x2: float, y2: float, *, paint: str = "f-ink", **attributes: Attribute) -> str:
    """A straight line."""
    return element("line", paint=paint, x1=x1, y1=y1, x2=x2, y2=y2, **attributes)


def rect(x: float, y: float, width: float, height: float, *, paint: str, **attributes: Attribute) -> str:
    """A rectangle; nothing where it has no height."""
    if height <= 0 or width <= 0:
        return ""
    return element("rect", paint=paint, x=x, y=y, width=width, height=height, **attributes)


def path(points: Iterable[tuple[float, float, bool]], *, paint: str, **attributes: Attribute) -> str:
    """A line through points (x, y, whether the pen is lifted before it)."""
    d = "".join(f"{'M' if lifted else 'L'}{number(x)} {number(y)}" for x, y, lifted in points)
    return element("path", paint=paint, d=d, **attributes) if d else ""


def titled(words: str) -> str:
    """What a pointer resting on the shape is told."""
    return element("title", escape(visible(words)))


def linked(href: str, words: str, *children: str) -> str:
    """Shapes that lead somewhere; no link where `href` is empty."""
    if not href:
        return element("g", titled(words), *children)
    return element("a", titled(words), *children, href=href, aria_label=words)


def drawing(width: float, height: float, label: str, *children: str, font: float = 13, class_: str = "") -> str:
    """The whole picture, named for those who cannot see it."""
    return element(
        "svg",
        titled(label),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        role="group",
        aria_label=label,
        font_family=SCREEN_FACE,
        font_size=font,
        class_=class_ or None,
    )


def in_face(picture: str, face: str) -> str:
    """A whole drawing set in another typeface.

    Example
    -------
    >>> in_face(drawing(2, 1, "none"), "Libertinus Serif").partition("font-family=")[2][:18]
    '"Libertinus Serif"'
    """
    return picture.replace(f'font-family="{SCREEN_FACE}"', f'font-family="{face}"', 1)
