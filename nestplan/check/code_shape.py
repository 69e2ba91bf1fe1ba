"""Which filled shape of a page may be a code: as square as one, and made of many squares."""

from shapely.geometry.base import BaseGeometry

from nestplan.check.outlines import parts_of

PARTS_LEAST = 40  # pieces and holes; the smallest code of version 3 has twice as many
SQUARE = 0.02  # of its side


def is_code(shape: BaseGeometry) -> bool:
    """Whether a shape looks like a code by its geometry; only a decoder can tell."""
    left, bottom, right, top = shape.bounds
    wide, tall = right - left, top - bottom
    pieces = parts_of(shape)
    return (
        abs(wide - tall) <= SQUARE * max(wide, tall)
        and sum(1 + len(piece.interiors) for piece in pieces) >= PARTS_LEAST
    )
