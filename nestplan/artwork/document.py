"""PDF artwork: the contour from a layer, a colour, a spot, a box of the page, or the art's edge."""

import difflib
from collections.abc import Sequence
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
from nestplan.artwork.pdf.bleed import grown_pieces
from nestplan.artwork.pdf.layers import Layers
from nestplan.artwork.pdf.picture import RENDERED_PX, Below, page_pdf, rendered_alpha
from nestplan.artwork.pdf.printed import printed_pieces
from nestplan.artwork.pdf.sheet import Sheet, opened, sheet_of
from nestplan.artwork.pdf.walk import Piece, walk
from nestplan.artwork.pixels import alpha_region
from nestplan.artwork.rings import Ruler, Trail, ring_region
from nestplan.artwork.rule import Rule
from nestplan.artwork.svg.cut_lines import LISTED_MOST
from nestplan.faults import Fault, Note
from nestplan.figures import fixed
from nestplan.geometry.outline import FLATTEN_MM
from nestplan.geometry.polyline import map_points

MM_PER_PT = 25.4 / 72
NO_SPOTS = {"All", "None", "Cyan", "Magenta", "Yellow", "Black"}  # ISO 32000-1, 8.6.6.4


@dataclass(frozen=True, kw_only=True, eq=False)
class DocumentArt:
    """The first page of a PDF, answering what `Art` asks. A px is a point of the page."""

    source: str
    data: bytes
    sheet: Sheet
    pieces: Sequence[Piece]
    layer_names: tuple[str, ...]

    @property
    def page_px(self) -> tuple[float, float]:
        """Width and height of the visible page."""
        return self.sheet.width, self.sheet.height

    @property
    def own_mm_per_px(self) -> float:
        """A point is 1/72 in."""
        return MM_PER_PT

    def notes(self, mm_per_px: float, sized: bool) -> list[Note]:
        """What of the file is not planned."""
        notes = []
        if self.sheet.pages > 1:
            text = f"the file has {self.sheet.pages} pages: the first one is planned"
            notes.append(Note(level="look", where=self.source, text=text))
        if self.sheet.annotated:
            text = "comments and form fields of the page are not printed"
            notes.append(Note(level="look", where=self.source, text=text))
        hidden = sorted({name for piece in self.pieces if piece.hidden for name in piece.layers})
        if hidden:
            text = f"hidden in the art, so not printed: layer {', '.join(hidden)}"
            notes.append(Note(level="look", where=self.source, text=text))
        return notes

    def extent_px(self, rule: Rule) -> tuple[float, float]:
        """Width and height of the contour before an offset."""
        if rule.kind == "page":
            return self.page_px
        if rule.kind == "trim":
            left, top, right, bottom = self.sheet.trim or (0.0, 0.0, *self.page_px)
            return right - left, bottom - top
        if rule.is_drawn:
            runs = [run for piece in self._lines(rule) for run in piece.path]
            points = np.concatenate([run.flattened(np.inf) for run in runs])
            width, height = np.ptp(points, axis=0).tolist()
            return width, height
        left, top, right, bottom = shapely.bounds(self._silhouette_px).tolist()
        return right - left, bottom - top

    def contour(self, rule: Rule, mm_per_px: float) -> Traced:
        """The contour before an offset."""
        if rule.kind == "page":
            width, height = (side * mm_per_px for side in self.page_px)
            return Traced(region=page_region(width, height), notes=self._spot_notes())
        onto = upright(mm_per_px)
        if rule.kind == "trim":
            box = shapely.box(*(self.sheet.trim or (0.0, 0.0, *self.page_px)))
            trimmed = shapely.transform(box, lambda points: map_points(points, onto))
            return Traced(region=trimmed, notes=[*self._trim_notes(), *self._spot_notes()])
        if not rule.is_drawn:
            mm = shapely.transform(self._silhouette_px, lambda points: map_points(points, onto))
            pixel_mm = max(self._media_size) * mm_per_px / RENDERED_PX
            text = (
                "the outer edge is taken from a rendering where it is at least half opaque, "
                f"{fixed(pixel_mm, 3)} mm a pixel"
            )
            told = Note(level="know", where=self.source, text=text)

            def edge(off_mm: float) -> Traced:
                region, notes = knife_edge(shapely.simplify(mm, off_mm), self.source)
                return Traced(region=region, notes=[told, *self._spot_notes(), *notes])

            return finely(edge)
        said, ruler = self._line_notes(rule), Ruler(own_per_mm=MM_PER_PT / mm_per_px)

        def drawn(off_mm: float) -> Traced:
            trails = self.trails(rule, mm_per_px, off_mm)
            region, notes = ring_region(trails, ruler, self.source)
            return Traced(region=region, notes=[*said, *notes])

        return finely(drawn)

    def bled_picture(
        self, rule: Rule, mm_per_px: float, box_mm: Box, wish: BleedWish
    ) -> BledPicture:
        """The page with plain colours at its edge gone on below it, in their own inks."""
        strokes, whole = self._unprinted(rule)
        cut, gone = {piece.at for piece in strokes}, {piece.at for piece in whole}
        shown = [piece for piece in self._shown if piece.at not in gone]
        under = grown_pieces(shown, cut, upright(mm_per_px), wish)
        plain, own = self.picture(rule, mm_per_px, box_mm)
        carried = carried_ring(plain, own, under.areas, wish)
        if not under.inked and carried is None:
            return BledPicture(pdf=plain, box_mm=own, notes=())
        box = (
            min(own[0], box_mm[0]),
            min(own[1], box_mm[1]),
            max(own[2], box_mm[2]),
            max(own[3], box_mm[3]),
        )
        below = Below(box_mm=box, inked=under.inked, carried=carried)
        pdf = page_pdf(self.data, self.source, self.sheet, mm_per_px, strokes, whole, below)
        pixels = under.pixels if carried is not None else 0.0
        notes = made_notes(wish, under.shapes, pixels, self.source)
        return BledPicture(pdf=pdf, box_mm=box, notes=notes)

    def trails(self, rule: Rule, mm_per_px: float, off_mm: float = FLATTEN_MM) -> list[Trail]:
        """The cut line as it is drawn, in page mm, its chords no farther off than told."""
        if not rule.is_drawn:
            return []
        onto = upright(mm_per_px)
        return [
            Trail(
                points=run.mapped(onto).flattened(off_mm),
                closed=run.closed or bool(piece.fill),
                where=f"{self.source}, {piece.where}",
            )
            for piece in self._lines(rule)
            for run in piece.path
        ]

    def printed(self, rule: Rule, mm_per_px: float) -> list[Printed]:
        """What is printed, the cut line apart, in page mm."""
        strokes, whole = ({piece.at for piece in pieces} for pieces in self._unprinted(rule))
        shown = [piece for piece in self._shown if piece.at not in whole]
        return printed_pieces(shown, strokes, upright(mm_per_px), self.source)

    def picture(self, rule: Rule, mm_per_px: float, box_mm: Box) -> tuple[bytes, Box]:
        """The page as it is, out to its media box, without the cut line."""
        pdf = page_pdf(self.data, self.source, self.sheet, mm_per_px, *self._unprinted(rule))
        left, top, right, bottom = (value * mm_per_px for value in self.sheet.media)
        return pdf, (left, -bottom, right, -top)

    @property
    def _media_size(self) -> tuple[float, float]:
        left, top, right, bottom = self.sheet.media
        return right - left, bottom - top

    def _spot_notes(self) -> list[Note]:
        """Spot colours that are printed, where the contour is none of the art's lines.

        One of them may be a cut line that was meant to be taken out.
        """
        inks = (ink for p in self._shown for ink in (p.fill, p.stroke) if ink is not None)
        spots = sorted({name for ink in inks for name in ink.spots} - NO_SPOTS)
        if not spots:
            return []
        text = (
            f"spot colours of the art are printed: {', '.join(spots)}. If one of them draws the "
            "cut line, write contour = 'spot:NAME': then it is cut and not printed"
        )
        return [Note(level="look", where=self.source, text=text)]

    @property
    def _shown(self) -> list[Piece]:
        return [piece for piece in self.pieces if not piece.hidden]

    def _unprinted(self, rule: Rule) -> tuple[list[Piece], list[Piece]]:
        """Strokes, and whole pieces, that are left out of the print."""
        hidden = [piece for piece in self.pieces if piece.hidden]
        if rule.kind == "layer":
            return [], [*hidden, *(p for p in self._shown if rule.name in p.layers)]
        if rule.kind == "spot":
            lines = self._lines(rule)
            whole = [p for p in lines if p.fill is not None and rule.name in p.fill.spots]
            return [piece for piece in lines if piece not in whole], [*hidden, *whole]
        return (self._lines(rule) if rule.kind == "colour" else []), hidden

    def _lines(self, rule: Rule) -> list[Piece]:
        """The paths that draw the cut line. raises: Fault with what the art has instead."""
        paths = [piece for piece in self.pieces if piece.kind == "path"]
        if rule.kind == "layer":
            drawn = [piece for piece in paths if rule.name in piece.layers]
        elif rule.kind == "spot":
            drawn = [
                p for p in paths if any(rule.name in ink.spots for ink in (p.stroke, p.fill) if ink)
            ]
        else:
            drawn = [p for p in paths if p.stroke is not None and p.stroke.rgb == rule.rgb]
        found = [piece for piece in drawn if not piece.hidden]
        if drawn and not found:
            raise Fault(
                what=f"what {rule.text} names is hidden in the art",
                where=f"{self.source}, {drawn[0].where}",
                do="make it visible; the cut line is taken out of the print anyway",
            )
        if not found:
            raise self._no_lines(rule, paths)
        return found

    def _no_lines(self, rule: Rule, paths: Sequence[Piece]) -> Fault:
        """Say which layers, spots or colours there are, the nearest first."""
        strokes = [piece.stroke for piece in paths if piece.stroke is not None]
        if rule.kind == "layer":
            kind, wanted = "layers (optional content)", rule.name
            names = {*self.layer_names, *(name for p in self.pieces for name in p.layers)}
            what = f"the art has no lines on a layer named {rule.name!r}"
        elif rule.kind == "spot":
            kind, wanted = "spot colours of its lines", rule.name
            inks = [ink for piece in paths for ink in (piece.stroke, piece.fill) if ink is not None]
            names = {name for ink in inks for name in ink.spots}
            what = f"no line of the art has the spot colour {rule.name!r}"
        else:
            kind, wanted = "stroke colours", f"#{bytes(rule.rgb).hex()}"
            names = {ink.said for ink in strokes}
            what = f"no line of the art has the stroke colour {wanted}"
        near = difflib.get_close_matches(wanted, sorted(names), n=1)
        listed = [*near, *sorted(names - set(near))]
        more = f" and {len(listed) - LISTED_MOST} more" if len(listed) > LISTED_MOST else ""
        do = f"name one that it has: {', '.join(listed[:LISTED_MOST])}{more}"
        if not listed:
            do = "it has none at all: draw the cut line, or take contour = 'outline' or 'trim'"
        return Fault(what=what, where=f"{self.source}, {kind}", do=do)

    def _line_notes(self, rule: Rule) -> list[Note]:
        """What the art does to its cut line that the knife will not follow."""
        notes = []
        lines = self._lines(rule)
        clipped = [piece for piece in lines if piece.clipped]
        if clipped:
            text = "the cut line stands in a clip path, which does not shorten it: it is cut whole"
            notes.append(Note(level="look", where=f"{self.source}, {clipped[0].where}", text=text))
        gone = {piece.at for pieces in self._unprinted(rule) for piece in pieces}
        if all(piece.at in gone for piece in self._shown if piece.kind != "form"):
            text = "nothing is left to print: the art is all cut line"
            notes.append(Note(level="know", where=self.source, text=text))
        return notes

    def _trim_notes(self) -> list[Note]:
        if self.sheet.trim is not None:
            return []
        text = "the page has no trim box of its own: it is cut along the visible page"
        return [Note(level="look", where=self.source, text=text)]

    @cached_property
    def _silhouette_px(self) -> shapely.Geometry:
        """Where the visible page is opaque, in points. raises: Fault when that is nowhere."""
        hidden = [piece for piece in self.pieces if piece.hidden]
        ours = page_pdf(self.data, self.source, self.sheet, MM_PER_PT, (), hidden)
        alpha, scale = rendered_alpha(ours, self.source)
        corner = self.sheet.media[:2]
        whole = shapely.transform(alpha_region(alpha), lambda points: points / scale + corner)
        page = shapely.box(0.0, 0.0, *self.page_px)
        region: shapely.Geometry = shapely.intersection(whole, page)
        if shapely.area(region) == 0:
            raise Fault(
                what="the art paints nothing on its page, so it has no outer edge",
                where=self.source,
                do="check that its layers are visible, or take another contour",
            )
        return region


def open_document(data: bytes, source: str) -> DocumentArt:
    """Read PDF artwork. raises: Fault."""
    with opened(data, source) as pdf:
        sheet = sheet_of(pdf, source)
        pieces = walk(pdf, sheet.onto, source)
        names = Layers(pdf).all_names
    return DocumentArt(
        source=source, data=data, sheet=sheet, pieces=tuple(pieces), layer_names=names
    )
