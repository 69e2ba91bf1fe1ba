"""The backing: a through cut round the kiss cut, so that a decal leaves the roll on its liner."""

import shapely

from nestplan.artwork.form import formed
from nestplan.artwork.islands import filled
from nestplan.artwork.make import Made, round_corners
from nestplan.artwork.rule import rule_of
from nestplan.faults import Fault, Note
from nestplan.figures import fixed, short
from nestplan.geometry.outline import polygons_of

LEAST_APART_MM = 0.5  # two knife lines nearer than this become one (common practice, no source)
ROUNDING_MM = 0.02


def backing_of(contour: shapely.Geometry, text: str, least_radius_mm: float, where: str) -> Made:
    """The area of the backing round a contour, without holes.

    text: the job's key. where: the decal in the job file. raises: Fault when it comes too near
    the contour.
    """
    rule, key = rule_of(text), f"{where}, backing"
    region = filled(formed(filled(contour), rule, key))
    if least_radius_mm > 0:
        region = filled(round_corners(region, least_radius_mm, f"{where}, least_radius_mm"))
    inside = shapely.covers(region, contour)
    apart_mm = float(shapely.distance(shapely.boundary(region), shapely.boundary(contour)))
    if not inside or apart_mm < LEAST_APART_MM - ROUNDING_MM:
        found = f"comes within {fixed(apart_mm, 2)} mm of the kiss cut"
        raise Fault(
            what=f"backing {text!r} {found if inside else 'cuts into the kiss cut'}",
            where=key,
            do=f"write a backing that lies {short(LEAST_APART_MM)} mm outside everywhere, such as "
            "'offset:3'",
        )
    pieces = len(list(polygons_of(region)))
    if pieces == 1:
        return Made(region=region)
    note = Note(
        level="look",
        where=key,
        text=f"the backing falls into {pieces} pieces, which come off one by one: a larger offset, "
        "or hull, keeps a copy together",
    )
    return Made(region=region, notes=[note])
