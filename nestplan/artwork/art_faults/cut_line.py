"""What is wrong with a cut line as it was drawn, though it could be mended."""

import numpy as np
import shapely
from scipy.spatial import cKDTree

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import Subject
from nestplan.artwork.rings import JOIN_MM, Trail, same_line
from nestplan.figures import fixed

SEEN_MM = 0.005  # smaller gaps are what numbers are rounded to
CIRCLE_MM = 3.0


def doubled_lines(subject: Subject) -> list[ArtFault]:
    """Closed lines that lie on another one: a knife would cut twice."""
    kept: list[shapely.LinearRing] = []
    found = []
    for trail in subject.drawn:
        if len(trail.points) < 3 or not _is_closed(trail):
            continue
        line = shapely.LinearRing(trail.points)
        if any(same_line(line, other) for other in kept):
            text = "this cut line lies on another one: the two are cut once; delete one of them"
            found.append(_fault(subject, trail, text, "doubled"))
        else:
            kept.append(line)
    return found


def joined_gaps(subject: Subject) -> list[ArtFault]:
    """Open lines whose ends nearly meet, the widest gap first."""
    loose = [trail for trail in subject.drawn if not trail.closed and len(trail.points) > 1]
    if not loose:
        return []
    ends = np.array([trail.points[k] for trail in loose for k in (0, -1)])
    gaps = cKDTree(ends).query(ends, k=2)[0][:, 1]
    found = []
    seen = np.zeros(len(ends), dtype=bool)
    for k in np.argsort(-gaps, kind="stable").tolist():
        if not SEEN_MM < gaps[k] <= JOIN_MM or seen[k]:
            continue
        seen |= np.hypot(*(ends - ends[k]).T) <= JOIN_MM
        text = (
            f"the cut line is open by {fixed(float(gaps[k]), 3)} mm here; the gap is closed for "
            "you: close the path in the drawing"
        )
        found.append(_fault(subject, loose[k // 2], text, "joined", k % 2))
    return found


def _is_closed(trail: Trail) -> bool:
    return trail.closed or float(np.hypot(*(trail.points[0] - trail.points[-1]))) <= JOIN_MM


def _fault(subject: Subject, trail: Trail, text: str, kind: str, end: int = 0) -> ArtFault:
    x, y = trail.points[-1 if end else 0].tolist()
    return ArtFault(
        kind="doubled" if kind == "doubled" else "joined",
        level="look" if kind == "doubled" else "know",
        where=trail.where,
        text=text,
        x_mm=x,
        y_mm=y,
        size_mm=CIRCLE_MM,
    )
