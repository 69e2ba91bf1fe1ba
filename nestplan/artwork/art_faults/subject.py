"""What the art of a decal is looked at as: what it prints, and the line it is cut along."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf
from typing import Literal

import numpy as np
import shapely

from nestplan.artwork.decal import Picture
from nestplan.artwork.rings import Trail
from nestplan.artwork.svg.paint import filled_rings
from nestplan.geometry.offset import grown
from nestplan.geometry.outline import Outline
from nestplan.geometry.polyline import Points

LOOKED_MOST = 2_000  # suspicious things of one kind that are looked at closely

Family = Literal["rgb", "grey", "cmyk", "spot", "other"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Printed:
    """One thing that the art prints.

    kind:    fill and stroke have runs of points, (n, 2) in mm, y up; of a picture its four
             corners are the only run, of a text two points, its foot and its head.
    width_mm: of a stroke. dpi: of a picture, at its final size. font: a text's font that is
    not in the file. family: of its colour. ink_percent: all process inks together, 0 where
    that is not known. seen: where clips let it be seen; None: everywhere.
    """

    where: str
    kind: Literal["fill", "stroke", "picture", "text"]
    runs: tuple[Points, ...]
    family: Family
    width_mm: float = 0.0
    dpi: float = inf
    font: str = ""
    ink_percent: float = 0.0
    even_odd: bool = False
    seen: shapely.Geometry | None = None

    def moved(self, dx_mm: float, dy_mm: float) -> "Printed":
        """The same elsewhere."""
        shift = np.array([dx_mm, dy_mm])
        seen = self.seen
        if seen is not None:
            seen = shapely.transform(seen, lambda points: points + shift)
        return replace(self, runs=tuple(run + shift for run in self.runs), seen=seen)

    @property
    def shape(self) -> shapely.Geometry:
        """Its area; of a stroke or a text a line."""
        if self.kind in ("fill", "picture"):
            return filled_rings([run for run in self.runs if len(run) > 2], self.even_odd)
        return shapely.MultiLineString([run for run in self.runs if len(run) > 1])


@dataclass(frozen=True, kw_only=True, eq=False)
class Subject:
    """A decal whose art is to be judged; everything in decal coordinates.

    where: the decal in the job file. drawn: the cut line as the art draws it, if it does.
    ink_limit_percent: most process ink the printer lays down; None where the shop says none.
    wants_cmyk: the shop prints from process colours alone.
    least_dpi: what its pictures should have. picture_dpi: what the coarsest of the print has,
    pixels that were made counted in; None where all is drawn.
    """

    where: str
    source: str
    contour: Outline
    bleed_mm: float
    picture: Picture
    printed: Sequence[Printed]
    drawn: Sequence[Trail] = ()
    ink_limit_percent: float | None = None
    wants_cmyk: bool = False
    least_dpi: float = 150.0
    picture_dpi: float | None = None
    bleed_made: bool = False  # as far as it could be

    @cached_property
    def shown(self) -> shapely.Geometry:
        """Where the decal prints: its contour and the bleed."""
        region = grown(self.contour.region, self.bleed_mm) if self.bleed_mm > 0 else None
        found: shapely.Geometry = self.contour.region if region is None else region
        shapely.prepare(found)
        return found

    def sees(self, printed: Printed) -> shapely.Geometry:
        """The part of a thing that is printed; empty where it lies outside."""
        whole = printed.shape
        if not shapely.intersects(self.shown, whole):
            return shapely.Point()
        part = shapely.intersection(whole, self.shown)
        return part if printed.seen is None else shapely.intersection(part, printed.seen)


def middle_and_size(region: shapely.Geometry) -> tuple[float, float, float]:
    """Middle of a box round a geometry, and the longer side of the box."""
    left, bottom, right, top = shapely.bounds(region).tolist()
    return (left + right) / 2, (bottom + top) / 2, max(right - left, top - bottom)


def place_words(x_mm: float, y_mm: float) -> str:
    """ "x 12.3, y -4.0 mm from the middle of the decal"."""
    return f"x {x_mm:z.1f}, y {y_mm:z.1f} mm from the middle of the decal"
