"""The left half of a well's figure: the hole, its depths to scale, its widths not."""

from __future__ import annotations

from typing import NamedTuple

from tapedown.reports import svg
from tapedown.reports.axes import Scale
from tapedown.reports.well_picture import BOTTOM, DEEPER, LEVELS, PUMPING, ReadingMark, Tube, WellPicture
from tapedown.reports.words import length_text


class SectionFrame(NamedTuple):
    """Where the section stands on paper: left and right edge, and the depth axis."""

    left: float
    right: float
    depth: Scale
    narrow: bool
    font: float

    @property
    def middle(self) -> float:
        """Middle of the hole."""
        return self.left + (16 if self.narrow else 44)

    @property
    def widest(self) -> float:
        """Half of the widest tube drawn."""
        return 8.0 if self.narrow else 22.0


class Label(NamedTuple):
    """Words beside a depth."""

    at_y: float
    words: str
    paint: str


def section(picture: WellPicture, place: SectionFrame) -> list[str]:
    """Ground, hole, casing, screens, water, silt, measuring point and their labels."""
    return [
        *_ground(place),
        *_inside(picture, place),
        *_tubes(picture, place),
        *_point(picture, place),
        *_labels(_said(picture, place), place),
    ]


def _ground(place: SectionFrame) -> list[str]:
    """Land surface, hatched, on both sides of the hole; the labels keep clear of it."""
    y, reach = place.depth.at(0.0), place.widest + (5 if place.narrow else 18)
    left, right = max(place.left, place.middle - reach), place.middle + reach
    hatch = [svg.line(x, y, x - 4, y + 5, paint="f-earth", stroke_width=0.8)
             for x in range(round(left) + 4, round(right) + 1, 5)
             if abs(x - 2 - place.middle) > place.widest + 3]  # fmt: skip
    return [svg.line(left, y, right, y, paint="f-earth", stroke_width=1.5), *hatch]


def _deepest(picture: WellPicture) -> float | None:
    """Depth of the finished well: as recorded, else the deepest tube, else the deepest bottom felt."""
    if picture.completed_m is not None:
        return picture.completed_m
    known = [tube.bottom_m for tube in picture.tubes] or [m.depth_m for m in picture.marks if m.kind == BOTTOM]
    return max(known, default=None)


def _water(picture: WellPicture) -> ReadingMark | None:
    """The level that stands in the well now; None when the well was found dry since."""
    water, dry = picture.last(*LEVELS), picture.last(DEEPER)
    return None if water is None or (dry is not None and dry.on_d > water.on_d) else water


def _inside(picture: WellPicture, place: SectionFrame) -> list[str]:
    """What fills the well: water from its level down, silt from the bottom felt last down."""
    deepest = _deepest(picture)
    if deepest is None:
        return []
    water, bottom = _water(picture), picture.last(BOTTOM)
    floor = min(bottom.depth_m, deepest) if bottom else deepest
    x, width, at = place.middle - place.widest + 3, 2 * place.widest - 6, place.depth.at
    drawn = []
    if water is not None and water.depth_m < floor:
        drawn.append(svg.rect(x, at(water.depth_m), width, at(floor) - at(water.depth_m), paint="f-wash"))
        drawn.append(svg.line(x, at(water.depth_m), x + width, at(water.depth_m), paint="f-water", stroke_width=1.5))
    if floor < deepest:
        drawn.append(svg.rect(x, at(floor), width, at(deepest) - at(floor), paint="f-silt"))
    if bottom is not None:
        y = at(bottom.depth_m)
        drawn.append(svg.line(x - 4, y, x + width + 4, y, paint="f-earth", stroke_width=2))
    if picture.hole_m is not None and picture.hole_m > deepest:
        dashed = {"stroke_dasharray": "2 3"}
        drawn.append(svg.element("rect", paint="f-ink", x=x, y=at(deepest), width=width,
                                 height=at(picture.hole_m) - at(deepest), stroke_width=0.8, **dashed))  # fmt: skip
    return drawn


