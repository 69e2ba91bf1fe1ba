"""Bleed for a page: plain colours at its edge go on below it, in the very inks they have."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestplan.artwork.made_bleed.sectors import Paint, near_contour, sectors
from nestplan.artwork.made_bleed.wish import BleedWish
from nestplan.artwork.pdf.ink import Ink
from nestplan.artwork.pdf.walk import Piece, SpaceName
from nestplan.artwork.svg.paint import filled
from nestplan.artwork.svg.path import Path
from nestplan.geometry.polyline import Affine, map_points

OFF_MM = 0.01
SECTORS_MOST = 200  # plain areas are light


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InkedArea:
    """An area (page mm) to be filled below the page. space: where its colour space is named."""

    area: shapely.Geometry
    ink: Ink
    space: SpaceName | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class UnderPage:
    """What lies below a page. shapes, pixels: shares of the contour they lie along.

    areas: bleed that pixels may fill; empty where that would change inks.
    """

    inked: Sequence[InkedArea]
    shapes: float
    pixels: float
    areas: shapely.Geometry


def grown_pieces(
    pieces: Sequence[Piece], unstroked: Collection[object], onto: Affine, wish: BleedWish
) -> UnderPage:
    """The colours that go on. pieces: all that is printed. unstroked: whose stroke is cut."""
    look = _Look(onto, near_contour(wish.contour, wish.reach_mm))
    paints: list[Paint] = []
    owners: list[tuple[Piece, Ink | None, SpaceName | None]] = []
    for piece in pieces:
        for region, ink, space in look.paints(piece, piece.at in unstroked):
            seen = look.seen(region, piece)
            if float(shapely.area(seen)) > 0:
                paints.append(Paint(region=seen, opaque=piece.plain and piece.kind != "picture"))
                owners.append((piece, ink, space))
    found = sectors(wish.contour, wish.reach_mm, paints)
    found.sort(key=lambda each: (-each.share, each.stack))
    inked: list[InkedArea] = []
    shapes, left = 0.0, []
    for sector in found:
        piece, ink, space = owners[sector.stack[0]]
        if len(sector.stack) > 1 or ink is None or not piece.plain or len(inked) >= SECTORS_MOST:
            left.append(sector)
            continue
        inked.append(InkedArea(area=sector.area, ink=ink, space=space))
        shapes += sector.share
    rgb = [sector for sector in left if all(_is_rgb(owners[k][0]) for k in sector.stack)]
    return UnderPage(
        inked=inked,
        shapes=shapes,
        pixels=sum(sector.share for sector in rgb),
        areas=shapely.union_all([sector.area for sector in rgb]),
    )


def _is_rgb(piece: Piece) -> bool:
    """Whether pixels in RGB say the same as the piece does."""
    inks = [ink.family for ink in (piece.fill, piece.stroke) if ink is not None]
    families = {piece.family} if piece.kind == "picture" else set(inks)
    return families <= {"rgb", "grey"}


class _Look:
    """Looks at paints along one band."""

    def __init__(self, onto: Affine, band: shapely.Geometry) -> None:
        self.onto, self.band = onto, band
        self.known: dict[int, shapely.Geometry] = {}

    def paints(
        self, piece: Piece, is_cut: bool
    ) -> list[tuple[shapely.Geometry, Ink | None, SpaceName | None]]:
        """Areas in page mm and what fills them; None for what is no plain colour."""
        if piece.kind == "picture" and len(piece.frame):
            return [(shapely.Polygon(map_points(piece.frame, self.onto)), None, None)]
        if piece.kind != "path":
            return []
        path = tuple(run.mapped(self.onto) for run in piece.path)
        found: list[tuple[shapely.Geometry, Ink | None, SpaceName | None]] = []
        if piece.fill is not None:
            ink = _plain(piece.fill)
            found.append((filled(path, piece.even_odd, OFF_MM), ink, piece.fill_from))
        if piece.stroke is not None and not is_cut and piece.line_width > 0:
            half = piece.line_width * piece.scale * float(self.onto[0, 0]) / 2
            lines = [run.flattened(OFF_MM) for run in path]
            line = shapely.MultiLineString([points for points in lines if len(points) > 1])
            region = shapely.buffer(line, half, cap_style="flat", join_style="mitre")
            found.append((region, _plain(piece.stroke), piece.stroke_from))
        return found

    def seen(self, region: shapely.Geometry, piece: Piece) -> shapely.Geometry:
        """The part of it that clips and the band leave."""
        seen = shapely.intersection(region, self.band)
        for path, even_odd in piece.clips:
            if shapely.is_empty(seen):
                break
            seen = shapely.intersection(seen, self._clip(path, even_odd))
        return seen

    def _clip(self, path: Path, even_odd: bool) -> shapely.Geometry:
        if id(path) not in self.known:
            mapped = tuple(run.mapped(self.onto) for run in path)
            self.known[id(path)] = filled(mapped, even_odd, OFF_MM)
        return self.known[id(path)]


def _plain(ink: Ink) -> Ink | None:
    return None if ink.family == "other" else ink


def operators(inked: InkedArea, name: str, shift: np.ndarray, per_mm: float) -> str:
    """Operators that fill an area. name: of its colour space, where it has one of its own.

    shift: what is added to page mm; per_mm: units of the page.
    """
    parts = " ".join(f"{part:.5g}" for part in inked.ink.parts)
    if name:
        colour = f"{name} cs {parts} sc"
    else:
        colour = f"{parts} { {'rgb': 'rg', 'grey': 'g', 'cmyk': 'k'}[inked.ink.family] }"
    return f"q {colour}\n{area_path(inked.area, shift, per_mm)}f* Q\n"


def area_path(area: shapely.Geometry, shift: np.ndarray, per_mm: float) -> str:
    """Path operators of an area's rings."""
    said = []
    for polygon in shapely.get_parts(area):
        if not isinstance(polygon, shapely.Polygon):
            continue
        for ring in (polygon.exterior, *polygon.interiors):
            points = (shapely.get_coordinates(ring)[:-1] + shift) * per_mm
            first, *rest = [f"{x:z.4f} {y:z.4f}" for x, y in points.tolist()]
            said.append(f"{first} m\n" + "".join(f"{point} l\n" for point in rest) + "h\n")
    return "".join(said)
