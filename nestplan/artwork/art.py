"""What every kind of artwork can be asked, whatever file it came from.

A page has its origin at its upper left corner. Files count px with y down; from here on
everything is page mm with y up: x from 0 to the width, y from minus the height to 0.
`upright` is the one place where y changes its sign.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely

from nestplan.artwork.art_faults.subject import Printed
from nestplan.artwork.made_bleed.wish import BledPicture, BleedWish
from nestplan.artwork.rings import Trail
from nestplan.artwork.rule import Rule
from nestplan.faults import Note
from nestplan.geometry.polyline import Affine

Box = tuple[float, float, float, float]  # left, bottom, right, top, in page mm


def upright(mm_per_px: float) -> Affine:
    """From px, y down, to page mm, y up."""
    return np.array([[mm_per_px, 0.0, 0.0], [0.0, -mm_per_px, 0.0], [0.0, 0.0, 1.0]])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Traced:
    """A contour found in the art: its area in page mm, and what a person should know."""

    region: shapely.Geometry
    notes: Sequence[Note]


class Art(Protocol):
    """Artwork that was read and is whole."""

    @property
    def source(self) -> str:
        """The path as the job wrote it."""

    @property
    def page_px(self) -> tuple[float, float]:
        """Width and height of the page."""

    @property
    def own_mm_per_px(self) -> float | None:
        """Scale of the art's own size; None when the file does not say."""

    def notes(self, mm_per_px: float, sized: bool) -> list[Note]:
        """What a person should know of the art at this scale; sized: the job gives the size."""

    def extent_px(self, rule: Rule) -> tuple[float, float]:
        """Width and height of the contour before an offset. raises: Fault when there is none."""

    def contour(self, rule: Rule, mm_per_px: float) -> Traced:
        """The contour before an offset, curves within `FLATTEN_MM`. raises: Fault, Faults."""

    def picture(self, rule: Rule, mm_per_px: float, box_mm: Box) -> tuple[bytes, Box]:
        """One PDF page without the cut line, at final size, and the page mm it shows.

        box_mm: what the print should reach; a picture that ends earlier shows less.
        """

    def bled_picture(
        self, rule: Rule, mm_per_px: float, box_mm: Box, wish: BleedWish
    ) -> BledPicture:
        """The same, with bleed made where the art ends at the contour."""

    def trails(self, rule: Rule, mm_per_px: float) -> Sequence[Trail]:
        """The cut line as it is drawn, in page mm; nothing where it is not drawn."""

    def printed(self, rule: Rule, mm_per_px: float) -> Sequence[Printed]:
        """What is printed, the cut line apart, in page mm."""
