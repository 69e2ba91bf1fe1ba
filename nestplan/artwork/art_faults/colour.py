"""Art in RGB for a printer that is fed with process colours."""

import shapely

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import LOOKED_MOST, Subject, middle_and_size


def rgb_art(subject: Subject) -> list[ArtFault]:
    """One fault for all that is RGB: where the first of it is, and how much of it there is."""
    if not subject.wants_cmyk:
        return []
    seen = [(each, subject.sees(each)) for each in subject.printed[:LOOKED_MOST]]
    shown = [(each, part) for each, part in seen if not shapely.is_empty(part)]
    rgb = [(each, part) for each, part in shown if each.family == "rgb"]
    if not rgb:
        return []
    x, y, size = middle_and_size(rgb[0][1])
    much = "all" if len(rgb) == len(shown) else f"{len(rgb)} of {len(shown)} elements"
    text = (
        f"{much} of the art is RGB, and the printer wants process colours: converting them shifts "
        "bright colours and makes black of four inks; convert it yourself, and look at it"
    )
    return [
        ArtFault(
            kind="colour",
            level="look",
            where=rgb[0][0].where if len(rgb) < len(shown) else subject.source,
            text=text,
            x_mm=x,
            y_mm=y,
            size_mm=size,
        )
    ]
