"""Pictures of pixels: the contour from what is not transparent or not background."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import binary_erosion

from nestplan.artwork.art import Box, Traced, upright
from nestplan.artwork.art_faults.subject import Family, Printed
from nestplan.artwork.background import border_colour, foreground_region
from nestplan.artwork.edge import knife_edge, page_region
from nestplan.artwork.fine import finely
from nestplan.artwork.jpeg import Jpeg
from nestplan.artwork.made_bleed.ring import coarser, edge_share, grid_round, nearest_ring
from nestplan.artwork.made_bleed.wish import BledPicture, BleedWish, made_note
from nestplan.artwork.pixel_file import read_pixels
from nestplan.artwork.pixel_pdf import RingRound, pixels_pdf
from nestplan.artwork.pixels import alpha_region
from nestplan.artwork.rings import Trail
from nestplan.artwork.rule import Rule
from nestplan.faults import Fault, Note
from nestplan.geometry.offset import grown
from nestplan.geometry.polyline import Points, map_points

SOUND_ALPHA = 243  # of 255: what is fainter is the rim of an edge
FRINGE_PX = 3  # an edge on a background is mixed with it so far in
NEAR_MM = 0.5  # art that ends no farther inside its contour ends at it: soft edges do
HEAVY_MM = 1.0  # ink is judged over so much: single pixels do not stay wet


@dataclass(frozen=True, kw_only=True, eq=False)
class RasterArt:
    """A picture that answers what `Art` asks.

    colour: (h, w) grey, (h, w, 3) RGB or (h, w, 4) CMYK, bytes. alpha: (h, w), None when opaque.
    dpi: across and down; None when the file does not say. deep: 16 bits a channel in the file.
    told: what else of the file is not planned as it is.
    jpeg: the file itself, where it is printed as it is.
    """

    source: str
    colour: NDArray[np.uint8]
    alpha: NDArray[np.uint8] | None
    dpi: tuple[float, float] | None
    profile: bytes | None
    deep: bool
    told: tuple[str, ...] = ()
    jpeg: Jpeg | None = None

    @property
    def page_px(self) -> tuple[float, float]:
        """Width, and height in px as wide as they are high."""
        height, width = self.colour.shape[:2]
        return float(width), height * self._stretch

    @property
    def own_mm_per_px(self) -> float | None:
        """From the resolution in the file."""
        return None if self.dpi is None else 25.4 / self.dpi[0]

    def notes(self, mm_per_px: float, sized: bool) -> list[Note]:
        """Depth that printing does not use."""
        notes = []
        if self.deep:
            text = "16 bits a channel are printed as 8"
            notes.append(Note(level="know", where=self.source, text=text))
        notes += [Note(level="look", where=self.source, text=text) for text in self.told]
        return notes

    def extent_px(self, rule: Rule) -> tuple[float, float]:
        """Width and height of the contour before an offset."""
        self._refuse_drawn(rule)
        if rule.kind == "page":
            return self.page_px
        left, top, right, bottom = shapely.bounds(self._region_px).tolist()
        return right - left, bottom - top

    def contour(self, rule: Rule, mm_per_px: float) -> Traced:
        """The contour before an offset."""
        if rule.kind == "page":
            width, height = (side * mm_per_px for side in self.page_px)
            return Traced(region=page_region(width, height), notes=())
        onto = upright(mm_per_px)
        mm = shapely.transform(self._region_px, lambda points: map_points(points, onto))
        said = self._background_notes()

        def edge(off_mm: float) -> Traced:
            region, notes = knife_edge(shapely.simplify(mm, off_mm), self.source)
            return Traced(region=region, notes=[*said, *notes])

        return finely(edge)

    def picture(self, rule: Rule, mm_per_px: float, box_mm: Box) -> tuple[bytes, Box]:
        """The whole picture; there is nothing around it."""
        width, height = (side * mm_per_px for side in self.page_px)
        return pixels_pdf(self.colour, self.alpha, self.profile, width, height, jpeg=self.jpeg)

    def bled_picture(
        self, rule: Rule, mm_per_px: float, box_mm: Box, wish: BleedWish
    ) -> BledPicture:
        """The whole picture, and a ring of pixels where it ends at the contour."""
        round_it, share = self._ring(rule, mm_per_px, wish)
        width, height = (side * mm_per_px for side in self.page_px)
        pdf, box = pixels_pdf(
            self.colour, self.alpha, self.profile, width, height, round_it, jpeg=self.jpeg
        )
        if round_it is None:
            return BledPicture(pdf=pdf, box_mm=box, notes=())
        how = "the nearest pixels of the edge are carried straight out"
        if wish.how == "mirror":
            how = "the art is mirrored at its edge"
        return BledPicture(pdf=pdf, box_mm=box, notes=[made_note(wish, share, self.source, how)])

    def _ring(
        self, rule: Rule, mm_per_px: float, wish: BleedWish
    ) -> tuple[RingRound | None, float]:
        """A ring where the art ends at the contour, and along what share of it."""
        if rule.offset_mm > 0:
            return None, 0.0
        region = self._art_px(rule)
        step = coarser(wish.contour, wish.reach_mm, mm_per_px)
        pixel_mm = mm_per_px * step, mm_per_px * step * self._stretch
        onto_px = np.array([1 / pixel_mm[0], -1 / pixel_mm[1]])
        contour = shapely.transform(wish.contour, lambda points: points * onto_px)
        wanted = shapely.transform(
            grown(wish.contour, wish.reach_mm), lambda points: points * onto_px
        )
        art = shapely.transform(region, lambda points: points / (step, step * self._stretch))
        grid = grid_round(shapely.union(wanted, contour))
        sound = grid.mask(art)
        if self.alpha is not None and rule.kind != "page":
            sound = sound & (
                grid.padded(np.ascontiguousarray(self.alpha[::step, ::step])) >= SOUND_ALPHA
            )
        fringe = 1 if self.alpha is not None else FRINGE_PX
        if rule.kind != "page":
            sound = binary_erosion(sound, iterations=fringe)
        near_px = max(NEAR_MM / pixel_mm[0], fringe + 2.0)
        inside = grid.mask(contour)
        ring = nearest_ring(
            grid.padded(np.ascontiguousarray(self.colour[::step, ::step])),
            sound,
            grid.mask(wanted),
            inside,
            grid,
            stretch=self._stretch,
            near_px=near_px,
            how=wish.how,
        )
        if ring is None:
            return None, 0.0
        over = self.alpha is None and rule.kind != "page"
        clip = None
        if self.alpha is not None:
            onto = upright(mm_per_px)
            seen = shapely.transform(region, lambda points: map_points(points, onto))
            clip = shapely.union(seen, wish.contour)
        return (
            RingRound(ring=ring, pixel_mm=pixel_mm, over=over, clip=clip),
            edge_share(ring, grid, inside),
        )

    def _art_px(self, rule: Rule) -> shapely.Geometry:
        """Where the picture is art, in px as wide as high."""
        if rule.kind == "page" and (self.alpha is None or self.alpha.min() > 127):
            return shapely.box(0.0, 0.0, *self.page_px)
        return self._region_px

    def trails(self, rule: Rule, mm_per_px: float) -> list[Trail]:
        """Pixels draw no lines."""
        return []

    def printed(self, rule: Rule, mm_per_px: float) -> list[Printed]:
        """The picture, and of process inks the heaviest place."""
        width, height = (side * mm_per_px for side in self.page_px)
        parts = 1 if self.colour.ndim == 2 else self.colour.shape[2]
        families: dict[int, Family] = {1: "grey", 3: "rgb", 4: "cmyk"}
        whole = Printed(
            where=self.source,
            kind="picture",
            runs=(_corners(0.0, 0.0, width, height),),
            family=families[parts],
            dpi=25.4 / mm_per_px / max(1.0, self._stretch),
        )
        if parts != 4:
            return [whole]
        block = max(1, round(HEAVY_MM / mm_per_px))
        ink, row, column = heaviest(self.colour, block)
        x, y = column * mm_per_px, row * mm_per_px * self._stretch
        side, rise = block * mm_per_px, block * mm_per_px * self._stretch
        heavy = Printed(
            where=f"{self.source}, pixel {column}, {row}",
            kind="fill",
            runs=(_corners(x, y, side, rise),),
            family="cmyk",
            ink_percent=ink,
        )
        return [whole, heavy]

    @property
    def _stretch(self) -> float:
        """Height of a pixel in its widths."""
        return 1.0 if self.dpi is None else self.dpi[0] / self.dpi[1]

    @cached_property
    def _region_px(self) -> shapely.Geometry:
        """Where the picture is opaque, or not background. raises: Fault when it has no edge."""
        if self.alpha is None or self.alpha.min() > 127:
            if self._background is None:
                raise Fault(
                    what="the picture is opaque everywhere and has no plain background, so it has "
                    "no outer edge",
                    where=self.source,
                    do="save it with transparency around the art, or write contour = 'page'",
                )
            region = foreground_region(self.colour, self._background)
            if shapely.is_empty(region):
                raise Fault(
                    what="the picture is opaque everywhere and of one colour: it has no outer edge",
                    where=self.source,
                    do="save it again, with the art in it, or write contour = 'page'",
                )
            return shapely.transform(region, lambda points: points * (1.0, self._stretch))
        if self.alpha.max() < 128:
            raise Fault(
                what="the picture is transparent everywhere",
                where=self.source,
                do="save it again, with the art in it",
            )
        region = alpha_region(Image.fromarray(self.alpha))
        return shapely.transform(region, lambda points: points * (1.0, self._stretch))

    @cached_property
    def _background(self) -> tuple[int, ...] | None:
        """The one colour along the picture's border; None when there is none."""
        return border_colour(self.colour)

    def _background_notes(self) -> list[Note]:
        if self._background is None or not (self.alpha is None or self.alpha.min() > 127):
            return []
        shown = " ".join(str(part) for part in self._background)
        text = (
            f"the picture has no transparency: its edge is taken where it leaves the plain "
            f"background ({shown}), which is printed as bleed; parts of that colour inside are "
            "not cut out"
        )
        return [Note(level="look", where=self.source, text=text)]

    def _refuse_drawn(self, rule: Rule) -> None:
        """Pixels have no layers and no strokes."""
        if rule.is_drawn or rule.kind == "trim":
            raise Fault(
                what=f"{rule.text} names a drawn line or box, but a picture of pixels has none",
                where=self.source,
                do="write contour = 'outline', 'offset:2.0' or 'page', or give the art as SVG",
            )


