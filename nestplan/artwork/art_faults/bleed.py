"""Does the print reach as far beyond the contour as the job's bleed says?

The picture is looked at as it will be printed: the PDF is rendered, and from places along
the contour where there is ink inside, ink is followed outwards.
"""

from collections.abc import Callable

import numpy as np
import pypdfium2
import shapely
from numpy.typing import NDArray

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import Subject
from nestplan.artwork.decal import Picture
from nestplan.figures import length, percent
from nestplan.geometry.outline import Outline
from nestplan.geometry.polyline import Points

PIXELS_PER_MM = 10.0
RENDERED_MOST_PX = 2_500.0
SAMPLES_MOST = 2_000
STEPS = 8  # outward from the contour to the end of the bleed
PALE = 245  # of 255: paler ink than this makes no edge that shows
SHORT_SHARE = 0.005  # of the contour; less is where lines of the art end on it


def short_bleed(subject: Subject) -> list[ArtFault]:
    """A fault when ink that touches the contour ends before the bleed does."""
    contour, bleed_mm = subject.contour, subject.bleed_mm
    if bleed_mm <= 0:
        return []
    inked, pixel_mm = _ink(contour, subject.picture, bleed_mm)
    every, outward = _along(contour)
    at_edge = inked(every - max(0.2, 1.5 * pixel_mm) * outward)
    points, outward = every[at_edge], outward[at_edge]
    slack_mm = max(0.1, 1.5 * pixel_mm)
    reach_mm = np.full(len(points), bleed_mm)
    going = np.ones(len(points), dtype=bool)
    for step in np.linspace(0, bleed_mm, STEPS + 1)[1:]:
        at = points + max(0.0, step - slack_mm) * outward
        inside = shapely.contains_xy(contour.region, at[:, 0], at[:, 1])
        ends = going & ~inside & ~inked(at)
        reach_mm[ends] = step - bleed_mm / STEPS
        going &= ~ends & ~inside
    short = reach_mm < bleed_mm - 1e-9
    if np.count_nonzero(short) <= SHORT_SHARE * max(1, len(at_edge)):
        return []
    do = "draw the art on beyond it"
    if not subject.bleed_made:
        do += ", or let make_bleed carry its edge on"
    share = 100 * np.count_nonzero(short) / len(at_edge)
    text = (
        f"along {percent(share, 0)} of the contour the print ends before the bleed of "
        f"{length(bleed_mm)} does, as little as {length(float(reach_mm[short].min()))} beyond the "
        f"cut: a cut that is off shows a bare edge; {do}"
    )
    places = np.flatnonzero(at_edge)[short]
    x, y, size = _longest(every, places)
    return [
        ArtFault(
            kind="bleed",
            level="look",
            where=f"{subject.where}, bleed_mm",
            text=text,
            x_mm=x,
            y_mm=y,
            size_mm=size,
        )
    ]


def _longest(every: Points, short: NDArray[np.intp]) -> tuple[float, float, float]:
    """The middle of the longest row of neighbouring places, and how far it reaches across."""
    rows = np.split(short, np.flatnonzero(np.diff(short) > 1) + 1)
    row = every[max(rows, key=len)]
    x, y = row[len(row) // 2].tolist()
    return x, y, float(np.ptp(row, axis=0).max())


def _along(contour: Outline) -> tuple[Points, Points]:
    """Places evenly along all rings, (n, 2), and the unit directions out of the area there."""
    starts = np.concatenate(contour.rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in contour.rings])
    lengths = np.hypot(*(ends - starts).T)
    upto = np.cumsum(lengths)
    count = int(min(SAMPLES_MOST, max(40, upto[-1])))
    at = (np.arange(count) + 0.5) * upto[-1] / count
    edge = np.searchsorted(upto, at)
    share = 1 - (upto[edge] - at) / lengths[edge]
    along = (ends - starts)[edge]
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / lengths[edge, np.newaxis]
    return starts[edge] + share[:, np.newaxis] * along, outward


def _ink(
    contour: Outline, picture: Picture, bleed_mm: float
) -> tuple[Callable[[Points], NDArray[np.bool_]], float]:
    """A function that tells where ink is, and the size of a pixel it looks at."""
    box = np.array(picture.box_mm)
    wanted = np.array(contour.bounds_mm) + np.array([-1, -1, 1, 1]) * (bleed_mm + 1)
    seen = np.concatenate([np.maximum(box[:2], wanted[:2]), np.minimum(box[2:], wanted[2:])])
    if (seen[2:] <= seen[:2]).any():
        return lambda points: np.zeros(len(points), dtype=bool), 1 / PIXELS_PER_MM
    per_mm = min(PIXELS_PER_MM, RENDERED_MOST_PX / float(np.max(seen[2:] - seen[:2])))
    document = pypdfium2.PdfDocument(picture.pdf)
    try:
        page = document[0]
        points_per_mm = page.get_width() / (box[2] - box[0])
        page.set_cropbox(*((seen - np.tile(box[:2], 2)) * points_per_mm).tolist())
        bitmap = page.render(scale=per_mm / points_per_mm)
        ink = bitmap.to_numpy()[:, :, :3].min(axis=2) < PALE
    finally:
        document.close()
    height, width = ink.shape

    def inked(points: Points) -> NDArray[np.bool_]:
        column = np.floor((points[:, 0] - seen[0]) * per_mm).astype(int)
        row = np.floor((seen[3] - points[:, 1]) * per_mm).astype(int)
        on = (column >= 0) & (column < width) & (row >= 0) & (row < height)
        found = np.zeros(len(points), dtype=bool)
        found[on] = ink[row[on], column[on]]
        return found

    return inked, 1 / per_mm
