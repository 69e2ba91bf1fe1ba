"""The drawing without its cut line, as a one-page PDF or as a rendering.

The drawing is set as an inner svg into a page of ours, so that the page can be any part
of it at any size; what stands just outside the art's own page can then serve as bleed.
"""

import io
from collections.abc import Iterable, Sequence
from copy import deepcopy
from functools import cache
from math import sqrt

import pikepdf
import resvg_py
import svg2pdf_py
from lxml import etree
from PIL import Image

from nestplan.artwork.svg.drawing import Drawing
from nestplan.artwork.svg.expand import NOT_DRAWN
from nestplan.artwork.svg.names import names_of
from nestplan.artwork.svg.parse import SVG, Element, is_svg, name_of
from nestplan.artwork.svg.style import declarations
from nestplan.faults import Fault

POINTS_PER_MM = 72 / 25.4
EFFECT_DPI = 300.0  # filters have no vectors; they become pixels of this size
EFFECT_LEAST_DPI = 50.0
EFFECT_MOST_PX = 12_000_000.0  # in one effect; the converter asks for memory without looking
RENDERED_PX = 2_500  # longer side of a rendering from which a silhouette is taken

BoxPx = tuple[float, float, float, float]  # x, y, width, height, y down


def picture_pdf(
    drawing: Drawing,
    page: Element,
    box: BoxPx,
    mm_per_px: float,
    fonts: svg2pdf_py.FontDatabase | None = None,
    under: Sequence[Element] = (),
) -> bytes:
    """A PDF page that shows a part of the drawing at its final size, vectors kept.

    page: the drawing's root, without the cut line. fonts: the faces of its text, if it has any.
    under: elements that lie below it, in px of the page. raises: Fault when it cannot be written.
    """
    width, height = (side * mm_per_px * POINTS_PER_MM for side in box[2:])
    text = _framed(drawing, page, box, width, height, under)
    scale = _effect_scale(drawing, mm_per_px)
    try:
        pdf: bytes = svg2pdf_py.svg_to_pdf(
            text,
            fonts or svg2pdf_py.FontDatabase(),
            svg2pdf_py.ConversionOptions(raster_scale=scale),
        )
    except (ValueError, RuntimeError) as error:
        raise Fault(
            what=f"the art cannot be written as PDF: {error}",
            where=drawing.source,
            do="ungroup nested groups, simplify effects, and save it as plain SVG",
        ) from None
    return _in_order(pdf)


def rendered_alpha(drawing: Drawing) -> tuple[Image.Image, float]:
    """The page's coverage (mode L), and how many of its pixels make one px."""
    scale = RENDERED_PX / max(drawing.width_px, drawing.height_px)
    width, height = (max(1, round(side * scale)) for side in (drawing.width_px, drawing.height_px))
    box = (0.0, 0.0, width / scale, height / scale)  # whole pixels, so that none is stretched
    text = _framed(drawing, drawing.root, box, width, height)
    png = resvg_py.svg_to_bytes(svg_string=text, dpi=96, skip_system_fonts=True)
    return Image.open(io.BytesIO(png)).getchannel("A"), scale


def without_layer(drawing: Drawing, name: str) -> Element:
    """The root of a copy without all that carries this name."""
    root = deepcopy(drawing.root)
    named = [e for e in root.iter() if is_svg(e) and name in names_of(e)]
    if root in named:  # then all of it is cut line
        named = list(root)
    for element in named:
        parent = element.getparent()
        if parent is not None and not _in_definitions(element):
            element.tail = None
            parent.remove(element)
    return root


def without_strokes(drawing: Drawing, lines: Iterable[Element]) -> Element:
    """The root of a copy in which these elements have no stroke; their fills stay."""
    cut = set(lines)
    places = [k for k, element in enumerate(drawing.root.iter()) if element in cut]
    root = deepcopy(drawing.root)
    copies = list(root.iter())
    for k in places:
        set_style(copies[k], "stroke", "none")
    return root


@cache
def srgb_profile() -> bytes:
    """The ICC profile that vector art is tagged with, so that pixels can have the same."""
    text = f'<svg xmlns="{SVG}" width="9" height="9"><path d="M0 0h9v9z" fill="red"/></svg>'
    pdf = svg2pdf_py.svg_to_pdf(text, svg2pdf_py.FontDatabase())
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        for space in opened.pages[0].Resources.ColorSpace.values():
            if space[1].N == 3:
                return space[1].read_bytes()
    raise AssertionError("red is written in a colour space of three parts")


def _effect_scale(drawing: Drawing, mm_per_px: float) -> float:
    """Pixels to a unit in which filters are drawn; the converter counts units where they stand.

    All filters of a drawing share one figure, so it follows the smallest unit to a factor of
    four. raises: Fault when an area is too large for even `EFFECT_LEAST_DPI`.
    """
    effects = [effect for effect in drawing.effects if effect.px_per_unit > 0]
    if not effects:
        return 1.0
    units = [effect.px_per_unit * mm_per_px for effect in effects]
    wanted = EFFECT_DPI / 25.4 * min(max(units), 4 * min(units))
    areas = [max(1e-9, effect.size[0] * effect.size[1]) for effect in effects]
    scale = min(wanted, sqrt(EFFECT_MOST_PX / max(areas)))
    if scale < wanted * EFFECT_LEAST_DPI / EFFECT_DPI:
        raise Fault(
            what="this effect (filter) spans an area too large to be printed as pixels",
            where=effects[areas.index(max(areas))].where,
            do="make its filter region smaller, or turn the effect into a picture",
        )
    return scale


def _in_order(pdf: bytes) -> bytes:
    """The same PDF, its dictionaries sorted: the converter orders them anew on every call."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        opened.save(out, deterministic_id=True)
    return out.getvalue()


def _framed(
    drawing: Drawing,
    page: Element,
    box: BoxPx,
    width: float,
    height: float,
    under: Sequence[Element] = (),
) -> str:
    """The drawing as an inner svg of a page that shows `box`, width by height units large."""
    frame = etree.Element(f"{{{SVG}}}svg", nsmap={None: SVG})
    frame.set("width", repr(float(width)))
    frame.set("height", repr(float(height)))
    frame.set("viewBox", " ".join(repr(float(number)) for number in box))
    for element in under:
        frame.append(element)
    frame.append(framed_page(drawing, page))
    text: str = etree.tostring(frame, encoding="unicode")
    return text


def framed_page(drawing: Drawing, page: Element) -> Element:
    """A copy of the drawing's root that can stand in another svg, in px of the page."""
    inner = deepcopy(page)
    holder = inner
    if "transform" in inner.attrib:  # belongs round the viewport, not into it
        holder = etree.Element(f"{{{SVG}}}g", nsmap={None: SVG})
        holder.set("transform", str(inner.attrib.pop("transform")))
        holder.append(inner)
    for key in ("x", "y"):
        inner.attrib.pop(key, None)
    inner.set("width", repr(drawing.width_px))
    inner.set("height", repr(drawing.height_px))
    set_style(inner, "overflow", "visible")
    inner.set("overflow", "visible")
    inner.tail = None
    return holder


def set_style(element: Element, name: str, text: str) -> None:
    """Set one property where it wins over attributes."""
    kept = [d for d in declarations(element.get("style", "")) if d.lower_name != name]
    element.set("style", ";".join([*(f"{d.lower_name}:{d.text}" for d in kept), f"{name}:{text}"]))


def _in_definitions(element: Element) -> bool:
    """Whether an element stands in something that is not drawn, such as a clip path."""
    return any(name_of(outer) in NOT_DRAWN for outer in element.iterancestors())
