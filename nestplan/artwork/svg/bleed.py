"""Bleed for a drawing: the paints at its edge go on below it, grown and clipped to the bleed."""

import base64
import io
from collections.abc import Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from lxml import etree
from PIL import Image
from tinycss2.color3 import RGBA, parse_color

from nestplan.artwork.made_bleed.carried import Carried
from nestplan.artwork.made_bleed.sectors import Paint, Sector, near_contour, sectors
from nestplan.artwork.made_bleed.wish import BleedWish
from nestplan.artwork.svg.clips import Clip
from nestplan.artwork.svg.drawing import Drawing, Shape
from nestplan.artwork.svg.expand import by_id
from nestplan.artwork.svg.paint import clip_region, filled, reach_box, stroke_region
from nestplan.artwork.svg.parse import SVG, Element, is_svg, name_of
from nestplan.artwork.svg.picture import framed_page, set_style
from nestplan.artwork.svg.style import own, share
from nestplan.artwork.svg.units import largest_scale
from nestplan.geometry.outline import outline_of
from nestplan.geometry.polyline import Affine

OFF_MM = 0.01  # curves of paints are flattened so finely
SECTORS_MOST = 48  # more paints along an edge are a pattern: it is carried out as pixels

Kind = Literal["fill", "stroke"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Under:
    """What lies below the drawing. shapes, pixels: shares of the contour they lie along.

    elements: to be drawn first, in px of the page. areas: bleed that pixels must fill, page mm.
    """

    elements: Sequence[Element]
    shapes: float
    pixels: float
    areas: shapely.Geometry


def grown_paints(
    drawing: Drawing,
    shapes: Sequence[Shape],
    unstroked: set[Element],
    to_mm: Affine,
    wish: BleedWish,
) -> Under:
    """The paints that go on, as elements; where that cannot be drawn, the area for pixels.

    shapes: all that is printed. unstroked: elements whose stroke is the cut line.
    """
    look = _Look(drawing, to_mm, near_contour(wish.contour, wish.reach_mm))
    owners: list[tuple[Shape, Kind]] = []
    paints: list[Paint] = []
    for shape in shapes:
        for kind in ("fill", "stroke"):
            if kind == "stroke" and shape.element in unstroked:
                continue
            paint = look.paint(shape, kind)
            if paint is not None:
                owners.append((shape, kind))
                paints.append(paint)
    found = sectors(wish.contour, wish.reach_mm, paints)
    found.sort(key=lambda each: (-each.share, each.stack))
    drawn = [s for s in found if all(_can_grow(owners[k][0]) for k in s.stack)][:SECTORS_MOST]
    left = [sector for sector in found if sector not in drawn]
    elements = []
    for number, sector in enumerate(drawn):
        stack = [owners[k] for k in sector.stack]
        elements += _sector(drawing, sector, stack, number, to_mm, wish.reach_mm)
    return Under(
        elements=elements,
        shapes=sum(sector.share for sector in drawn),
        pixels=sum(sector.share for sector in left),
        areas=shapely.union_all([sector.area for sector in left]),
    )


def carried_pixels(carried: Carried, mm_per_px: float) -> Element:
    """A ring of pixels as a picture in px of the page."""
    held = io.BytesIO()
    there = np.where(carried.ring.there, 255, 0).astype(np.uint8)
    Image.fromarray(np.dstack([carried.ring.colour, there])).save(held, "PNG")
    left, bottom, right, top = (value / mm_per_px for value in carried.box_mm)
    image = etree.Element(f"{{{SVG}}}image")
    box = {"x": left, "y": -top, "width": right - left, "height": top - bottom}
    for key, value in box.items():
        image.set(key, repr(value))
    image.set("preserveAspectRatio", "none")
    image.set("style", "image-rendering:optimizeSpeed")
    data = base64.b64encode(held.getvalue()).decode()
    image.set("{http://www.w3.org/1999/xlink}href", f"data:image/png;base64,{data}")
    return image


class _Look:
    """Looks at paints along one band; many shapes share a clip."""

    def __init__(self, drawing: Drawing, to_mm: Affine, band: shapely.Geometry) -> None:
        self.ids = by_id(drawing.root)
        self.to_mm, self.band = to_mm, band
        self.known: dict[int, shapely.Geometry] = {}

    def paint(self, shape: Shape, kind: Kind) -> Paint | None:
        """A fill or stroke as far as it lies in the band; None where it does not."""
        if not (shape.style.fills if kind == "fill" else shape.style.strokes):
            return None
        left, bottom, right, top = reach_box(shape, self.to_mm).tolist()
        if not shapely.intersects(self.band, shapely.box(left, bottom, right, top)):
            return None
        onto = self.to_mm @ shape.matrix
        if largest_scale(onto) == 0:
            return None
        if kind == "fill":
            path = tuple(run.mapped(onto) for run in shape.path)
            region = filled(path, shape.style.fill_rule == "evenodd", OFF_MM)
        else:
            region = stroke_region(shape, onto, OFF_MM)
        for clip in shape.clips:
            region = shapely.intersection(region, self._clip(clip))
        region = shapely.intersection(region, self.band)
        if float(shapely.area(region)) == 0:
            return None
        return Paint(region=region, opaque=self._opaque(shape, kind))

    def _clip(self, clip: Clip) -> shapely.Geometry:
        if id(clip) not in self.known:
            self.known[id(clip)] = clip_region(clip, self.to_mm, OFF_MM)
        return self.known[id(clip)]

    def _opaque(self, shape: Shape, kind: Kind) -> bool:
        """Whether it hides what is below it."""
        style = shape.style
        paint = style.fill if kind == "fill" else style.stroke
        assert paint is not None, "a style that fills or strokes has a paint for it"
        if (style.fill_opacity if kind == "fill" else style.stroke_opacity) < 1 or shape.beyond:
            return False
        if paint.server is not None:
            return name_of(self.ids[paint.server]) in ("linearGradient", "radialGradient")
        colour = parse_color(_said(shape.element, kind) or "black")
        if isinstance(colour, RGBA) and colour.alpha < 1:
            return False
        for element in (shape.element, *shape.element.iterancestors()):
            given = own(element)
            if share(given.get("opacity", "1")) < 1 or "mix-blend-mode" in given:
                return False
        return True


def _can_grow(shape: Shape) -> bool:
    """Whether its geometry is all there is to its look."""
    return not shape.beyond


def _said(element: Element, key: str) -> str | None:
    """A paint as the file writes it, on the element or what it stands in."""
    for each in (element, *element.iterancestors()):
        text = own(each).get(key)
        if text is not None:
            return text
    return None


def _sector(
    drawing: Drawing,
    sector: Sector,
    stack: Sequence[tuple[Shape, Kind]],
    number: int,
    to_mm: Affine,
    reach_mm: float,
) -> list[Element]:
    """The paints of a sector, the lowest first, each clipped to it."""
    data = _path(sector.area, to_mm)
    elements = []
    for layer, (shape, kind) in enumerate(stack):
        paint = shape.style.fill if kind == "fill" else shape.style.stroke
        assert paint is not None, "a style that fills or strokes has a paint for it"
        if paint.rgb is not None:
            path = etree.Element(f"{{{SVG}}}path", nsmap={None: SVG})
            path.set("d", data)
            path.set("fill", "#" + bytes(paint.rgb).hex())
            path.set("opacity", repr(_opacity(shape, kind)))
            elements.append(path)
            continue
        name = f"made-bleed-{number + 1}-{layer + 1}"
        clip = etree.Element(f"{{{SVG}}}clipPath", nsmap={None: SVG})
        clip.set("id", name)
        etree.SubElement(clip, f"{{{SVG}}}path").set("d", data)
        group = etree.Element(f"{{{SVG}}}g", nsmap={None: SVG})
        group.set("clip-path", f"url(#{name})")
        group.append(framed_page(drawing, _only_grown(shape, kind, to_mm, reach_mm)))
        elements += [clip, group]
    return elements


def _opacity(shape: Shape, kind: Kind) -> float:
    """How opaque a plain colour is, with all that it stands in."""
    style = shape.style
    colour = parse_color(_said(shape.element, kind) or "black")
    whole = colour.alpha if isinstance(colour, RGBA) else 1.0
    whole *= style.fill_opacity if kind == "fill" else style.stroke_opacity
    for element in (shape.element, *shape.element.iterancestors()):
        whole *= share(own(element).get("opacity", "1"))
    return whole


def _only_grown(shape: Shape, kind: Kind, to_mm: Affine, reach_mm: float) -> Element:
    """The drawing with nothing but one gradient or pattern in it, grown by the bleed.

    The shape keeps its place among its groups, so the gradient stays where it was.
    """
    grown = deepcopy(shape.element)
    grown.tail = None
    set_style(grown, "clip-path", "none")
    root = grown
    for outer in shape.element.iterancestors():
        alone = etree.Element(outer.tag, dict(outer.attrib), nsmap=outer.nsmap)
        if is_svg(alone):
            set_style(alone, "clip-path", "none")
            if name_of(alone) == "svg":
                set_style(alone, "overflow", "visible")
        alone.append(root)
        root = alone
    least = float(np.linalg.svd((to_mm @ shape.matrix)[:2, :2], compute_uv=False)[-1])
    more = 2 * (reach_mm + 0.5) / max(least, 1e-9)
    style, width = shape.style, more
    if kind == "fill":
        assert style.fill is not None, "the shape fills"
        set_style(grown, "stroke", f"url(#{style.fill.server})")
        through = style.fill_opacity * share(own(grown).get("opacity", "1"))
        for key in ("fill-opacity", "stroke-opacity"):
            set_style(grown, key, "1")
        set_style(grown, "opacity", repr(through))  # once, where fill and stroke overlap
    else:
        width += style.stroke_width
        set_style(grown, "fill", "none")
        set_style(grown, "stroke-linecap", "round")
    set_style(grown, "stroke-width", repr(width))
    set_style(grown, "stroke-linejoin", "round")
    set_style(grown, "stroke-dasharray", "none")
    return root


def _path(area: shapely.Geometry, to_mm: Affine) -> str:
    """Path data of an area in px of the page."""
    scale = float(to_mm[0, 0])
    said = []
    for ring in outline_of(area).rings:
        points = ring / (scale, -scale)
        said.append("M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in points.tolist()) + "Z")
    return "".join(said)
