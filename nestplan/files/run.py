"""Everything the files say, in one object: what `plan` hands to the writers."""

from dataclasses import dataclass

from nestplan import figures
from nestplan.artwork import Artwork
from nestplan.clock import Times
from nestplan.cost import Estimate
from nestplan.cut import CutPlan
from nestplan.faults import Note
from nestplan.job import Job
from nestplan.marks import MarkPlan, RunErrors
from nestplan.nest import Nest
from nestplan.trade import Trade


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """A planned run. page_x0_mm: left edge of the printable width, hence of the PDF page.

    again: the plan of which spoiled copies are printed once more. overs: extra copies of each
    decal against spoilage, counted in the nest.
    """

    job: Job
    seed: int
    steps: int
    workers: int
    artwork: Artwork
    nest: Nest
    marks: MarkPlan
    errors: RunErrors
    cut: CutPlan
    times: Times
    estimate: Estimate
    breaches: tuple[Note, ...] = ()  # rules of the print's standard that the art breaks
    notes: tuple[Note, ...]  # of every room, in the order of the flow
    page_x0_mm: float
    page_width_mm: float
    version: str
    again: str | None = None
    overs: tuple[int, ...] = ()
    trade: Trade | None = None  # where the job has an aim


def bound_said(run: Run) -> str:
    """How far the nest is from the best possible."""
    narrow = run.job.print_width_mm is not None
    return figures.bound_words(run.nest.length_mm, run.nest.bound_mm, narrow=narrow)
