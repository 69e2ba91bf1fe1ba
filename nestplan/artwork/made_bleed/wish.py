"""What bleed is asked for, and what was made of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import shapely

from nestplan.faults import Note
from nestplan.figures import length, percent


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BleedWish:
    """Bleed to be made where the art ends at the contour.

    contour: in page mm. reach_mm: how far beyond it. how: edge carries the colour of the
    edge straight out, mirror shows the art beyond the edge as in a mirror.
    """

    contour: shapely.Geometry
    reach_mm: float
    how: Literal["edge", "mirror"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BledPicture:
    """A picture with its bleed; see `Art.picture`."""

    pdf: bytes
    box_mm: tuple[float, float, float, float]
    notes: Sequence[Note]


def made_note(wish: BleedWish, share: float, source: str, how: str) -> Note:
    """What was made, along how much of the contour. share: from 0 to 1."""
    along = share * float(shapely.length(wish.contour))
    text = (
        f"bleed of {length(wish.reach_mm)} is made along {percent(100 * share, 0)} of the contour "
        f"({length(along, 0)}), where the art ends: {how}"
    )
    return Note(level="know", where=source, text=text)


def made_notes(wish: BleedWish, shapes: float, pixels: float, source: str) -> list[Note]:
    """What was made of shapes, and what of pixels. shapes, pixels: shares of the contour."""
    notes = []
    if shapes > 0:
        how = "the fills and lines at its edge are grown below it"
        notes.append(made_note(wish, shapes, source, how))
    if pixels > 0:
        how = (
            "pixels of its edge are carried straight out, because a picture, a mask, an effect "
            "or a fine pattern meets it there: look whether it passes"
        )
        notes.append(replace(made_note(wish, pixels, source, how), level="look"))
    return notes
