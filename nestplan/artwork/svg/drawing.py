"""The drawing as a flat list: every shape with its place on the page, its paint and its names.

Coordinates here are px with y down and the origin at the page's upper left corner, as
SVG has them. What geometry cannot follow (masks, effects, dashes) is named on the shape,
so that nobody takes a silhouette from it unawares.
"""

from dataclasses import dataclass, replace

import numpy as np

from nestplan.artwork.svg.clips import Clip, ClipReader
from nestplan.artwork.svg.expand import NOT_DRAWN, by_id, expand
from nestplan.artwork.svg.names import names_of
from nestplan.artwork.svg.parse import (
    SVG,
    Element,
    data_picture,
    href,
    is_svg,
    name_of,
    parse_svg,
    place,
    url_targets,
)
from nestplan.artwork.svg.path import Path, hull, rectangle
from nestplan.artwork.svg.refusals import SOLID, refuse_spread, refuse_stroke, refuse_text
from nestplan.artwork.svg.shapes import SHAPES, path_of
from nestplan.artwork.svg.style import Paint, Style, computed, inline_sheets, own, share
from nestplan.artwork.svg.units import (
    Unreadable,
    fit_view_box,
    largest_scale,
    length_px,
    product,
    transform,
)
from nestplan.artwork.svg.viewport import inner_viewport, page_of
from nestplan.faults import Fault, Note, raise_all
from nestplan.geometry.polyline import Affine

TEXT = {"text", "flowRoot"}
PAINTING = {"clipPath", "mask", "pattern", "marker"}  # not drawn where they stand, but seen
MARKERS = ("marker", "marker-start", "marker-mid", "marker-end")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """One drawn element.

    names:  ids and labels of the element and of all it stands in.
    matrix: from the path's units to px.
    hidden: display or visibility says that it is not drawn.
    clear:  it is drawn, but with an opacity of 0.
    beyond: what its look depends on that its geometry does not tell, for people.
    """

    element: Element
    where: str
    names: frozenset[str]
    matrix: Affine
    path: Path
    style: Style
    clips: tuple[Clip, ...]
    hidden: bool
    clear: bool
    beyond: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Embedded:
    """A raster picture in the art. px_per_unit: its pixels to one px of the page."""

    where: str
    px_per_unit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """A filter, which has no vectors.

    px_per_unit: px of the page to a unit where it stands. size: width and height in such units.
    """

    where: str
    px_per_unit: float
    size: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """An SVG file, understood.

    width_px, height_px: the page. physical: the file states a size in mm, in, pt or the like.
    """

    source: str
    root: Element
    width_px: float
    height_px: float
    physical: bool
    shapes: tuple[Shape, ...]
    embedded: tuple[Embedded, ...]
    effects: tuple[Effect, ...]
    notes: tuple[Note, ...]


def read_drawing(data: bytes, source: str) -> Drawing:
    """Understand an SVG file. source: its name in faults. raises: Fault or Faults."""
    return drawing_of(parse_svg(data, source), source)


