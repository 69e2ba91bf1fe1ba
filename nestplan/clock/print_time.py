"""How long a print takes: stroke by stroke of the carriage, band by band of the film."""

from math import ceil

from nestplan.job import Job, PrintMode, white_order
from nestplan.marks import needs_white

SAME_BAND = 1e-9  # of a band: what floats lose must not cost a stroke


def job_print_s(
    job: Job, mode: PrintMode, *, width_mm: float, lengths_mm: tuple[float, ...]
) -> float:
    """Time to print a job's frames in a mode, with the white that its film and decals ask for."""
    white, twice = white_of_job(job)
    return print_s(mode, width_mm=width_mm, lengths_mm=lengths_mm, white=white, twice=twice)


def white_of_job(job: Job) -> tuple[bool, bool]:
    """Whether white is printed, and whether the other inks go down twice, round it."""
    order = white_order(job.order)
    return needs_white(job.roll) or order != "none", order == "between"


def passes_of(mode: PrintMode, *, white: bool, twice: bool) -> int:
    """Passes over each place, those of white counted in."""
    return (2 if twice else 1) * mode.passes + (mode.white_passes if white else 0)


def print_s(
    mode: PrintMode,
    *,
    width_mm: float,
    lengths_mm: tuple[float, ...],
    white: bool = False,
    twice: bool = False,
) -> float:
    """Time to print frames of these lengths on a page of this width, seconds.

    The film moves on by swath / passes after each stroke. Bands lie over one another, so
    that every place is passed over `passes` times, the two ends of a frame too: that takes
    passes - 1 strokes more than the length alone. A stroke crosses the whole page, for
    marks and scale bars stand at both its edges, and the overscan on both sides. A mode of
    one direction comes back empty at the same speed. Warm-up is paid once a run; feeding
    film over lead, gaps and tail is not counted. With white the mode's `white_passes` are
    passed over each place as well, at the same swath, so the film moves on by less; twice: the
    other inks lie below and above it, which takes their passes twice.

    width_mm: printable width, > 0. source: ours, from how the machine moves; one stroke is
    elementary.
    """
    mode = mode.model_copy(update={"passes": passes_of(mode, white=white, twice=twice)})
    stroke_s = (width_mm + 2 * mode.overscan_mm) / mode.carriage_mm_s + mode.turnaround_s
    strokes = sum(strokes_over(mode, length_mm) for length_mm in lengths_mm)
    back_and_forth = 2 if mode.directions == 1 else 1
    return mode.warm_up_s + strokes * back_and_forth * stroke_s


def strokes_over(mode: PrintMode, length_mm: float) -> int:
    """Printing strokes over one frame."""
    band_mm = mode.swath_mm / mode.passes
    return ceil(length_mm / band_mm - SAME_BAND) + mode.passes - 1
