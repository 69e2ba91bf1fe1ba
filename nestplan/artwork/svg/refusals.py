"""What of a drawing would be printed otherwise than it looks: refused by name."""

import numpy as np

from nestplan.artwork.svg.parse import Element, name_of
from nestplan.artwork.svg.style import Style
from nestplan.artwork.svg.units import Unreadable, shown
from nestplan.faults import Fault
from nestplan.geometry.polyline import Affine

SOLID = ("none", "", "0")  # dashes that are none
SAME = 1e-6


def refuse_spread(gradient: Element, where: str) -> None:
    """PDF's gradients end where they end. raises: Fault."""
    spread = gradient.get("spreadMethod", "pad")
    if spread != "pad":
        raise Fault(
            what=f"its gradient goes on by spreadMethod={spread!r}, for which PDF has no like",
            where=where,
            do="draw the repeats as stops of one gradient",
        )


def refuse_text(element: Element, where: str) -> None:
    """Text needs a font we do not have: it would vanish from the print. raises: Fault."""
    words = " ".join("".join(element.itertext()).split())
    if name_of(element) == "foreignObject":
        raise Fault(
            what="<foreignObject> holds something other than SVG, which cannot be printed",
            where=where,
            do="replace it by shapes",
        )
    if words:
        raise Fault(
            what=f"the text {shown(words)} is live: without its font it would not be printed",
            where=where,
            do="convert text to outlines (paths) in the drawing program, then save again",
        )


def refuse_stroke(given: dict[str, str], style: Style, matrix: Affine) -> None:
    """Strokes whose width or dashes are counted in ways that are not read. raises: Unreadable."""
    if style.dashes not in SOLID and "pathLength" in given:
        raise Unreadable("its dashes are counted in shares of pathLength, which is not read")
    grows = float(np.abs(matrix[:2, :2] - np.eye(2)).max()) > SAME
    if given.get("vector-effect", "none") == "non-scaling-stroke" and grows:
        raise Unreadable("its stroke does not grow with the drawing (vector-effect)")