def open_raster(data: bytes, source: str) -> RasterArt:
    """Read PNG, JPEG, TIFF or WebP artwork. raises: Fault."""
    read = read_pixels(data, source)
    return RasterArt(
        source=source,
        colour=read.colour,
        alpha=read.alpha,
        dpi=read.dpi,
        profile=read.profile,
        deep=read.deep,
        told=read.told,
        jpeg=read.jpeg,
    )


def heaviest(colour: NDArray[np.uint8], block: int) -> tuple[float, int, int]:
    """Most process ink, in hundredths, of a block so many pixels wide, and its row and column.

    colour: (h, w, 4).
    """
    height, width = colour.shape[:2]
    block = max(1, min(block, height, width))
    rows, columns = height // block, width // block
    kept = colour[: rows * block, : columns * block]
    total = kept.reshape(rows, block, columns, block, 4).mean(axis=(1, 3)).sum(axis=2)
    row, column = np.unravel_index(int(total.argmax()), total.shape)
    return float(total.max()) / 2.55, int(row) * block, int(column) * block


def _corners(x_mm: float, down_mm: float, width_mm: float, height_mm: float) -> Points:
    """A closed rectangle, (5, 2) page mm, from its distance to the upper left corner."""
    right, low = x_mm + width_mm, -down_mm - height_mm
    return np.array(
        [[x_mm, -down_mm], [right, -down_mm], [right, low], [x_mm, low], [x_mm, -down_mm]]
    )
