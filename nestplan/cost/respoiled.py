"""What a run would take if more or fewer copies were spoiled, without another nest.

Film and machine hours are taken in proportion to the area of all copies, which a nest of its own
would give nearly but not exactly.
"""

from dataclasses import replace
from decimal import Decimal

from nestplan.artwork import Artwork
from nestplan.cost.lines import Taken
from nestplan.cost.money import exact
from nestplan.cost.overs_of import overs_for
from nestplan.cost.piece import TIME_PLACES
from nestplan.job import Job


def respoiled(job: Job, changed: Job, artwork: Artwork, taken: Taken, frames: int) -> Taken:
    """With the overs that the changed job asks for. frames: how many the run is divided into."""
    now, then = (overs_for(each, artwork, frames).extra for each in (job, changed))
    planned = tuple(
        n + after - before for n, before, after in zip(taken.planned, now, then, strict=True)
    )
    areas = [piece.taken_mm2 for piece in taken.pieces]
    new, old = (
        sum((n * area for n, area in zip(copies, areas, strict=True)), Decimal(0))
        for copies in (planned, taken.planned)
    )

    def grown(amount: float) -> float:
        return float(exact(amount, TIME_PLACES) * new / old)

    times = taken.times
    longer = replace(
        times,
        print_s=grown(times.print_s),
        laminate_s=grown(times.laminate_s),
        cut_s=grown(times.cut_s),
    )
    return replace(taken, planned=planned, film_mm=grown(taken.film_mm), times=longer)