def _tubes(picture: WellPicture, place: SectionFrame) -> list[str]:
    """Casing as two walls, screens as slotted ones; a thin wall where nothing is recorded, from the point down."""
    deepest = _deepest(picture)
    widest = max((tube.diameter_m or 0.0 for tube in picture.tubes), default=0.0)
    head = min(0.0, -picture.point.height_m) if picture.point else 0.0
    drawn = []
    if deepest is not None:
        x = place.middle
        drawn += [svg.line(x + side, place.depth.at(head), x + side, place.depth.at(deepest), paint="f-ink",
                           stroke_width=0.8) for side in (-place.widest, place.widest)]  # fmt: skip
    for tube in picture.tubes:
        share = tube.diameter_m / widest if tube.diameter_m and widest else 1.0
        from_m = head if tube.kind == "casing" and tube.top_m <= 0.0 else tube.top_m
        drawn += _walls(tube, place, place.widest * max(share, 0.45), place.depth.at(from_m))
    return drawn


def _walls(tube: Tube, place: SectionFrame, half: float, top_y: float) -> list[str]:
    bottom_y = place.depth.at(tube.bottom_m)
    screen = tube.kind == "screen"
    dashes = {"stroke_dasharray": "3 3"} if screen else {}
    width = 5 if screen else 2.5
    sides = [
        svg.line(x, top_y, x, bottom_y, paint="f-ink", stroke_width=width * (0.7 if place.narrow else 1), **dashes)
        for x in (place.middle - half, place.middle + half)
    ]
    return [svg.element("g", svg.titled(tube.words or tube.kind), *sides)]


def _point(picture: WellPicture, place: SectionFrame) -> list[str]:
    if picture.point is None:
        return []
    x, y = place.middle + place.widest + 2, place.depth.at(-picture.point.height_m)
    corner = svg.number
    d = f"M{corner(x)} {corner(y)}l9 -5v10z"
    return [svg.element("path", paint="f-point", d=d, stroke="none")]


def _said(picture: WellPicture, place: SectionFrame) -> list[Label]:
    """The labels, in no order yet."""
    at, unit = place.depth.at, picture.unit
    labels = [] if place.narrow else [Label(at(0.0), "land surface", "f-earth")]
    if picture.point is not None:
        height = picture.point.height_m
        side = "above" if height > 0 else "below" if height < 0 else "at"
        words = f"{picture.point.name} {length_text(abs(height), unit)} {side}"
        labels.append(Label(at(-height), picture.point.name if place.narrow else words, "f-point"))
    labels += _held(picture, place)
    for tube in picture.tubes:
        if tube.kind == "screen":
            words = "screen" if place.narrow else tube.words or "screen"
            labels.append(Label(at((tube.top_m + tube.bottom_m) / 2), words, "f-text"))
    return labels


def _held(picture: WellPicture, place: SectionFrame) -> list[Label]:
    """Labels of water, bottom and depth at completion."""
    at, unit = place.depth.at, picture.unit
    labels: list[Label] = []
    water, bottom, dry = _water(picture), picture.last(BOTTOM), picture.last(DEEPER)

    def say(depth_m: float, step: float) -> str:
        return length_text(depth_m, unit, step).removesuffix(f" {unit}" if place.narrow else "")

    if water is not None:
        above = " above" if water.depth_m < 0 else ""
        what = "pumping" if water.kind == PUMPING else "water"
        labels.append(Label(at(water.depth_m), f"{what} {say(abs(water.depth_m), water.step)}{above}", "f-water"))
    elif dry is not None:
        labels.append(Label(at(dry.depth_m), f"dry to {say(dry.depth_m, dry.step)}", "f-water"))
    if bottom is not None:
        labels.append(Label(at(bottom.depth_m), f"bottom {say(bottom.depth_m, bottom.step)}", "f-earth"))
    if picture.completed_m is not None and not (place.narrow and bottom is not None):
        labels.append(Label(at(picture.completed_m), f"built to {say(picture.completed_m, 0.1)}", "f-soft"))
    return labels


def _labels(labels: list[Label], place: SectionFrame) -> list[str]:
    """Labels beside the hole, moved apart where they would stand on each other, each led back to its depth."""
    gap = place.font * 1.25
    x_hole, x = place.middle + place.widest, place.middle + place.widest + (15 if place.narrow else 26)
    drawn, last_y = [], -1e9
    for label in sorted(labels):
        y = max(label.at_y, last_y + gap)
        last_y = y
        drawn.append(svg.path([(x_hole + 3, label.at_y, True), (x - 3, y, False)], paint="f-ink", stroke_width=0.6))
        fill = svg.PAINT[label.paint].get("fill")
        drawn.append(svg.text(label.words, x, y + place.font * 0.35, paint=label.paint, stroke="none", fill=fill))
    return drawn
