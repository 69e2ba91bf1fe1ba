"""How long a run takes, for each setup of the shop."""

from dataclasses import dataclass

from nestplan.clock.profile import CutProfile, PrintProfile
from nestplan.job import Task


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupTimes:
    """One run on one setup.

    one_run_s is door to door: print, handling, lag, laminating and cut one after the other.
    runs_per_shift counts equal runs that are done within a shift which begins with empty
    machines and with as much dried film as it leaves to the next: on a pair the next print
    overlaps with the cut, on a combined device nothing overlaps. half_s: the 90 % interval of
    one_run_s reaches so far to each side; None where no spread of its machines is known.
    hands_s: handling_s by stage.
    """

    name: str
    print_s: float
    handling_s: float
    lag_s: float
    cut_s: float
    one_run_s: float
    runs_per_shift: int
    laminate_s: float = 0.0
    half_s: float | None = None
    hands_s: tuple[tuple[Task, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """The job's own setup first, then what the others would take.

    printing, cutting: what the job's own setup is asked, apart from its speeds.
    without: setups that cannot do this run, each with the reason.
    """

    print_s: float
    print_mode: str
    cut_s: float
    setups: tuple[SetupTimes, ...]
    printing: PrintProfile | None = None
    cutting: CutProfile | None = None
    without: tuple[tuple[str, str], ...] = ()
