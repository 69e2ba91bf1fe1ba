"""What a cutter's fit to the marks carries to every place of a frame.

Every fit here is linear in what is read at the marks: the cut at a place is shifted by a
weighted sum of the marks' shifts. The weights are all that the prediction needs.
"""

import numpy as np
from numpy.typing import NDArray

from nestplan.job import Corrects

Points = NDArray[np.float64]

EDGE_MM = 60.0  # a mark belongs to an edge when it stands this near its outermost mark
KNOTS_APART_MM = 1.0  # joints nearer than this are one


def influence(corrects: Corrects, marks_mm: Points, places_mm: Points) -> NDArray[np.float64]:
    """(n, 2, N, 2): shift of the cut at place k, axis a, for a unit shift of mark i, axis b.

    marks_mm: (N, 2) in the order of their numbers; places_mm: (n, 2).
    none sets its origin on mark 1; turn is the rigid fit to first order (a turn is small
    against one radian); the others are exact. G = J_r (J'J)^-1 J'.
    source: least squares; rows of J as in Fitzpatrick, West, Maurer 1998, in two dimensions.
    """
    if corrects == "none":
        carried = np.zeros((len(places_mm), 2, len(marks_mm), 2))
        carried[:, 0, 0, 0] = carried[:, 1, 0, 1] = 1.0
        return carried
    middle = marks_mm.mean(axis=0)
    scale = np.ptp(marks_mm, axis=0).max() / 2  # raw millimetres would lose half the digits
    knots = (knots_mm(marks_mm) - middle[1]) / scale if corrects == "strips" else np.zeros(0)
    design = rows(corrects, (marks_mm - middle) / scale, knots).reshape(2 * len(marks_mm), -1)
    solved = np.linalg.pinv(design)
    wanted = rows(corrects, (places_mm - middle) / scale, knots)
    return (wanted @ solved).reshape(len(places_mm), 2, len(marks_mm), 2)


def rows(corrects: Corrects, points: Points, knots: Points) -> NDArray[np.float64]:
    """(n, 2, p): how each of the p parameters of a fit shifts the points, axis by axis.

    points: (n, 2), centred and scaled. knots: y of the joints, for strips alone; there
    p = 2 (K + 1), for an affine fit in each strip that is continuous at the joints has one
    common slope across the web.
    """
    x, y = points.T
    one, none = np.ones_like(x), np.zeros_like(x)
    match corrects:
        case "turn":
            across, along = [one, none, -y], [none, one, x]
        case "similarity":
            across, along = [one, none, x, -y], [none, one, y, x]
        case "affine":
            across, along = [one, x, y, *[none] * 3], [*[none] * 3, one, x, y]
        case "strips":
            each = [x, *hats(knots, y)]
            across, along = [*each, *[none] * len(each)], [*[none] * len(each), *each]
        case "none":
            across, along = [one, none], [none, one]
    return np.stack([np.column_stack(across), np.column_stack(along)], axis=1)


def parameters(corrects: Corrects, marks_mm: Points) -> int:
    """How many figures the fit takes from the marks."""
    joints = len(knots_mm(marks_mm)) if corrects == "strips" else 0
    return {"none": 2, "turn": 3, "similarity": 4, "affine": 6}.get(corrects, 2 * (joints + 1))


def hats(knots: Points, y: Points) -> list[Points]:
    """One function a knot: 1 there, 0 at the others, straight between and beyond the ends."""
    low = np.clip(np.searchsorted(knots, y, side="right") - 1, 0, len(knots) - 2)
    share = (y - knots[low]) / (knots[low + 1] - knots[low])
    return [
        np.where(low == k, 1.0 - share, 0.0) + np.where(low + 1 == k, share, 0.0)
        for k in range(len(knots))
    ]


def knots_mm(marks_mm: Points) -> Points:
    """y of the joints between strips: the middle of each pair of marks, left edge with right.

    Marks inside the film belong to no pair. With unequal numbers each mark of the poorer
    edge is paired with the nearest of the other.
    """
    left, right = (np.sort(marks_mm[rows, 1]) for rows in edge_marks(marks_mm))
    if len(left) != len(right):
        few, many = sorted((left, right), key=len)
        left, right = few, many[np.abs(many[None, :] - few[:, None]).argmin(axis=1)]
    middles = (left + right) / 2
    knots: Points = middles[np.append(True, np.diff(middles) > KNOTS_APART_MM)]
    return knots


def edge_marks(marks_mm: Points) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows of the marks along the left and along the right edge."""
    x = marks_mm[:, 0]
    band = min(EDGE_MM, np.ptp(x) / 3)
    return np.flatnonzero(x <= x.min() + band), np.flatnonzero(x >= x.max() - band)
