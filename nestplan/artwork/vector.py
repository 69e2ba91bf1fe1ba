"""SVG artwork: which of its lines is the contour, and its picture without that line."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from nestplan.artwork.art import Box, Traced, upright
from nestplan.artwork.art_faults.subject import Printed
from nestplan.artwork.edge import knife_edge, page_region
from nestplan.artwork.fine import finely
from nestplan.artwork.made_bleed.carried import carried_ring
from nestplan.artwork.made_bleed.wish import BledPicture, BleedWish, made_notes
from nestplan.artwork.pixels import alpha_region
from nestplan.artwork.rings import Ruler, Trail, ring_region
from nestplan.artwork.rule import Rule
from nestplan.artwork.svg.bleed import carried_pixels, grown_paints
from nestplan.artwork.svg.cut_lines import cut_lines, stroke_rgb
from nestplan.artwork.svg.drawing import Drawing, Shape, read_drawing
from nestplan.artwork.svg.paint import painted_region
from nestplan.artwork.svg.parse import Element
from nestplan.artwork.svg.picture import (
    RENDERED_PX,
    picture_pdf,
    rendered_alpha,
    without_layer,
    without_strokes,
)
from nestplan.artwork.svg.printed import printed_shapes
from nestplan.artwork.svg.units import MM_PER_PX
from nestplan.faults import Fault, Note
from nestplan.figures import fixed, length
from nestplan.geometry.outline import FLATTEN_MM
from nestplan.geometry.polyline import Affine, map_points

OVERHANG_MM = 0.05
ROUGH_MM = 200.0  # page at which an edge is measured before its scale is known


@dataclass(frozen=True, kw_only=True, eq=False)
class VectorArt:
    """An SVG drawing that answers what `Art` asks."""

    drawing: Drawing

    @property
    def source(self) -> str:
        """The path as the job wrote it."""
        return self.drawing.source

    @property
    def page_px(self) -> tuple[float, float]:
        """Width and height of the page."""
        return self.drawing.width_px, self.drawing.height_px

    @property
    def own_mm_per_px(self) -> float:
        """A px is 1/96 in."""
        return MM_PER_PX

    def notes(self, mm_per_px: float, sized: bool) -> list[Note]:
        """Effects, and a size that was only guessed."""
        notes = list(self.drawing.notes)
        if not sized and not self.drawing.physical:
            width, height = (side * MM_PER_PX for side in self.page_px)
            text = (
                "the art states no size in mm or in; at 96 px to an inch its page is "
                f"{fixed(width, 2)} × {fixed(height, 2)} mm: write width_mm to be sure"
            )
            notes.append(Note(level="look", where=self.source, text=text))
        for effect in self.drawing.effects:
            text = "this effect (filter) has no vectors: it is printed as pixels"
            notes.append(Note(level="look", where=effect.where, text=text))
        return notes

    def extent_px(self, rule: Rule) -> tuple[float, float]:
        """Width and height of the contour before an offset."""
        self._refuse_pdf_only(rule)
        if rule.kind == "page":
            return self.page_px
        if rule.is_drawn:
            runs = [(s, run) for s in self._lines(rule) for run in s.path]
            points = [run.mapped(s.matrix).flattened(np.inf) for s, run in runs]
            width, height = np.ptp(np.concatenate(points), axis=0).tolist()
            return width, height
        rough = upright(ROUGH_MM / max(self.page_px))
        left, bottom, right, top = shapely.bounds(self._painted(rough, ROUGH_MM / 1000)[0]).tolist()
        return (right - left) / rough[0, 0], (top - bottom) / rough[0, 0]

    def contour(self, rule: Rule, mm_per_px: float) -> Traced:
        """The contour before an offset."""
        self._refuse_pdf_only(rule)
        to_mm = upright(mm_per_px)
        if rule.kind == "page":
            width, height = (side * mm_per_px for side in self.page_px)
            return Traced(region=page_region(width, height), notes=())
        if not rule.is_drawn:

            def edge(off_mm: float) -> Traced:
                painted, notes = self._painted(to_mm, off_mm)
                region, more = knife_edge(painted, self.source)
                return Traced(region=region, notes=[*notes, *more])

            return finely(edge)
        said = self._line_notes(rule, self._lines(rule))
        ruler = Ruler(own_per_mm=MM_PER_PX / mm_per_px)

        def drawn(off_mm: float) -> Traced:
            trails = self.trails(rule, mm_per_px, off_mm)
            region, notes = ring_region(trails, ruler, self.source)
            return Traced(region=region, notes=[*said, *notes])

        return finely(drawn)

    def picture(self, rule: Rule, mm_per_px: float, box_mm: Box) -> tuple[bytes, Box]:
        """The page without the cut line, and as much around it as the print should reach."""
        page, box, box_px = self._page(rule, mm_per_px, box_mm)
        return picture_pdf(self.drawing, page, box_px, mm_per_px), box

    def bled_picture(
        self, rule: Rule, mm_per_px: float, box_mm: Box, wish: BleedWish
    ) -> BledPicture:
        """The same with what paints at its edge grown below it; pixels where that is no help."""
        page, box, box_px = self._page(rule, mm_per_px, box_mm)
        cut = {s.element for s in self._lines(rule)} if rule.kind == "colour" else set()
        under = grown_paints(self.drawing, self._shown(rule), cut, upright(mm_per_px), wish)
        below = list(under.elements)
        carried = None
        if under.pixels > 0:
            plain = picture_pdf(self.drawing, page, box_px, mm_per_px)
            carried = carried_ring(plain, box, under.areas, wish)
            if carried is not None:
                below.insert(0, carried_pixels(carried, mm_per_px))
        pdf = picture_pdf(self.drawing, page, box_px, mm_per_px, under=below)
        pixels = under.pixels if carried is not None else 0.0
        notes = made_notes(wish, under.shapes, pixels, self.source)
        return BledPicture(pdf=pdf, box_mm=box, notes=notes)

    def _page(
        self, rule: Rule, mm_per_px: float, box_mm: Box
    ) -> tuple[Element, Box, tuple[float, float, float, float]]:
        """The root without the cut line, and the box it is to show: page mm, then px."""
        width, height = (side * mm_per_px for side in self.page_px)
        left, bottom, right, top = box_mm
        box = (min(0.0, left), min(-height, bottom), max(width, right), max(0.0, top))
        px = np.array(box) / mm_per_px
        box_px = (px[0], -px[3], px[2] - px[0], px[3] - px[1])
        page = self.drawing.root
        if rule.kind == "layer":
            page = without_layer(self.drawing, rule.name)
        elif rule.kind == "colour":
            page = without_strokes(self.drawing, (s.element for s in self._lines(rule)))
        return page, box, box_px

    def _shown(self, rule: Rule) -> list[Shape]:
        """The shapes that are printed; of those named by a colour, all but the stroke."""
        return [
            shape
            for shape in self.drawing.shapes
            if not shape.hidden
            and not shape.clear
            and not (rule.kind == "layer" and rule.name in shape.names)
        ]

    def trails(self, rule: Rule, mm_per_px: float, off_mm: float = FLATTEN_MM) -> list[Trail]:
        """The cut line as it is drawn, in page mm, its chords no farther off than told."""
        if not rule.is_drawn:
            return []
        to_mm = upright(mm_per_px)
        return [
            Trail(
                points=run.mapped(to_mm @ shape.matrix).flattened(off_mm),
                closed=run.closed,
                where=shape.where,
            )
            for shape in self._lines(rule)
            for run in shape.path
        ]

    def printed(self, rule: Rule, mm_per_px: float) -> list[Printed]:
        """What is printed, the cut line apart, in page mm."""
        cut = {s.element for s in self._lines(rule)} if rule.kind == "colour" else set()
        return printed_shapes(self._shown(rule), self.drawing.embedded, upright(mm_per_px), cut)

    def _lines(self, rule: Rule) -> list[Shape]:
        """The shapes that draw the cut line. raises: Fault with what the art has instead."""
        return cut_lines(self.drawing, rule)

    def _refuse_pdf_only(self, rule: Rule) -> None:
        """SVG has neither spot colours nor boxes within its page."""
        if rule.kind in ("spot", "trim"):
            raise Fault(
                what=f"{rule.text} is something only a PDF has, and this is an SVG",
                where=self.source,
                do="write contour = 'layer:NAME', 'colour:#rrggbb' or 'page', or give the art as "
                "PDF",
            )

    def _line_notes(self, rule: Rule, shapes: list[Shape]) -> list[Note]:
        """What the art does to its cut line that the knife will not follow."""
        notes = []
        for what in dict.fromkeys(b for s in shapes for b in s.beyond if "clip path" in b):
            text = f"the cut line is not clipped by the {what}"
            notes.append(Note(level="look", where=self.source, text=text))
        filled = [shape for shape in shapes if shape.style.fills and not shape.clear]
        if rule.kind == "layer" and filled:
            text = f"{rule.text} is taken out of the print with all its fills, such as this one"
            notes.append(Note(level="look", where=filled[0].where, text=text))
        if not any(self._is_printed(rule, shape) for shape in self.drawing.shapes):
            text = "nothing is left to print: the art is all cut line"
            notes.append(Note(level="know", where=self.source, text=text))
        return notes

    def _is_printed(self, rule: Rule, shape: Shape) -> bool:
        """Whether paint of this shape is left once the cut line is taken out."""
        if shape.hidden or shape.clear:
            return False
        if rule.kind == "layer":
            return rule.name not in shape.names and (shape.style.fills or shape.style.strokes)
        return shape.style.fills or (shape.style.strokes and stroke_rgb(shape) != rule.rgb)

    @cached_property
    def _beyond(self) -> tuple[str, ...]:
        """What of the visible art only a rendering shows."""
        seen = (s for s in self.drawing.shapes if not s.hidden and not s.clear)
        return tuple(
            dict.fromkeys(b for s in seen if s.style.fills or s.style.strokes for b in s.beyond)
        )

    @cached_property
    def _silhouette_px(self) -> shapely.Geometry:
        """The page's silhouette from a rendering, in px."""
        alpha, scale = rendered_alpha(self.drawing)
        return shapely.transform(alpha_region(alpha), lambda points: points / scale)

    def _painted(self, to_mm: Affine, off_mm: float) -> tuple[shapely.Geometry, list[Note]]:
        """Everything painted on the page, in page mm, and how it was found or cut off.

        raises: Fault when nothing is painted.
        """
        width, height = (side * to_mm[0, 0] for side in self.page_px)
        if self._beyond:
            mm = shapely.transform(self._silhouette_px, lambda p: map_points(p, to_mm))
            region = shapely.simplify(mm, off_mm)
            notes = [self._rendered_note(max(width, height) / RENDERED_PX)]
        else:
            whole = painted_region(self.drawing.shapes, to_mm, off_mm)
            region = shapely.intersection(whole, page_region(width, height))
            notes = self._overhang(shapely.bounds(whole).tolist(), width, height)
        if shapely.area(region) == 0:
            raise Fault(
                what="the art paints nothing on its page, so it has no outer edge",
                where=self.source,
                do="move the drawing onto the page, or take another contour",
            )
        return region, notes

    def _rendered_note(self, pixel_mm: float) -> Note:
        """That geometry could not tell the edge, and why."""
        shown = "; ".join(self._beyond[:3]) + ("; …" if len(self._beyond) > 3 else "")
        text = (
            "the outer edge is taken from a rendering where it is at least half opaque, "
            f"{fixed(pixel_mm, 2)} mm a pixel, because of: {shown}"
        )
        return Note(level="look", where=self.source, text=text)

    def _overhang(self, bounds: list[float], width: float, height: float) -> list[Note]:
        """How far paint reaches beyond the page, where the contour ends."""
        left, bottom, right, top = bounds
        over = max(-left, -height - bottom, right - width, top)
        if not over > OVERHANG_MM:  # also when there is no paint, and bounds are no numbers
            return []
        text = f"the art reaches {length(over)} beyond its page: the contour ends at the page"
        return [Note(level="look", where=self.source, text=text)]


def open_vector(data: bytes, source: str) -> VectorArt:
    """Read SVG artwork. raises: Fault or Faults."""
    return VectorArt(drawing=read_drawing(data, source))
