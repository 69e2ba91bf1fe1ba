"""One way to do the run: how wide it is printed, in which mode, and what that takes."""

from dataclasses import dataclass
from decimal import Decimal

from nestplan.clock import Times
from nestplan.cost import Estimate
from nestplan.job import Aim, Job
from nestplan.marks import MarkPlan, web_of

MEASURES: dict[Aim, str] = {"film": "film_mm", "time": "run_s", "money": "total"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """What a planned run takes. run_s: door to door on the job's own setup."""

    width_mm: float
    mode: str
    resolution_dpi: float
    frames: int
    film_mm: float
    print_s: float
    cut_s: float
    run_s: float
    total: Decimal

    def taken(self, aim: Aim) -> float | Decimal:
        """What it takes of what the plan aims at."""
        taken: float | Decimal = getattr(self, MEASURES[aim])
        return taken

    def beaten_by(self, other: "Option") -> bool:
        """Whether the other prints as finely, takes no more of anything, and less of something."""
        pairs = (
            (other.film_mm, self.film_mm),
            (other.run_s, self.run_s),
            (float(other.total), float(self.total)),
            (self.resolution_dpi, other.resolution_dpi),
        )
        return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)


def option_of(job: Job, marks: MarkPlan, times: Times, estimate: Estimate) -> Option:
    """What a run planned for the job takes in the job's print mode."""
    left, right = web_of(job).printable_mm
    return Option(
        width_mm=right - left,
        mode=job.mode.name,
        resolution_dpi=job.mode.resolution_dpi,
        frames=len(marks.frames),
        film_mm=marks.length_used_mm,
        print_s=times.print_s,
        cut_s=times.cut_s,
        run_s=times.setups[0].one_run_s,
        total=estimate.total,
    )
