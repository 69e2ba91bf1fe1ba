"""Pictures with too few pixels for their printed size."""

import shapely

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import Subject, middle_and_size


def coarse_pictures(subject: Subject) -> list[ArtFault]:
    """A picture printed below the shop's `least_dpi`, the coarsest first."""
    least = subject.least_dpi
    found = []
    for printed in sorted(subject.printed, key=lambda each: each.dpi):
        seen = subject.sees(printed) if printed.dpi < least else None
        if seen is None or shapely.is_empty(seen):
            continue
        text = (
            f"this picture has {printed.dpi:.0f} dpi at its printed size, under {least:.0f}: "
            "its pixels will show; ask for a larger one"
        )
        found.append(_fault(printed.where, text, seen))
    if not found and subject.picture_dpi is not None and subject.picture_dpi < least:
        text = (
            f"effects or bleed of this art are printed as pixels, {subject.picture_dpi:.0f} dpi, "
            f"under {least:.0f}: they will show; draw them without effects, with bleed of their own"
        )
        found.append(_fault(subject.source, text, subject.shown))
    return found


def _fault(where: str, text: str, seen: shapely.Geometry) -> ArtFault:
    x, y, size = middle_and_size(seen)
    return ArtFault(
        kind="resolution", level="look", where=where, text=text, x_mm=x, y_mm=y, size_mm=size
    )
