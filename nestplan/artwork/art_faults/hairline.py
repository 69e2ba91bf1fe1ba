"""Lines and slivers too thin to print whole."""

import shapely

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import (
    LOOKED_MOST,
    Printed,
    Subject,
    middle_and_size,
    place_words,
)
from nestplan.artwork.svg.paint import filled_rings
from nestplan.figures import fixed
from nestplan.geometry.outline import signed_area_mm2

HAIRLINE_MM = 0.25 * 25.4 / 72  # 0.25 pt: thinner lines break up (common practice, no source)
LEAST_MM = 1.0  # shorter ones are dust


def hairlines(subject: Subject) -> list[ArtFault]:
    """Strokes, and filled shapes, thinner than `HAIRLINE_MM`; the thinnest first."""
    widths = [(_width_mm(printed), printed) for printed in subject.printed]
    thin = [(w, each) for w, each in widths if w is not None and w < HAIRLINE_MM * (1 - 1e-6)]
    thin.sort(key=lambda each: each[0])
    found = []
    for width, printed in thin[:LOOKED_MOST]:
        seen = subject.sees(printed)
        if not shapely.is_empty(seen) and shapely.length(seen) >= LEAST_MM:
            found.append(_fault(width, printed, seen))
    return found


def _width_mm(printed: Printed) -> float | None:
    """How thick a line is, or a shape is on average; None for what is neither."""
    if printed.kind == "stroke":
        return printed.width_mm
    if printed.kind != "fill":
        return None
    rings = [run for run in printed.runs if len(run) > 2]
    length = sum(float(shapely.length(shapely.LinearRing(ring))) for ring in rings)
    if length < 2 * LEAST_MM:
        return None
    # signed areas may cancel where a path crosses itself: only a suspicion
    if 2 * abs(sum(signed_area_mm2(ring) for ring in rings)) / length >= HAIRLINE_MM:
        return None
    area = filled_rings(rings, printed.even_odd)
    if shapely.area(area) < 1e-9:
        return None  # a fill without area prints nothing
    return 2 * float(shapely.area(area)) / max(1e-9, float(shapely.length(area)))


def _fault(width_mm: float, printed: Printed, seen: shapely.Geometry) -> ArtFault:
    x, y, size = middle_and_size(seen)
    what = "this line" if printed.kind == "stroke" else "this shape"
    thick = "as thin as the printer can" if width_mm == 0 else f"{fixed(width_mm, 3)} mm thick"
    text = (
        f"{what} is {thick} at {place_words(x, y)}: under {fixed(HAIRLINE_MM, 3)} mm (0.25 pt) "
        "it prints broken or not at all; draw it thicker"
    )
    return ArtFault(
        kind="hairline",
        level="look",
        where=printed.where,
        text=text,
        x_mm=x,
        y_mm=y,
        size_mm=size,
    )
