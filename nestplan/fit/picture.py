"""Measured marks from a scan or photograph of one frame's sheet."""

import hashlib
from pathlib import Path

import numpy as np

from nestplan.fit.plan_folder import PlanFolder
from nestplan.fit.scan import marks_in_image
from nestplan.fit.seen import Measured, Seen

PICTURES = {".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp"}


def is_picture(path: Path) -> bool:
    """Whether a file's name is that of a picture."""
    return path.suffix.lower() in PICTURES


def read_picture(path: Path, plan: PlanFolder, frame: int | None) -> Measured:
    """The marks of one sheet, without numbers: the geometry will name them.

    frame: the one that was said to be seen. raises: Fault.
    """
    mark = plan.mark
    frames = [each for each in plan.frames if frame in (None, each.index)]
    seen = marks_in_image(
        path,
        shape=mark.shape,
        size_mm=mark.size_mm,
        line_mm=mark.line_mm,
        clear_mm=mark.clear_mm,
        expected_mm=[each.marks_mm for each in frames],
    )
    points, known = seen.places_mm, None
    if seen.absorbs == "perspective" and seen.layout is not None:
        known = frames[seen.layout].index  # its perspective is that frame's: no other is tried
    return Measured(
        name=path.name,
        kind="picture",
        digest=hashlib.sha256(path.read_bytes()).hexdigest(),
        upward=True,
        declared=True,
        sheets=(
            Seen(
                points_mm=points,
                frame=known,
                marks=np.zeros(len(points), dtype=np.intp),
                sd_mm=seen.sd_mm,
                hides=seen.absorbs,
                notes=seen.notes,
            ),
        ),
    )
