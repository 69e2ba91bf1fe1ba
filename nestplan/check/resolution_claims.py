"""How many pixels to an inch the pictures have as they are printed, read from the print itself."""

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.pdf_content import Key
from nestplan.check.print_claims import Printed
from nestplan.check.said import Said
from nestplan.figures import fixed

SLACK = 0.98  # of the figure: it is rounded, and a copy's size may differ by a hair


def resolution_claims(said: Said, pairs: Sequence[Printed]) -> list[Claim]:
    """No picture is coarser than the plan says, and one below the shop's least is told.

    Nothing where neither plan nor print has pictures.
    """
    found = _coarsest(pairs)
    known = [decal.picture_dpi for decal in said.decals]
    if not found and not any(known):
        return []
    against = []
    least = said.printer().least_dpi
    for number, dpi in sorted(found.items()):
        decal = said.decals[number - 1]
        says = f"{fixed(dpi, 0)} dpi"
        meant = ""
        if decal.picture_dpi is None:
            meant = "drawn art without pictures"
        elif decal.picture_dpi is not None and dpi < SLACK * decal.picture_dpi:
            meant = f"{fixed(decal.picture_dpi, 0)} dpi as planned"
        elif dpi < SLACK * least and all(fault.kind != "resolution" for fault in decal.faults):
            meant = f"a note of it, for the shop asks for {fixed(least, 0)} dpi"
        if meant:
            against.append(
                Finding(
                    kind=Kind.PICTURE_COARSE,
                    where=f"print.pdf, {said.name(number)}",
                    found=f"a picture of {says}",
                    meant=meant,
                )
            )
    low = min(found.values(), default=0.0)
    says = f"pictures are printed as fine as planned: {fixed(low, 0)} dpi and more"
    return [Claim(says=says, against=tuple(against))]


def _coarsest(pairs: Sequence[Printed]) -> dict[int, float]:
    """The least dpi of each decal (from 1) that prints pictures.

    A picture that copies of two decals carry is swapped: that is said elsewhere.
    """
    whose: dict[Key, set[int]] = defaultdict(set)
    for pair in pairs:
        whose[pair.placed.picture.form.key].add(pair.copy.key[0])
    found: dict[int, float] = {}
    for pair in pairs:
        picture = pair.placed.picture
        pixel = picture.pixel
        if pixel > 0 and len(whose[picture.form.key]) == 1:
            scale = abs(float(np.linalg.det(pair.placed.matrix[:2]))) ** 0.5
            dpi = 25.4 / max(pixel * scale, 1e-9)
            number = pair.copy.key[0]
            found[number] = min(found.get(number, dpi), dpi)
    return found
