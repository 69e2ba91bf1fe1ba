"""Which filled shape of a page is which mark: by place and nothing else."""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_layer import CutLayer, CutMark
from nestplan.check.outlines import Points, region_of, stretched_to
from nestplan.check.pdf_content import Ink
from nestplan.check.pdf_pages import PdfPage
from nestplan.check.said import Said, SaidFrame

REACH = 2.0  # of a mark's size: what is farther off is another shape


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PrintedMark:
    """A mark of the cut layer and the shape that is printed for it, both in run coordinates."""

    mark: CutMark
    meant: BaseGeometry
    seen: BaseGeometry | None
    ink: Ink


def printed_marks(
    said: Said, frame: SaidFrame, page: PdfPage, layer: CutLayer
) -> tuple[list[PrintedMark], list[BaseGeometry]]:
    """Every mark of a cut layer, and the shapes of the page that are none."""
    origin = np.array([said.page_x0_mm, frame.y0_mm])
    seen = [
        (shapely.transform(shape, lambda points: points + origin), ink)
        for shape, ink in page.fills
        if not shape.is_empty
    ]
    meant = [region_of(mark.rings) for mark in layer.marks]
    here, there = (
        np.array([middle(shape) for shape in shapes]).reshape(-1, 2)
        for shapes in (meant, [shape for shape, _ in seen])
    )
    reach = REACH * said.marks.size_mm
    ways = [_nearest(here, there, reach)]
    if len(here) > 3 and len(there) > 3:
        ways.append(_nearest(stretched_to(here, there), there, reach))
    match = max(ways, key=len)
    marks = [
        PrintedMark(
            mark=mark,
            meant=meant[k],
            seen=seen[match[k]][0] if k in match else None,
            ink=seen[match[k]][1] if k in match else (),
        )
        for k, mark in enumerate(layer.marks)
    ]
    others = sorted(set(range(len(seen))) - set(match.values()))
    return marks, [seen[j][0] for j in others]


def middle(shape: BaseGeometry) -> tuple[float, float]:
    """The middle of a shape's bounding box."""
    left, bottom, right, top = shape.bounds
    return (left + right) / 2, (bottom + top) / 2


def _nearest(meant: Points, seen: Points, reach_mm: float) -> dict[int, int]:
    """Nearest pairs first, each place once."""
    off = np.hypot(*(meant[:, None] - seen[None]).T).T
    match: dict[int, int] = {}
    for flat in np.argsort(off, axis=None, kind="stable").tolist():
        i, j = divmod(flat, len(seen))
        if off[i, j] > reach_mm:
            break
        if i not in match and j not in match.values():
            match[i] = j
    return match
