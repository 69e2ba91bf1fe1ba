"""The code on a frame that tells a scan which frame of which plan it shows: ISO/IEC 18004."""

import numpy as np
import segno
import shapely

from nestplan.files.art_form import path_of
from nestplan.files.one_line import one_line
from nestplan.files.run import Run
from nestplan.geometry.outline import outline_of
from nestplan.marks import Frame
from nestplan.marks.words import CODE_MODULES, CODE_QUIET, CODE_VERSION

BYTES_MOST = 42  # of version 3 at level M: ISO/IEC 18004, table 7


def code_words(run: Run, frame: Frame, plan: str) -> str:
    """What the code says: ours, the plan's id, which frame of how many, the job's name."""
    head = f"nestplan {plan} {frame.index}/{len(run.marks.frames)} "
    name = one_line(run.job.order.name).encode()[: BYTES_MOST - len(head)]
    return head + name.decode(errors="ignore").rstrip()


def code_operators(run: Run, frame: Frame, plan: str) -> str:
    """PDF operators that fill the dark squares as one path; nothing where it has no place."""
    place = frame.slug.code_mm
    if place is None:
        return ""
    x, y, side = place
    module = side / (CODE_MODULES + 2 * CODE_QUIET)
    # the mask is fixed by the standard's own rule, so the same words give the same squares
    code = segno.make_qr(
        code_words(run, frame, plan), version=CODE_VERSION, error="m", mode="byte",
        encoding="utf-8", boost_error=False,
    )  # fmt: skip
    rows, columns = np.nonzero(np.array([list(row) for row in code.matrix]) == 1)
    left = x - run.page_x0_mm + (CODE_QUIET + columns) * module
    top = y - frame.y0_mm + side - (CODE_QUIET + rows) * module
    dark = shapely.union_all(shapely.box(left, top - module, left + module, top))
    return f"0 g\n{path_of(outline_of(dark).rings)}f*\n"
