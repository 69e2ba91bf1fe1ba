"""Pictures with too few pixels for their printed size."""

import shapely

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import Subject, middle_and_size

COARSE_DPI = 150.0  # below this pixels show at arm's length (common practice, no source)


def coarse_pictures(subject: Subject) -> list[ArtFault]:
    """A picture printed below `COARSE_DPI`, the coarsest first."""
    found = []
    for printed in sorted(subject.printed, key=lambda each: each.dpi):
        seen = subject.sees(printed) if printed.dpi < COARSE_DPI else None
        if seen is None or shapely.is_empty(seen):
            continue
        x, y, size = middle_and_size(seen)
        text = (
            f"this picture has {printed.dpi:.0f} dpi at its printed size, under {COARSE_DPI:.0f}: "
            "its pixels will show; ask for a larger one"
        )
        found.append(
            ArtFault(
                kind="resolution",
                level="look",
                where=printed.where,
                text=text,
                x_mm=x,
                y_mm=y,
                size_mm=size,
            )
        )
    return found
