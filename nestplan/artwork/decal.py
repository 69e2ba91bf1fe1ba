"""What a decal is once its artwork has been read: a contour, and a picture to print in it."""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.faults import Note
from nestplan.geometry.offset import grown
from nestplan.geometry.outline import Outline
from nestplan.job import Cut, Direction, Rotate, White


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    """The printed art as a one-page PDF; the cut line is no longer in it.

    pdf:    bytes of a PDF with one page; vectors stay vectors, a raster stays the
            raster it was. The page's media box is the whole art box.
    box_mm: (left, bottom, right, top) where that media box lies in decal coordinates.
    """

    pdf: bytes
    box_mm: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Row:
    """What one copy of a numbered decal says. values: by column, as they follow in the art.

    picture: the row's text alone, to be laid on the decal's picture.
    """

    values: tuple[tuple[str, str], ...]
    picture: Picture

    @property
    def words(self) -> str:
        """The values in a line."""
        return " · ".join(value for _, value in self.values)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowTable:
    """Where the rows of a decal came from: path as the job wrote it, sha256 of the file, hex."""

    source: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecalWhite:
    """White ink of a decal. order: where it lies among the other inks; never none.

    shapes: where it is printed, in decal coordinates of the upright decal: one for all copies,
    or one a row. choke_mm: how far they end inside the art.
    """

    order: White
    choke_mm: float
    shapes: tuple[shapely.Geometry, ...]

    @property
    def area_mm2(self) -> float:
        """Of a copy; the mean where rows differ."""
        return float(np.mean(shapely.area(np.array(self.shapes))))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decal:
    """One design at its final size.

    Decal coordinates: mm, y up, angle 0 (the art upright), origin at the centre
    of the footprint's bounding box.

    rows: copy n of a numbered decal says what row n says, on top of the picture that all
    copies share; empty where all copies are alike. row_table: the file they came from.
    numbers: which copies are printed, rising, where not all are: those of a former run that came
    to nothing; rows stay whole, so that copy n still says what row n says.
    backing: a through cut round the contour, one ring or more without holes; None where the
    contour is all that is cut.
    mirrored: it is printed for the other side of the film; contour, backing and faults are those
    of the printed side, picture and white are those of the artwork.
    """

    name: str
    quantity: int
    contour: Outline
    picture: Picture
    cut: Cut
    bleed_mm: float
    rotate: Rotate
    source: str  # the artwork's path as the job wrote it
    digest: str  # sha256 of the artwork file, hex
    direction: Direction = "trailing"
    keep_together: bool = False
    faults: tuple[ArtFault, ...] = ()  # what is wrong with its art
    picture_dpi: float | None = None  # of the coarsest picture in it; None where all is drawn
    rows: tuple[Row, ...] = ()
    row_table: RowTable | None = None
    numbers: tuple[int, ...] = ()
    recipient: str | None = None
    backing: Outline | None = None
    mirrored: bool = False
    white: DecalWhite | None = None

    def turned_over(self) -> "Decal":
        """The same decal as it is seen from the other side of the film."""
        return replace(
            self,
            contour=self.contour.mirrored(),
            backing=None if self.backing is None else self.backing.mirrored(),
            faults=tuple(replace(fault, x_mm=-fault.x_mm) for fault in self.faults),
            mirrored=not self.mirrored,
        )

    @property
    def printed_rows(self) -> list[tuple[int, Row]]:
        """Rows that are printed, each with its number, from 1."""
        return [
            (number, row)
            for number, row in enumerate(self.rows, start=1)
            if not self.numbers or number in self.numbers
        ]

    def white_shape(self, copy: int) -> shapely.Geometry:
        """Where a copy (from 1) has white, in coordinates of the upright decal; maybe nowhere."""
        if self.white is None:
            return shapely.MultiPolygon()
        return self.white.shapes[copy - 1 if self.rows else 0]

    @property
    def upright(self) -> "Decal":
        """The decal as its artwork shows it: its picture always lies on this one."""
        return self.turned_over() if self.mirrored else self

    @property
    def footprint(self) -> Outline:
        """The outermost cut: what is nested, and what a copy takes of the film."""
        return self.contour if self.backing is None else self.backing

    @property
    def inked(self) -> shapely.Geometry:
        """Where it is printed: the contour grown by the bleed."""
        region = self.contour.region
        return grown(region, self.bleed_mm) if self.bleed_mm > 0 else region

    @property
    def taken(self) -> shapely.Geometry:
        """Where it is printed or cut."""
        if self.backing is None:
            return self.inked
        return shapely.union(self.inked, self.backing.region)

    @property
    def beyond_mm(self) -> float:
        """How far the print reaches beyond the footprint at most."""
        return print_beyond_mm(self.contour, self.backing, self.bleed_mm)


def print_beyond_mm(contour: Outline, backing: Outline | None, bleed_mm: float) -> float:
    """How far a print with this bleed reaches beyond the outermost cut at most.

    Whoever walks from the contour to the end of the bleed has walked at least as far as the
    backing is away when he crosses it.
    """
    if backing is None:
        return bleed_mm
    away_mm = shapely.distance(contour.region.boundary, backing.region.boundary)
    return max(0.0, bleed_mm - float(away_mm))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Remnant:
    """The leading part of a roll that was used before; beyond its end the film is whole.

    outline: in run coordinates, mm; holes are film that is used up.
    """

    outline: Outline
    source: str  # the drawing's path as the job wrote it
    digest: str  # sha256 of the drawing, hex

    @property
    def end_mm(self) -> float:
        """From where on the film is whole."""
        return self.outline.bounds_mm[3]

    def missing(self, width_mm: float) -> BaseGeometry:
        """Film that is not there, of a roll so wide, in run coordinates."""
        return shapely.box(0.0, 0.0, width_mm, self.end_mm).difference(self.outline.region)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Artwork:
    """All decals of a job, in the job's order, and what a person should know of them.

    remnant: the film that the run starts on, where it is not whole.
    """

    decals: tuple[Decal, ...]
    notes: tuple[Note, ...]
    remnant: Remnant | None = None
