"""A PDF's pages in millimetres: which pictures lie where, which shapes are black, which bars.

A picture is a form that carries art, whatever its name; its outline is the clip all its
paint is under, or its box where there is none. Forms that hold nothing but paths are
part of the page they are used on.
"""

import io
import logging
import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pikepdf
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.check.outlines import hull_centre, region_of
from nestplan.check.pdf_content import (
    BROKEN,
    SAME,
    SEPARATION,
    Form,
    Ink,
    Item,
    Key,
    Matrix,
    Other,
    Path,
    Scene,
    Unreadable,
    Use,
    Walker,
    is_black,
    is_white,
    put,
    through,
)

MM_PER_PT = 25.4 / 72  # ISO 32000-1 8.3.2.3
SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])  # an image: 8.9.3
BAR_MM = (60.0, 160.0)  # a straight stroke this long on the page itself is meant as a scale bar

logging.getLogger("pikepdf").setLevel(logging.ERROR)  # what is broken becomes a finding


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """A form that carries art.

    outline: where it can put ink, in its own units. pixel: the largest pixel of any image
    that reaches into it, in its own units; 0 where all is drawn.
    """

    form: Form
    outline: BaseGeometry
    pixel: float

    @cached_property
    def centre(self) -> NDArray[np.float64]:
        """(1, 2): centre of the outline's hull."""
        return hull_centre(self.outline)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placed:
    """A picture on a page. matrix: from the picture's units to page millimetres."""

    picture: Picture
    matrix: Matrix

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Where the centre of its outline lies on the page."""
        x, y = put(self.picture.centre, self.matrix)[0].tolist()
        return x, y


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A straight black stroke, from start to end, page millimetres."""

    start: tuple[float, float]
    end: tuple[float, float]
    along: bool  # the feed

    @property
    def length_mm(self) -> float:
        """Middle of one end to middle of the other."""
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class White:
    """A shape filled with white ink. late: marks or bars lie below it.

    whole: it multiplies and does not overprint too, so what lies below it stays as it is.
    """

    shape: BaseGeometry
    late: bool
    whole: bool
    layer: Key | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A path stroked in an ink of its own. rings: page millimetres; over: it overprints."""

    rings: tuple[NDArray[np.float64], ...]
    colour: str
    layer: Key | None
    over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PdfLayer:
    """A layer. step: group and type of the processing step it carries; shown: it is on."""

    name: str
    step: tuple[str, str]
    shown: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PdfPage:
    """One page; everything in page millimetres from its lower left corner."""

    number: int
    width_mm: float
    length_mm: float
    unit_mm: float  # millimetres of one unit of the page
    odd: tuple[str, ...]  # what makes it another page than it seems: turned, cropped
    placed: tuple[Placed, ...]
    fills: tuple[tuple[BaseGeometry, Ink], ...]  # shapes and their inks, white fields apart
    whites: tuple[White, ...]
    knocked: tuple[BaseGeometry, ...]  # filled after some white, and not overprinting
    bars: tuple[Bar, ...]
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PdfFile:
    """All pages of a document and the bytes they came from."""

    data: bytes
    pages: tuple[PdfPage, ...]
    layers: Mapping[Key, PdfLayer] = field(default_factory=dict)


def read_pdf(data: bytes) -> PdfFile:
    """raises: Unreadable, also where a library would only warn of what it mends."""
    try:
        with warnings.catch_warnings(), pikepdf.open(io.BytesIO(data)) as pdf:
            warnings.simplefilter("error", UserWarning)
            walker = Walker()
            pictures: dict[Key, Picture] = {}
            pages = tuple(
                _page(walker, pictures, page, number) for number, page in enumerate(pdf.pages, 1)
            )
            layers = _layers(pdf)
    except Unreadable:
        raise
    except BROKEN as error:
        raise Unreadable(str(error) or type(error).__name__) from error
    return PdfFile(data=data, pages=pages, layers=layers)


def _layers(pdf: pikepdf.Pdf) -> dict[Key, PdfLayer]:
    """Every layer that the document lists: ISO 32000-1, Tables 98 and 100; ISO 19593-1."""
    about = pdf.Root.get("/OCProperties", pikepdf.Dictionary())
    view = about.get("/D", pikepdf.Dictionary())
    dark = view.get("/BaseState", pikepdf.Name.ON) == "/OFF"
    off, on = ({each.objgen for each in view.get(key, ())} for key in ("/OFF", "/ON"))
    layers = {}
    for group in about.get("/OCGs", ()):
        step = group.get("/GTS_Metadata", pikepdf.Dictionary())
        named = (str(step.get(f"/GTS_ProcSteps{key}", "")) for key in ("Group", "Type"))
        first, second = (each.removeprefix("/") for each in named)
        key = group.objgen
        shown = key not in off and (not dark or key in on)
        layers[key] = PdfLayer(name=str(group.get("/Name", "")), step=(first, second), shown=shown)
    return layers


def _page(walker: Walker, pictures: dict[Key, Picture], page: pikepdf.Page, number: int) -> PdfPage:
    box = _box(page.mediabox)
    unit_mm = float(page.obj.get("/UserUnit", 1)) * MM_PER_PT
    if not 0 < unit_mm < 1e4:
        raise Unreadable(f"UserUnit of page {number}")
    odd = []
    if int(page.obj.get("/Rotate", 0)) % 360:
        odd.append(f"turned by {int(page.obj.Rotate)}°")
    if any(abs(a - b) * unit_mm > 0.01 for a, b in zip(_box(page.cropbox), box, strict=True)):
        odd.append("cropped")
    onto = np.array([[unit_mm, 0], [0, unit_mm], [-box[0] * unit_mm, -box[1] * unit_mm]])
    placed: list[Placed] = []
    fills: list[tuple[BaseGeometry, Ink]] = []
    bars: list[Bar] = []
    whites: list[White] = []
    knocked: list[BaseGeometry] = []
    lines: list[Line] = []
    for item, matrix in _flat(walker, walker.page(page), onto):
        match item:
            case Use():
                picture = _picture(walker, pictures, item.form)
                placed.append(Placed(picture=picture, matrix=through(item.matrix, matrix)))
            case Path(filled=True):
                rings = [put(ring, matrix) for ring in item.rings]
                shape = region_of(rings, even_odd=item.even_odd)
                if is_white(item.ink):
                    whole = item.blend == "Multiply" and not item.over
                    late = any(shape.intersects(other) for other, _ in fills)
                    whites.append(White(shape=shape, late=late, whole=whole, layer=item.layer))
                    continue
                fills.append((shape, item.ink))
                if whites and not item.over:
                    knocked.append(shape)
            case Path(stroked=True) if item.ink[0] == SEPARATION:
                lines.append(
                    Line(
                        rings=tuple(put(ring, matrix) for ring in item.rings),
                        colour=str(item.ink[1]),
                        layer=item.layer,
                        over=item.over,
                    )
                )
            case Path(stroked=True) if is_black(item.ink):
                bars += _bars([put(ring, matrix) for ring in item.rings])
    return PdfPage(
        number=number,
        width_mm=(box[2] - box[0]) * unit_mm,
        length_mm=(box[3] - box[1]) * unit_mm,
        unit_mm=unit_mm,
        odd=tuple(odd),
        placed=tuple(placed),
        fills=tuple(fills),
        whites=tuple(whites),
        knocked=tuple(knocked),
        bars=tuple(bars),
        lines=tuple(lines),
    )


def _box(values: pikepdf.Array) -> tuple[float, float, float, float]:
    """Any two opposite corners are legal: ISO 32000-1 7.9.5."""
    x0, y0, x1, y1 = (float(value) for value in values)
    return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)


def _flat(walker: Walker, scene: Scene, matrix: Matrix) -> Iterator[tuple[Item, Matrix]]:
    """Items of a page; forms that carry no art are opened."""
    for item in scene.items:
        if isinstance(item, Use) and not _carries_art(walker.forms[item.form]):
            inner = walker.forms[item.form].scene
            for each, its in _flat(walker, inner, through(item.matrix, matrix)):
                yield _in_layer(each, item.layer), its
        else:
            yield item, matrix


def _in_layer(item: Item, layer: Key | None) -> Item:
    """What a form paints lies in its user's layer where it has none of its own."""
    if layer is None or isinstance(item, Other) or item.layer is not None:
        return item
    return replace(item, layer=layer)


