"""Is there ink beyond every contour, as far as its bleed says? Asked of pixels.

A clip that reaches far enough says where ink may be. Each decal's print is rendered alone, and
from places along its contour where there is ink just inside, ink is followed outwards.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.check.copy_looks import upright
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.outlines import Contour, Points
from nestplan.check.pairing import Judge
from nestplan.check.pdf_pages import PdfFile, Picture
from nestplan.check.picture import form_alone
from nestplan.check.print_claims import Printed, usual_pictures
from nestplan.check.said import Said
from nestplan.figures import fixed

PER_MM = 8.0
PIXELS_MOST = 2_000.0  # of a side
PALE = 245  # of 255: paler ink makes no edge that shows
INSIDE_MM = 0.25  # where ink is asked for before it is followed
SLACK_MM = 0.2  # an edge that is soft by a pixel or two
STEP_MM = 0.25
SHORT_SHARE = 0.01  # of the contour that has ink; less is where lines of the art end on it
SAMPLES_MOST = 1_500


def bleed_claims(said: Said, judge: Judge, file: PdfFile, pairs: Sequence[Printed]) -> list[Claim]:
    """Every decal that has a bleed, once. raises: Unreadable."""
    usual = usual_pictures(pairs)
    pictures: Mapping[object, Picture] = {
        pair.placed.picture.form.key: pair.placed.picture for pair in pairs
    }
    against = []
    for decal, key in sorted(usual.items()):
        contour = judge.contours[decal - 1]
        if contour.bleed_mm <= SLACK_MM:
            continue
        short, least = _short(judge, file, pictures[key], decal, contour)
        if short > SHORT_SHARE:
            against.append(
                Finding(
                    kind=Kind.BLEED_LACKING,
                    where=f"print.pdf, {said.name(decal)}",
                    found=f"along {fixed(100 * short, 0)} % of the contour the ink ends at "
                    f"{fixed(least, 2)} mm or later",
                    meant=f"ink to {fixed(contour.bleed_mm, 2)} mm beyond the cut",
                )
            )
    return [
        Claim(
            says="where ink meets a contour it is seen to reach the bleed", against=tuple(against)
        )
    ]


def _short(
    judge: Judge, file: PdfFile, picture: Picture, decal: int, contour: Contour
) -> tuple[float, float]:
    """The share of places where ink ends too early, and how early it ends at the worst."""
    left, bottom, right, top = contour.bled.bounds
    per_mm = min(PER_MM, PIXELS_MOST / max(right - left, top - bottom))
    box = left - 1, bottom - 1, right + 1, top + 1
    window = form_alone(file.data, picture.form.key, upright(judge, picture, decal), box, per_mm)
    ink: NDArray[np.bool_] = window.pixels[..., :3].min(axis=2) < PALE

    def inked(places: Points) -> NDArray[np.bool_]:
        rows, columns = window.index(places - box[:2])  # the picture begins at the box's corner
        return ink[rows, columns]

    places, outward = _along(contour)
    slack = max(SLACK_MM, 2.0 / per_mm, 2.0 * picture.pixel)
    starts = inked(places - max(INSIDE_MM, 1.5 / per_mm) * outward)
    places, outward = places[starts], outward[starts]
    if not len(places) or contour.bleed_mm <= slack:
        return 0.0, contour.bleed_mm
    reach = np.full(len(places), contour.bleed_mm)
    shapely.prepare(contour.region)
    for out in np.arange(0.0, contour.bleed_mm - slack + 1e-9, STEP_MM)[::-1]:
        at = places + out * outward
        free = ~shapely.contains_xy(contour.region, at[:, 0], at[:, 1])
        reach = np.where(free & ~inked(at), out, reach)
    short = reach < contour.bleed_mm - slack
    least = float(reach[short].min()) if short.any() else contour.bleed_mm
    return float(short.mean()), least


def _along(contour: Contour) -> tuple[Points, Points]:
    """Places evenly along all rings, and the unit directions away from the decal there."""
    starts = np.concatenate(contour.rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in contour.rings])
    keep = np.hypot(*(ends - starts).T) > 0
    starts, ends = starts[keep], ends[keep]
    lengths = np.hypot(*(ends - starts).T)
    upto = np.cumsum(lengths)
    number = int(min(SAMPLES_MOST, max(60, upto[-1] * 2)))
    at = (np.arange(number) + 0.5) * upto[-1] / number
    edge = np.searchsorted(upto, at)
    share = (1 - (upto[edge] - at) / lengths[edge])[:, np.newaxis]
    along = (ends - starts)[edge]
    places: Points = starts[edge] + share * along
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / lengths[edge][:, np.newaxis]
    probe = places + 0.01 * normal
    inside = shapely.contains_xy(contour.region, probe[:, 0], probe[:, 1])
    return places, np.where(inside[:, np.newaxis], -normal, normal)