def drawing_of(root: Element, source: str) -> Drawing:
    """Understand a parsed drawing, which is changed by it. raises: Fault or Faults."""
    notes = inline_sheets(root, source)
    expand(root, source)
    given = own(root)
    try:
        width, height, matrix, user = page_of(given)
    except Unreadable as trouble:
        raise Fault(
            what=str(trouble), where=place(source, root), do="give the page width and height in mm"
        ) from None
    walk = _Walk(root, source)
    start = _Within(matrix=matrix, style=Style(), names=frozenset(), width=user[0], height=user[1])
    walk.element(root, start)
    walk.text_in_definitions()
    walk.spread_in_definitions()
    raise_all(walk.faults)
    unit = "".join(c for c in given.get("width", given.get("height", "")) if c.isalpha())
    return Drawing(
        source=source,
        root=root,
        width_px=width,
        height_px=height,
        physical=unit.lower() not in ("", "px"),
        shapes=tuple(walk.shapes),
        embedded=tuple(walk.embedded),
        effects=tuple(walk.effects),
        notes=tuple(notes),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Within:
    """What an element takes over from those it stands in."""

    matrix: Affine
    style: Style
    names: frozenset[str]
    width: float  # of the viewport, in user units
    height: float
    clips: tuple[Clip, ...] = ()
    beyond: tuple[str, ...] = ()
    hidden: bool = False
    clear: bool = False
    markers: bool = False


class _Walk:
    """Visits what is drawn, collects shapes, and faults so that all come at once."""

    def __init__(self, root: Element, source: str) -> None:
        self.root, self.source = root, source
        self.ids = by_id(root)
        self.clips = ClipReader(self.ids, source)
        self.shapes: list[Shape] = []
        self.embedded: list[Embedded] = []
        self.effects: list[Effect] = []
        self.faults: list[Fault] = []

    def element(self, element: Element, outer: _Within) -> None:
        """One element and what it holds."""
        name = name_of(element)
        if name in NOT_DRAWN:
            return
        where = place(self.source, element)
        given, drawn = own(element), len(self.shapes)
        try:
            within = self._enter(element, given, outer, where)
            if name in SHAPES:
                path = path_of(name, given, within.width, within.height)
                self._shape(element, given, within, path, where)
            elif name == "image":
                self._image(element, given, within, where)
            elif name in TEXT or name == "foreignObject":
                if not within.hidden and within.style.visible:
                    refuse_text(element, where)
            else:
                if name == "svg" and element is not self.root:
                    within = _inside_viewport(given, within)
                for child in element:
                    if is_svg(child):
                        self.element(child, within)
            if given.get("filter", "none") != "none":
                self._effect(element, given, outer, self.shapes[drawn:])
        except Unreadable as trouble:
            self.faults.append(
                Fault(what=str(trouble), where=where, do="correct it in the drawing program")
            )
        except Fault as fault:
            self.faults.append(fault)

    def _effect(
        self, element: Element, given: dict[str, str], outer: _Within, shapes: list[Shape]
    ) -> None:
        """Keep a filter and how large an area it is drawn on. shapes: what it is drawn of."""
        where = place(self.source, element)
        links = self._links(element, given, "filter", where)
        shapes = [shape for shape in shapes if not shape.hidden]
        scale = largest_scale(outer.matrix)
        if not shapes or abs(np.linalg.det(outer.matrix)) < 1e-300:
            return
        local = np.linalg.inv(outer.matrix)
        hulls = np.array([hull(shape.path, local @ shape.matrix) for shape in shapes])
        size = hulls[:, 2:].max(axis=0) - hulls[:, :2].min(axis=0)
        for region in (own(self.ids[link]) for link in links):
            sides = [region.get(key, "120%") for key in ("width", "height")]
            if region.get("filterUnits", "objectBoundingBox") == "userSpaceOnUse":
                wholes, size = (outer.width, outer.height), np.ones(2)
            else:
                wholes = (1.0, 1.0)
            size = size * [
                length_px(side, whole) for side, whole in zip(sides, wholes, strict=True)
            ]
        self.effects.append(Effect(where=where, px_per_unit=scale, size=tuple(size.tolist())))

    def spread_in_definitions(self) -> None:
        """Refuse gradients that repeat inside masks, patterns and markers too."""
        for outer in self.root.iter(*(f"{{{SVG}}}{name}" for name in sorted(PAINTING))):
            for element in outer.iter():
                where = place(self.source, element)
                for key in ("fill", "stroke") if is_svg(element) else ():
                    links = url_targets(own(element).get(key, ""))
                    try:
                        for link in links:
                            if link[1:] in self.ids:
                                self._see_through(Paint(server=link[1:]), where)
                    except Fault as fault:
                        self.faults.append(fault)

    def text_in_definitions(self) -> None:
        """Refuse text in clips, masks, patterns and markers too: there it would vanish as well."""
        for element in self.root.iter(*(f"{{{SVG}}}{name}" for name in sorted(TEXT))):
            if any(name_of(outer) in PAINTING for outer in element.iterancestors()):
                try:
                    refuse_text(element, place(self.source, element))
                except Fault as fault:
                    self.faults.append(fault)

    def _enter(
        self, element: Element, given: dict[str, str], outer: _Within, where: str
    ) -> _Within:
        """What holds inside the element."""
        matrix = outer.matrix
        if "transform" in given:
            turned = transform(given["transform"])
            matrix = product(turned, matrix) if element is self.root else product(matrix, turned)
        beyond = list(outer.beyond)
        clips = outer.clips
        for link in self._links(element, given, "clip-path", where):
            clip = self.clips.clip(link, matrix)
            if clip is None:
                beyond.append(f"clip path on {where}")
            else:
                clips = (*clips, clip)
        if self._links(element, given, "mask", where):
            beyond.append(f"mask on {where}")
        hidden = outer.hidden or given.get("display") == "none"
        if given.get("filter", "none") != "none":
            beyond.append(f"effect on {where}")
        markers = [given[key] for key in MARKERS if key in given]
        return replace(
            outer,
            matrix=matrix,
            style=computed(given, outer.style),
            names=outer.names | names_of(element),
            clips=clips,
            beyond=tuple(beyond),
            hidden=hidden,
            clear=outer.clear or share(given.get("opacity", "1")) == 0,
            markers=any(m != "none" for m in markers) if markers else outer.markers,
        )

    def _links(self, element: Element, given: dict[str, str], key: str, where: str) -> list[str]:
        """The ids a property refers to. raises: Fault for what is missing or not SVG's."""
        text = given.get(key, "none")
        links = [target[1:] for target in url_targets(text)]
        if text != "none" and not links and key != "filter":
            raise Fault(
                what=f"{key} is {text!r}: only a reference such as url(#name) is read",
                where=where,
                do=f"draw the shape, and refer to it in {key}",
            )
        for link in links:
            if link not in self.ids:
                raise Fault(
                    what=f"{key} refers to '#{link}', which the file does not have",
                    where=where,
                    do="draw the missing part, or delete the reference",
                )
        return links

    def _shape(
        self, element: Element, given: dict[str, str], within: _Within, path: Path, where: str
    ) -> None:
        """Keep a shape, with what about it geometry cannot tell."""
        if not path:
            return
        style, beyond = within.style, list(within.beyond)
        if style.strokes:
            refuse_stroke(given, style, within.matrix)
        if style.strokes and style.dashes not in SOLID:
            beyond.append(f"dashes on {where}")
        if within.markers and name_of(element) not in ("rect", "circle", "ellipse"):
            beyond.append(f"markers on {where}")
        for paint, painted in ((style.fill, style.fills), (style.stroke, style.strokes)):
            if painted and paint is not None and self._see_through(paint, where):
                beyond.append(f"see-through gradient on {where}")
        self.shapes.append(
            Shape(
                element=element,
                where=where,
                names=within.names,
                matrix=within.matrix,
                path=path,
                style=style,
                clips=within.clips,
                hidden=within.hidden or not style.visible,
                clear=within.clear,
                beyond=tuple(beyond),
            )
        )

    def _image(self, element: Element, given: dict[str, str], within: _Within, where: str) -> None:
        """Keep an embedded picture as a rectangle whose outline only a rendering knows."""
        picture = data_picture(href(element) or "")
        if picture is None:
            return
        width_px, height_px = picture.size
        sizes = [given.get(key, "auto") for key in ("width", "height")]
        width = None if sizes[0] == "auto" else length_px(sizes[0], within.width)
        height = None if sizes[1] == "auto" else length_px(sizes[1], within.height)
        if width is None:
            width = width_px if height is None else height * width_px / height_px
        height = width * height_px / width_px if height is None else height
        if width <= 0 or height <= 0:
            return
        x, y = (
            length_px(given.get(key, "0"), whole)
            for key, whole in (("x", within.width), ("y", within.height))
        )
        drawn = fit_view_box(
            (0, 0, width_px, height_px), width, height, given.get("preserveAspectRatio", "")
        )
        style = replace(within.style, fill=Paint(rgb=(0, 0, 0)), fill_opacity=1.0, stroke=None)
        inside = replace(within, style=style, beyond=(*within.beyond, f"picture {where}"))
        self._shape(element, given, inside, rectangle(x, y, width, height), where)
        scale = largest_scale(within.matrix @ drawn)
        if not self.shapes[-1].hidden and scale > 0:
            self.embedded.append(Embedded(where=where, px_per_unit=1 / scale))

    def _see_through(self, paint: Paint, where: str) -> bool:
        """Whether a gradient has stops that are not opaque. raises: Fault when it is missing."""
        server, seen = paint.server, set()
        while server is not None and server not in seen:
            seen.add(server)
            if server not in self.ids:
                raise Fault(
                    what=f"it is painted with '#{server}', which the file does not have",
                    where=where,
                    do="draw it with a colour of its own",
                )
            gradient = self.ids[server]
            refuse_spread(gradient, where)
            for stop in (e for e in gradient if is_svg(e) and name_of(e) == "stop"):
                given = own(stop)
                colour = given.get("stop-color", "black")
                if share(given.get("stop-opacity", "1")) < 1 or "a(" in colour.lower():
                    return True
            server = (href(gradient) or "#")[1:] or None
        return False


def _inside_viewport(given: dict[str, str], within: _Within) -> _Within:
    """What holds inside an inner svg: its own units, and a clip to its frame."""
    frame, onto, user = inner_viewport(given, within.width, within.height)
    clips = within.clips
    if given.get("overflow", "hidden") not in ("visible", "auto"):
        here = tuple(run.mapped(within.matrix) for run in frame)
        clips = (*clips, Clip(pieces=((here, False),)))
    matrix = within.matrix @ onto
    return replace(within, matrix=matrix, clips=clips, width=user[0], height=user[1])
