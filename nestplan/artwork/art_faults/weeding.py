"""Parts of the decal, or of the waste round it, that are too narrow to weed.

Both are found by a disc: where it cannot roll inside the contour the decal is narrower
than the disc, where it cannot roll outside the waste is.
"""

from typing import Literal

import shapely

from nestplan.artwork.art_faults.corner import corners
from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import Subject, middle_and_size, place_words
from nestplan.figures import length
from nestplan.geometry.offset import grown
from nestplan.geometry.outline import polygons_of

NARROW_MM = 1.0  # narrower film tears or lifts in weeding (common practice, no source)
LONG_MM = 2.0  # over so much; the tip of any corner is narrow for less
TIP_MM = 8.0  # the same for a corner that is told as too sharp
BLUNT_MM = 0.05  # a tip that turns on a larger radius is the end of something narrow
POINTS_MOST = 3_000  # offsets of more take long
ROUGHER_MM = (0.01, 0.05, 0.15)  # by which a contour of more is simplified first
ROUNDING_MM = 0.03  # what arcs made of chords leave between a disc and a curve


def narrow_parts(subject: Subject) -> list[ArtFault]:
    """Where the decal, then where the waste is narrower than `NARROW_MM`; longest first."""
    region = _smooth(subject.contour.region)
    if region is None:
        return []
    half = NARROW_MM / 2
    tips = shapely.MultiPoint(
        [
            (tip.x_mm, tip.y_mm)
            for ring in subject.contour.rings
            for tip in corners(ring)
            if tip.radius_mm < BLUNT_MM
        ]
    )
    opened = grown(grown(region, -half), half + ROUNDING_MM)
    found = [
        _fault(subject, "narrow", part, span)
        for part, span in _long(shapely.difference(region, opened), tips)
    ]
    closed = grown(grown(region, half), -half - ROUNDING_MM)
    found += [
        _fault(subject, "waste", part, span)
        for part, span in _long(shapely.difference(closed, region), tips)
    ]
    return found


def _smooth(region: shapely.Geometry) -> shapely.Geometry | None:
    """The contour with so few points that it can be judged in time; None for a scrawl."""
    for off_mm in ROUGHER_MM:
        thin: shapely.Geometry = shapely.simplify(region, off_mm)
        if shapely.get_num_coordinates(thin) <= POINTS_MOST:
            return thin
    return None


def _long(region: shapely.Geometry, tips: shapely.Geometry) -> list[tuple[shapely.Polygon, float]]:
    """The pieces that are long, with how far they reach; tips of sharp corners are told apart."""
    spans = []
    for part in polygons_of(region):
        corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(part))
        sides = shapely.distance(shapely.points(corners[:2]), shapely.points(corners[1:3]))
        is_tip = bool(shapely.dwithin(part, tips, NARROW_MM / 4))
        spans.append((part, float(sides.max()), TIP_MM if is_tip else LONG_MM))
    long = [(part, span) for part, span, least in spans if span >= least]
    return sorted(long, key=lambda each: (-each[1], shapely.bounds(each[0]).tolist()))


def _fault(
    subject: Subject, kind: Literal["narrow", "waste"], part: shapely.Polygon, span_mm: float
) -> ArtFault:
    x, y, size = middle_and_size(part)
    if kind == "narrow":
        what, do = "the decal", "it tears or lifts when it is weeded; make it wider there"
    else:
        what, do = "the waste", "it tears and stays behind in weeding; widen the gap or close it"
    text = (
        f"{what} is narrower than {length(NARROW_MM)} over {length(span_mm)}, at "
        f"{place_words(x, y)}: {do}"
    )
    return ArtFault(
        kind=kind,
        level="look",
        where=f"{subject.where}, contour",
        text=text,
        x_mm=x,
        y_mm=y,
        size_mm=size,
    )