def _carries_art(form: Form) -> bool:
    return bool(form.scene.clips) or any(isinstance(item, Use | Other) for item in form.scene.items)


def _picture(walker: Walker, pictures: dict[Key, Picture], key: Key) -> Picture:
    if key not in pictures:
        form = walker.forms[key]
        outline: BaseGeometry = shapely.box(*form.box)
        clips = {item.clip for item in form.scene.items}
        first = clips.pop() if len(clips) == 1 else None
        if first is not None:
            rings, even_odd = form.scene.clips[first]
            inside = shapely.intersection(region_of(rings, even_odd=even_odd), outline)
            outline = inside if not inside.is_empty else outline
        pixel = _largest_pixel(walker, form.scene, SAME, outline)
        pictures[key] = Picture(form=form, outline=outline, pixel=pixel)
    return pictures[key]


def _largest_pixel(walker: Walker, scene: Scene, matrix: Matrix, seen: BaseGeometry) -> float:
    largest = 0.0
    for item in scene.items:
        if isinstance(item, Use):
            inner = walker.forms[item.form].scene
            its = _largest_pixel(walker, inner, through(item.matrix, matrix), seen)
            largest = max(largest, its)
        elif isinstance(item, Other) and min(item.pixels) > 0:
            onto = through(item.matrix, matrix)
            if not shapely.intersects(shapely.Polygon(put(SQUARE, onto)), seen):
                continue
            across, up, _ = onto.tolist()
            sides = np.hypot(*across) / item.pixels[0], np.hypot(*up) / item.pixels[1]
            largest = max(largest, *map(float, sides))
    return largest


def _bars(rings: Sequence[NDArray[np.float64]]) -> list[Bar]:
    bars = []
    for ring in rings:
        steps = np.diff(ring, axis=0)
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        for k in np.flatnonzero((lengths >= BAR_MM[0]) & (lengths <= BAR_MM[1])).tolist():
            start, end = sorted((tuple(ring[k].tolist()), tuple(ring[k + 1].tolist())))
            along = abs(steps[k, 1]) > abs(steps[k, 0])
            bars.append(Bar(start=start, end=end, along=bool(along)))
    return bars
