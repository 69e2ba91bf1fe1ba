"""Sets of pieces that a way must enter and leave, known before anything is solved.

Round each ring lies a region: all pieces of any ring that come within a distance of it. The
ring is entered somewhere in its region, so at least two legs of a way go over the region's
edge. Regions of several sizes round every ring, each weighed by the programme, say most of
what a way costs: like moats that a way has to cross (Juenger and Pulleyblank 1993, Geometric
duality and combinatorial optimization, from memory).
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.cut.entries import Entries
from nestplan.cut.subtours import Subtour

REACHES = (0.05, 0.08, 0.13, 0.2, 0.32, 0.5, 0.7)  # in mean widths of the ring


def regions(rings: list[NDArray[np.float64]], entries: Entries) -> list[Subtour]:
    """Regions of growing reach round each ring, each set of pieces once for each ring."""
    lines = np.array([shapely.LinearRing(ring) for ring in rings], dtype=object)
    box = shapely.bounds(lines)
    across = (box[:, 2:] - box[:, :2]).mean(axis=1)
    pieces = shapely.bounds(entries.line)
    found = []
    for ring, (line, width_mm) in enumerate(zip(lines, across.tolist(), strict=True)):
        gaps = np.maximum(pieces[:, :2] - box[ring, 2:], box[ring, :2] - pieces[:, 2:])
        near = np.hypot(*np.maximum(gaps, 0.0).T) <= REACHES[-1] * width_mm  # others lie beyond
        apart = np.full(len(pieces), np.inf)
        apart[near] = shapely.distance(entries.line[near], line)
        before = np.zeros(len(apart), dtype=bool)
        for reach in REACHES:
            inside = apart <= reach * width_mm
            if not inside.all() and (inside != before).any():
                found.append(Subtour(inside=inside, ring=ring))
            before = inside
    return found
