"""More ink in one place than the printer should lay down."""

import shapely

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import LOOKED_MOST, Subject, middle_and_size


def heavy_ink(subject: Subject) -> list[ArtFault]:
    """Process inks that add up to more than the printer's limit; the heaviest first.

    Only art in process inks is judged: what other colours become is the printer's affair.
    """
    limit = subject.ink_limit_percent
    if limit is None:
        return []
    heavy = [printed for printed in subject.printed if printed.ink_percent > limit + 0.5]
    heavy.sort(key=lambda each: -each.ink_percent)
    found = []
    for printed in heavy[:LOOKED_MOST]:
        seen = subject.sees(printed)
        if shapely.is_empty(seen):
            continue
        x, y, size = middle_and_size(seen)
        text = (
            f"its process inks add up to {printed.ink_percent:.0f} %, over the printer's limit of "
            f"{limit:.0f} %: it dries late and sticks; mix the colour with less ink"
        )
        found.append(
            ArtFault(
                kind="ink",
                level="look",
                where=printed.where,
                text=text,
                x_mm=x,
                y_mm=y,
                size_mm=size,
            )
        )
    return found
