"""What even shrinkage of the film leaves at a frame's corners after the cutter's own fit."""

from math import hypot

from nestplan.job import Job


def left_at_corner_mm(
    corrects: str, *, along: float, across: float, width_mm: float, length_mm: float
) -> float:
    """Greatest misfit in mm at four corner marks W x L for shrinkage along and across (shares).

    none and turn take up no stretch; a similarity takes up the mean and leaves
    |along - across| W L / (2 sqrt(W^2 + L^2)); affine and strips take up all.
    source: ours, from the least-squares similarity of four corners.
    """
    if corrects in ("affine", "strips"):
        return 0.0
    if corrects == "similarity":
        return abs(along - across) * width_mm * length_mm / (2 * hypot(width_mm, length_mm))
    return hypot(across * width_mm, along * length_mm) / (2 if corrects == "turn" else 1)


def shrinkage_left_mm(job: Job, *, width_mm: float, length_mm: float) -> float:
    """The same for a job's roll and cutter."""
    return left_at_corner_mm(
        job.cutter.corrects,
        along=job.roll.shrink_along_percent / 100,
        across=job.roll.shrink_across_percent / 100,
        width_mm=width_mm,
        length_mm=length_mm,
    )
