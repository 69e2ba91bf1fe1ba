"""What one copy of a decal takes: film, ink by channel, weeding, tape. Decimals from here on."""

from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import shapely

from nestplan.artwork import Decal
from nestplan.artwork.coverage import Coverage, coverage_of
from nestplan.cost.money import exact
from nestplan.geometry.outline import Outline
from nestplan.job import Channel

LENGTH_PLACES = 3  # mm: a micrometre
AREA_PLACES = 2  # mm²
TIME_PLACES = 3  # s
TURN_PLACES = 3
INKS: tuple[Channel, ...] = ("cyan", "magenta", "yellow", "black")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One copy of a decal.

    taken_mm2: print and cut, bleed and backing counted in. ink_mm2: full ink by channel, in the
    order of INKS, twice where it is printed twice. contour_mm: all rings of the contour.
    turns: whole turns that they make. tape_mm2: its bounding box, grown.
    """

    name: str
    taken_mm2: Decimal
    printed_mm2: Decimal
    ink_mm2: tuple[Decimal, Decimal, Decimal, Decimal]
    white_mm2: Decimal
    contour_mm: Decimal
    turns: Decimal
    tape_mm2: Decimal


def pieces_of(
    decals: tuple[Decal, ...], *, twice: bool, tape_beyond_mm: float
) -> tuple[Piece, ...]:
    """Every decal measured. twice: inks below and above a white. Pictures are rendered once."""
    seen: dict[tuple[object, ...], Coverage] = {}
    pieces = []
    for decal in decals:
        key = (decal.picture.pdf, decal.mirrored, *(r.tobytes() for r in decal.contour.rings))
        key = (*key, decal.bleed_mm, decal.white is None)
        if key not in seen or decal.white is not None:
            seen[key] = coverage_of(decal)
        pieces.append(piece_of(decal, seen[key], twice=twice, tape_beyond_mm=tape_beyond_mm))
    return tuple(pieces)


def piece_of(decal: Decal, coverage: Coverage, *, twice: bool, tape_beyond_mm: float) -> Piece:
    """One decal whose inks were measured."""
    times = Decimal(2 if twice else 1)
    cyan, magenta, yellow, black = (
        times * exact(mm2, AREA_PLACES)
        for mm2 in (
            coverage.cyan_mm2,
            coverage.magenta_mm2,
            coverage.yellow_mm2,
            coverage.black_mm2,
        )
    )
    left, bottom, right, top = decal.contour.bounds_mm
    beyond = 2 * exact(tape_beyond_mm, LENGTH_PLACES)
    wide, long = exact(right - left, LENGTH_PLACES), exact(top - bottom, LENGTH_PLACES)
    return Piece(
        name=decal.name,
        taken_mm2=exact(float(shapely.area(decal.taken)), AREA_PLACES),
        printed_mm2=exact(coverage.area_mm2, AREA_PLACES),
        ink_mm2=(cyan, magenta, yellow, black),
        white_mm2=exact(coverage.white_mm2, AREA_PLACES),
        contour_mm=exact(decal.contour.length_mm, LENGTH_PLACES),
        turns=exact(turns_of(decal.contour), TURN_PLACES),
        tape_mm2=(wide + beyond) * (long + beyond),
    )


def turns_of(outline: Outline) -> float:
    """Whole turns that all rings make: the total curvature, in units of 2 pi.

    1 for a convex ring, more for any other. source: Fenchel, Math. Ann. 101 (1929) 238-252,
    from memory; of a polygon it is the sum of its outer angles without their signs.
    """
    turns = 0.0
    for ring in outline.rings:
        points = ring[:-1] if np.array_equal(ring[0], ring[-1]) else ring
        ways = np.roll(points, -1, axis=0) - points
        ways = ways[np.hypot(*ways.T) > 0]
        bearing = np.arctan2(ways[:, 1], ways[:, 0])
        turned = np.diff(np.append(bearing, bearing[0]))
        turned = (turned + np.pi) % (2 * np.pi) - np.pi
        turns += float(np.abs(turned).sum()) / (2 * np.pi)
    return turns
