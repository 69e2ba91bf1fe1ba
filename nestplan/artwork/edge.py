"""The outer edge of painted areas, made fit for a knife: no specks, no hairlines."""

import shapely

from nestplan.faults import Fault, Note
from nestplan.figures import count
from nestplan.geometry.offset import grown
from nestplan.geometry.outline import polygons_of

SPECK_MM2 = 1.0  # less is dust, or a hole nobody could weed
HAIRLINE_MM = 0.01  # shapes that abut leave gaps of rounding size, along which no knife should go
STRAIGHT_MM = 0.001  # points this near a straight line are not corners


def knife_edge(region: shapely.Geometry, source: str) -> tuple[shapely.Geometry, list[Note]]:
    """The region without gaps of `HAIRLINE_MM` and areas and holes below `SPECK_MM2`.

    raises: Fault when nothing is left.
    """
    sealed = shapely.simplify(_sealed(region), STRAIGHT_MM)
    notes = []
    parts, holes = [], 0
    pieces = list(polygons_of(sealed))
    for part in pieces:
        if part.area < SPECK_MM2:
            continue
        kept = [ring for ring in part.interiors if shapely.Polygon(ring).area >= SPECK_MM2]
        holes += len(part.interiors) - len(kept)
        parts.append(shapely.Polygon(part.exterior, kept))
    if not parts:
        raise Fault(
            what=f"nothing is painted that is larger than {SPECK_MM2:g} mm²",
            where=source,
            do="check the size of the decal, and that its shapes are visible",
        )
    specks = len(pieces) - len(parts)
    if specks or holes:
        text = (
            f"{_left_out(specks, holes)} below {SPECK_MM2:g} mm² left out of the contour: "
            "dust, or too small to weed"
        )
        notes.append(Note(level="look", where=source, text=text))
    return shapely.union_all(parts), notes


def _left_out(specks: int, holes: int) -> str:
    words = [count(specks, "speck")] if specks else []
    words += [count(holes, "hole")] if holes else []
    return f"{' and '.join(words)} {'is' if specks + holes == 1 else 'are'}"


def _sealed(region: shapely.Geometry) -> shapely.Geometry:
    """Close hairline gaps; where there are none the region stays as it is, point for point."""
    half = HAIRLINE_MM / 2
    closed = grown(grown(region, half, join="mitre"), -half, join="mitre")
    saved = shapely.length(region) - shapely.length(closed)
    return closed if _rings(closed) < _rings(region) or saved > 0.1 else region


def _rings(region: shapely.Geometry) -> int:
    return sum(1 + len(part.interiors) for part in polygons_of(region))


def page_region(width_mm: float, height_mm: float) -> shapely.Polygon:
    """The page's own rectangle in page mm."""
    return shapely.box(0.0, -height_mm, width_mm, 0.0)
