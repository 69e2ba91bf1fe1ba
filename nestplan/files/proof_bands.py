"""Where the film may be cut straight across between a band and what lies beside it."""

from nestplan.files.run import Run
from nestplan.marks import Frame
from nestplan.nest.placements import boxes_mm


def band_edges_mm(run: Run, frame: Frame) -> list[float]:
    """y of each such cut in a frame, run coordinates, midway between the nearest contours.

    Bands are the copies of decals that are kept together; an end of the frame is no cut.
    """
    kept = [index for index, decal in enumerate(run.artwork.decals) if decal.keep_together]
    if not kept:
        return []
    strip = run.nest.strips[frame.index - 1]
    _, low, _, high = boxes_mm(run.nest.task, strip.placements).T
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
