"""Prices of a job: a quick nest at each quantity, its overs, its account, its price."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import shapely

from nestplan.artwork import Artwork, load_artwork
from nestplan.clock import SetupTimes, time_own
from nestplan.cost import (
    Overs,
    Piece,
    Price,
    Taken,
    account_of,
    overs_for,
    overs_notes,
    price_of,
    spoilage_for,
    with_overs,
)
from nestplan.cut import knife_of, plan_cut, wishes_of
from nestplan.faults import Note
from nestplan.job import Job, read_job
from nestplan.marks import Lanes, MarkPlan, fill_last_frame, web_of
from nestplan.nest import Budget, Nest, Watch, never, unwatched
from nestplan.plan import WORKERS, marks_round, measured, nest_within, with_quantities
from nestplan.stock import film_at_hand
from nestplan.stock.history import Stage

PRICE_STEPS = 2_600
SAME_FILM_MM = 1e-3
MORE_MOST = 4096  # copies


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How each nest is searched for. fuller: whether more copies for the same film are looked for;
    filling a mix of decals takes seconds."""

    seed: int = 1
    steps: int = PRICE_STEPS
    stopped: Callable[[], bool] = never
    watch: Watch = unwatched
    fuller: bool = True

    @property
    def budget(self) -> Budget:
        """Of one nest."""
        return Budget(
            steps=self.steps, seed=self.seed, workers=WORKERS, stopped=self.stopped, haste=True
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuller:
    """More copies for which the run needs no more film. name: of the decal, or None for each."""

    name: str | None
    more: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Priced:
    """A job at one quantity: nest, times and price. overs: chances and extra copies.

    taken: what the price was made of, so that other rates can be priced without another nest.
    """

    job: Job
    artwork: Artwork
    nest: Nest
    marks: MarkPlan
    times: SetupTimes
    overs: Overs
    taken: Taken
    price: Price
    notes: tuple[Note, ...]
    fuller: Fuller | None = None

    @property
    def waste_percent(self) -> float:
        """Film that is not under a decal that was ordered, bleed counted as decal."""
        film_mm2 = self.marks.length_used_mm * self.job.roll.width_mm
        good = (d.quantity * float(shapely.area(d.taken)) for d in self.artwork.decals)
        return 100 - 100 * sum(good) / film_mm2

    @property
    def busy_s(self) -> float:
        """Hands and machines, added up; waits are not counted."""
        hours = (line.amount for line in self.price.account.lines if line.unit == "h")
        return float(sum(hours)) * 3600

    @property
    def copies(self) -> int:
        """Ordered, of all decals."""
        return sum(decal.quantity for decal in self.artwork.decals)


def price_job(path: Path, quantities: Sequence[int], search: Search) -> tuple[Priced, ...]:
    """The job at each number of copies a decal; none means as ordered. raises: Fault(s)."""
    return price_read(read_job(path), quantities, search)


def price_read(job: Job, quantities: Sequence[int], search: Search) -> tuple[Priced, ...]:
    """As `price_job`, of a job that was read."""
    job = film_at_hand(job)
    artwork = load_artwork(job)
    pieces = measured(job, artwork)
    several = len(quantities) > 1 and len(artwork.decals) > 1
    search = replace(search, fuller=search.fuller and not several)
    asked = [with_quantities(job, artwork, number) for number in quantities] or [(job, artwork)]
    return tuple(price_run(*each, pieces, search) for each in asked)


def price_run(job: Job, artwork: Artwork, pieces: tuple[Piece, ...], search: Search) -> Priced:
    """A quick plan of the run with its overs, and what it costs."""
    lost = spoilage_for(job).frame
    ordered = tuple(decal.quantity for decal in artwork.decals)
    frames, seen = 1, set()
    while True:
        overs = overs_for(job, artwork, frames)
        nest, marks, lanes = lay_out_in_haste(job, with_overs(artwork, overs), search)
        found = len(nest.strips)
        if found <= frames or lost == 0 or found in seen:
            break
        seen.add(frames)
        frames = found
    fuller = fuller_at(job, artwork, nest, marks, lanes, search) if search.fuller else None
    cut = plan_cut(artwork.decals, nest, marks, knife_of(job), wishes_of(job), rough=True)
    left_mm, right_mm = web_of(job).printable_mm
    times = time_own(job, marks, cut, right_mm - left_mm)
    taken = Taken(
        pieces=pieces,
        ordered=ordered,
        planned=nest.planned,
        film_mm=marks.length_used_mm,
        times=times,
        parcels=len({decal.recipient for decal in artwork.decals}),
    )
    return Priced(
        job=job,
        artwork=artwork,
        nest=nest,
        marks=marks,
        times=times,
        overs=overs,
        taken=taken,
        price=price_of(job, account_of(job, taken)),
        notes=(*artwork.notes, *nest.notes, *marks.notes, *overs_notes(job, artwork, overs)),
        fuller=fuller,
    )


def amounts_of(priced: Priced) -> dict[Stage, float]:
    """What the run is expected to take, stage by stage: film in mm, times in seconds."""
    times = priced.times
    return {
        "film": priced.marks.length_used_mm,
        "print": times.print_s,
        "laminate": times.laminate_s,
        "cut": times.cut_s,
        "run": times.one_run_s,
    }


def lay_out_in_haste(job: Job, artwork: Artwork, search: Search) -> tuple[Nest, MarkPlan, Lanes]:
    """Nest and evenly spaced marks; once more with the lanes that marks ask for."""
    lanes = Lanes()
    while True:
        nest = nest_within(job, artwork, lanes, search.budget, search.watch)
        placed = marks_round(job, artwork, nest, lanes, rough=True)
        if isinstance(placed, MarkPlan):
            return nest, placed, lanes
        lanes = placed


def fuller_at(
    job: Job,
    artwork: Artwork,
    nest: Nest,
    marks: MarkPlan,
    lanes: Lanes,
    search: Search,
) -> Fuller | None:
    """More copies that the same film holds; None where none were found.

    One decal is nested again with more copies; of several, the smallest fills the last frame.
    """
    if any(decal.rows for decal in artwork.decals):
        return None
    if len(artwork.decals) == 1:
        more = _more_of_one(job, artwork, nest, lanes, search)
        if not more:
            return None
        n = artwork.decals[0].quantity
        words = f"{n + more} cost no more film than {n}"
        return Fuller(name=artwork.decals[0].name, more=more, words=words)
    least = min(artwork.decals, key=lambda decal: decal.footprint.area_mm2)
    order = job.order.model_copy(update={"fill_with": least.name})
    filling = replace(job, order=order)
    full, _, _ = fill_last_frame(filling, artwork.decals, nest, marks, (), search.budget)
    more = sum(full.planned) - sum(nest.planned)
    if not more:
        return None
    copies = sum(decal.quantity for decal in artwork.decals)
    words = f"{copies + more}, {more} more of {least.name}, cost no more film than {copies}"
    return Fuller(name=least.name, more=more, words=words)


def _more_of_one(job: Job, artwork: Artwork, nest: Nest, lanes: Lanes, search: Search) -> int:
    """How many more ordered copies the same film holds, with their overs."""
    laid, ordered = sum(nest.planned), artwork.decals[0].quantity

    def holds(extra: int) -> bool:
        decals = (replace(artwork.decals[0], quantity=laid + extra),)
        found = nest_within(job, replace(artwork, decals=decals), lanes, search.budget, unwatched)
        longest_mm = nest.length_mm + SAME_FILM_MM
        return len(found.strips) <= len(nest.strips) and found.length_mm <= longest_mm

    low, high = 0, 1
    while high <= MORE_MOST and holds(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    for more in range(low, 0, -1):
        decals = (replace(artwork.decals[0], quantity=ordered + more),)
        asked = overs_for(job, replace(artwork, decals=decals), len(nest.strips))
        if ordered + more + asked.extra[0] <= laid + low:
            return more
    return 0
