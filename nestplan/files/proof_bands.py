"""Where the film may be cut straight across between a band and what lies beside it."""

import numpy as np

from nestplan.files.run import Run
from nestplan.marks import Frame
from nestplan.nest import placed


def band_edges_mm(run: Run, frame: Frame) -> list[float]:
    """y of each such cut in a frame, run coordinates, midway between the nearest contours.

    Bands are the copies of decals that are kept together; an end of the frame is no cut.
    """
    kept = [index for index, decal in enumerate(run.artwork.decals) if decal.keep_together]
    if not kept:
        return []
    strip = run.nest.strips[frame.index - 1]
    rows = zip(
        strip.placements.shape.tolist(),
        strip.placements.centre_mm,
        strip.placements.angle_deg.tolist(),
        strict=True,
    )
    boxes = [
        placed(run.artwork.decals[decal].contour, centre, angle).bounds_mm
        for decal, centre, angle in rows
    ]
    low, high = np.array(boxes)[:, 1], np.array(boxes)[:, 3]
    edges = set()
    for decal in kept:
        own = strip.placements.shape == decal
        if not own.any() or own.all():
            continue
        bottom, top = low[own].min(), high[own].max()
        below, above = high[~own & (high <= bottom)], low[~own & (low >= top)]
        if len(below):
            edges.add(float(below.max() + bottom) / 2)
        if len(above):
            edges.add(float(above.min() + top) / 2)
    return [frame.strip_y0_mm + y for y in sorted(edges)]
