"""The whole run on one screen: every room is called here, in order, and nowhere else."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from nestplan import __version__
from nestplan.artwork import Artwork, load_artwork
from nestplan.clock import Times, time_run
from nestplan.cost import (
    Overs,
    Piece,
    Taken,
    account_of,
    estimate,
    overs_for,
    overs_notes,
    pieces_of,
    spoilage_for,
    with_overs,
)
from nestplan.cut import cut_notes, knife_of, plan_cut, proof_within, wishes_of
from nestplan.faults import Note
from nestplan.figures import count
from nestplan.files import Run, breaches, press_notes
from nestplan.job import Aim, Job, PrintMode, read_job, white_order
from nestplan.marks import (
    Lanes,
    MarkPlan,
    cure_notes,
    ends_most_mm,
    error_model,
    error_notes,
    fill_last_frame,
    missing_film,
    place_marks,
    predict,
    since_former_notes,
    strip_range_mm,
    web_of,
    white_notes,
)
from nestplan.nest import Budget, Missing, Nest, Obstacle, Watch, never, unwatched
from nestplan.nest.nest_run import nest_run
from nestplan.nest.nested import with_numbers
from nestplan.nest.remnant import obstacles_of
from nestplan.plan_aim import Planner, plan_aimed
from nestplan.stock import FromStock, film_from_stock, on_piece, piece_note, shortest, with_laminate
from nestplan.stock.book import um_of_mm

STEPS = 24_000  # the demo jobs take well under a minute on two cores; twice as many prove more
TRIAL_SHARE = 8  # of the steps, to find out which lanes marks need
SCREEN_SHARE = 60  # of the steps, to find out which widths are worth a plan
WORKERS = 2  # part of the result's identity, so never taken from the machine


def plan_job(
    path: Path,
    *,
    seed: int = 1,
    steps: int = STEPS,
    aim: Aim | None = None,
    place: str | None = None,
    stopped: Callable[[], bool] = never,
    watch: Watch = unwatched,
    prove: bool = True,
) -> Run:
    """Plan the job file's run. Reads job, shop, stock and artwork; writes nothing.

    aim: taken in place of the job's own.
    place: the folder the plan goes to, as the stock knows it: film reserved for it is free.
    stopped: asked often; once True the search ends and the plan is finished with the best
    so far. prove: work out the least travel too, which takes seconds and changes nothing else.
    raises: Fault or Faults for everything a person can mend.
    """
    job = read_job(path, aim=aim)
    artwork = load_artwork(job)
    budget = Budget(steps=steps, seed=seed, workers=WORKERS, stopped=stopped)
    return plan_from_stock(job, artwork, budget, film_from_stock(job, place), watch, prove=prove)


def plan_from_stock(
    job: Job,
    artwork: Artwork,
    budget: Budget,
    stock: FromStock | None,
    watch: Watch = unwatched,
    *,
    prove: bool = True,
) -> Run:
    """Plan a run on the shortest piece of the stock that holds it; with none as `plan_run`.

    Where every piece has spoiled film in the way, frames are moved past it, on the longest.
    """
    if stock is None:
        return plan_run(job, artwork, budget, watch, prove=prove)
    piece = stock.longest
    run = plan_run(on_piece(job, piece, spoilt=False), artwork, budget, watch, prove=prove)
    used = um_of_mm(run.marks.length_used_mm)
    frames = [(um_of_mm(f.y0_mm), um_of_mm(f.y0_mm + f.length_mm)) for f in run.marks.frames]
    holds = shortest(stock.pieces, used, frames)
    if holds is None:
        run = plan_run(on_piece(job, piece), artwork, budget, watch, prove=prove)
        used = um_of_mm(run.marks.length_used_mm)
    else:
        piece = holds
    here = with_laminate(on_piece(run.job, piece), stock, used)
    return replace(run, job=here, notes=(*run.notes, piece_note(stock, piece)))


def plan_run(
    job: Job, artwork: Artwork, budget: Budget, watch: Watch = unwatched, *, prove: bool = True
) -> Run:
    """Plan a run from a checked job and its decals, the best of several where it has an aim."""
    if job.order.aim is None:
        return plan_at(job, artwork, budget, watch, prove=prove)
    planner = Planner(
        nest=lambda one: short_nest(one, artwork, budget),
        plan=lambda one: plan_at(one, artwork, budget, watch, prove=prove),
        in_mode=in_mode,
        takes=takes,
        stopped=budget.stopped,
    )
    return plan_aimed(job, job.order.aim, planner)


def plan_at(
    job: Job, artwork: Artwork, budget: Budget, watch: Watch = unwatched, *, prove: bool = True
) -> Run:
    """Plan a run as wide as the job has it, in its print mode."""
    nest, marks, notes, overs = _with_overs(job, artwork, budget, watch)
    nest, marks, more = _fill(job, artwork, nest, marks, budget)
    more += overs_notes(job, artwork, overs)
    limit = job.order.chance_limit
    errors = predict(error_model(job), artwork.decals, nest, marks.frames, limit)
    told = white_notes(job) + error_notes(job, artwork.decals, errors)
    told += cure_notes(job, artwork.decals, nest, marks.frames, errors)
    broken = breaches(job, artwork.decals)
    told += [*broken, *press_notes(job, marks.frames)]
    missing = _missing(job, artwork, Lanes())
    wishes = wishes_of(job, None if missing is None else missing.area)
    cut = plan_cut(
        artwork.decals,
        nest,
        marks,
        knife_of(job),
        wishes,
        proof=proof_within(budget.steps / STEPS, budget.stopped) if prove else None,
    )
    told += cut_notes(artwork.decals, cut)
    left_mm, right_mm = web_of(job).printable_mm
    times = time_run(job, marks, cut, right_mm - left_mm)
    account = account_of(job, taken(job, artwork, nest, marks, times, measured(job, artwork)))
    return Run(
        job=job,
        seed=budget.seed,
        steps=budget.steps,
        workers=budget.workers,
        artwork=artwork,
        nest=nest,
        marks=marks,
        errors=errors,
        cut=cut,
        times=times,
        breaches=broken,
        estimate=estimate(account),
        overs=overs.extra,
        notes=(*artwork.notes, *nest.notes, *marks.notes, *notes, *more, *told),
        page_x0_mm=left_mm,
        page_width_mm=right_mm - left_mm,
        version=__version__,
    )


def _with_overs(
    job: Job, artwork: Artwork, budget: Budget, watch: Watch
) -> tuple[Nest, MarkPlan, list[Note], Overs]:
    """The layout with extra copies against spoilage; more frames are lost more often."""
    frames, seen = 1, set()
    while True:
        overs = overs_for(job, artwork, frames)
        nest, marks, notes = lay_out(job, with_overs(artwork, overs), budget, watch)
        found = len(nest.strips)
        if found <= frames or spoilage_for(job).frame == 0 or found in seen:
            return nest, marks, notes, overs
        seen.add(frames)
        frames = found


def measured(job: Job, artwork: Artwork) -> tuple[Piece, ...]:
    """What one copy of each decal takes."""
    return pieces_of(
        artwork.decals,
        twice=white_order(job.order) == "between",
        tape_beyond_mm=job.shop.cost.tape_beyond_mm,
    )


def taken(
    job: Job,
    artwork: Artwork,
    nest: Nest,
    marks: MarkPlan,
    times: Times,
    pieces: tuple[Piece, ...],
) -> Taken:
    """What a planned run takes of film, ink and time."""
    return Taken(
        pieces=pieces,
        ordered=tuple(decal.quantity for decal in artwork.decals),
        planned=nest.planned,
        film_mm=marks.length_used_mm,
        times=times.setups[0],
        parcels=len({decal.recipient for decal in artwork.decals}),
    )


def takes(run: Run) -> Taken:
    """What a planned run takes of film, ink and time."""
    pieces = measured(run.job, run.artwork)
    return taken(run.job, run.artwork, run.nest, run.marks, run.times, pieces)


def in_mode(run: Run, mode: PrintMode) -> Run:
    """The same run printed in another mode: nothing but times and cost depends on it."""
    if mode == run.job.mode:
        return run
    job = replace(run.job, modes=(mode,))
    times = time_run(job, run.marks, run.cut, run.page_width_mm)
    run = replace(run, job=job, times=times)
    return replace(run, estimate=estimate(account_of(job, takes(run))))


def short_nest(job: Job, artwork: Artwork, budget: Budget) -> Nest:
    """A nest by a short search, with lanes left along both edges: how good a width may be."""
    short = replace(budget, steps=max(1, budget.steps // SCREEN_SHARE))
    return nest_within(job, artwork, Lanes(left=True, right=True), short, unwatched)


def lay_out(
    job: Job, artwork: Artwork, budget: Budget, watch: Watch
) -> tuple[Nest, MarkPlan, list[Note]]:
    """Nest and marks together: where marks find no place, the nest leaves lanes for them.

    A short search finds out which lanes are needed and what they cost; the whole budget
    then goes into the nest that is kept.
    """
    trial = replace(budget, steps=max(1, budget.steps // TRIAL_SHARE))
    lanes, lengths_mm = Lanes(), []
    while True:
        nest = nest_within(job, artwork, lanes, trial, watch)
        lengths_mm.append(nest.length_mm)
        placed = marks_round(job, artwork, nest, lanes)
        if isinstance(placed, MarkPlan):
            break
        lanes = placed
    while True:
        nest = nest_within(job, artwork, lanes, budget, watch)
        placed = marks_round(job, artwork, nest, lanes)
        if isinstance(placed, MarkPlan):
            notes = _lane_notes(job, lanes, lengths_mm[-1] - lengths_mm[0])
            if job.former is not None and nest.carried is not None:
                notes += since_former_notes(job.former, placed.frames)
            return nest, placed, notes + _band_notes(job, artwork, lanes, trial)
        lanes = placed
        lengths_mm.append(nest.length_mm)


def nest_within(job: Job, artwork: Artwork, lanes: Lanes, budget: Budget, watch: Watch) -> Nest:
    """Nest all copies on the film that these lanes leave."""
    web, sensor = web_of(job), job.cutter.sensor
    assert sensor is not None, "the job room refuses a cutter without a sensor"
    bleed_mm = max(decal.beyond_mm for decal in artwork.decals)
    nest = nest_run(
        artwork.decals,
        gutter_mm=job.order.gutter_mm,
        printable_mm=web.printable_mm,
        cuttable_mm=web.cuttable_mm,
        strip_mm=strip_range_mm(job, web, lanes),
        length_most_mm=job.frame_most_mm - ends_most_mm(sensor, bleed_mm),
        roll=job.roll.name,
        may_turn=not job.roll.directional,
        job=job.order.name,
        former=job.former,
        missing=_missing(job, artwork, lanes),
        budget=budget,
        watch=watch,
    )
    return with_numbers(nest, tuple(decal.numbers for decal in artwork.decals))


def marks_round(
    job: Job, artwork: Artwork, nest: Nest, lanes: Lanes, *, rough: bool = False
) -> MarkPlan | Lanes:
    """Marks round the nest where the film is, or the lanes that they need."""
    missing = _missing(job, artwork, lanes)
    if missing is not None:
        assert nest.start_mm is not None, "a nest on a remnant says where it starts"
        missing = replace(missing, start_mm=nest.start_mm)
    return place_marks(job, artwork.decals, nest, lanes, missing, rough=rough)


def _missing(job: Job, artwork: Artwork, lanes: Lanes) -> Missing | None:
    """Film that is not there, where the run starts on a remnant that lacks some."""
    if artwork.remnant is None:
        return None
    gone = artwork.remnant.missing(job.roll.width_mm)
    if gone.is_empty:
        return None
    return missing_film(job, gone, lanes, max(decal.beyond_mm for decal in artwork.decals))


def _fill(
    job: Job, artwork: Artwork, nest: Nest, marks: MarkPlan, budget: Budget
) -> tuple[Nest, MarkPlan, list[Note]]:
    """Extra copies in the last frame, off the film that lacks where it is the first one too."""
    missing, frame = _missing(job, artwork, Lanes()), marks.frames[0]
    gone: tuple[Obstacle, ...] = ()
    if missing is not None and len(marks.frames) == 1:
        missing = replace(missing, start_mm=frame.strip_y0_mm)
        gone = obstacles_of(missing, nest.task.width_mm, nest.x0_mm)
    return fill_last_frame(job, artwork.decals, nest, marks, gone, budget)


def _lane_notes(job: Job, lanes: Lanes, longer_mm: float) -> list[Note]:
    """What the lanes cost, in millimetres of film."""
    if not lanes.any:
        return []
    if lanes.left and lanes.right:
        kept = "lanes along both edges are kept free for marks and scale bars"
    elif lanes.left or lanes.right:
        side = "left" if lanes.left else "right"
        kept = f"a lane along the {side} edge is kept free for marks and a scale bar"
    else:
        kept = "a slim lane along the right edge is kept free for the long scale bar"
    left_mm, right_mm = strip_range_mm(job, web_of(job), lanes)
    cost = f"{longer_mm:.1f} mm of film" if longer_mm > 0 else "no film"
    text = (
        f"{kept}, {right_mm - left_mm:.1f} mm are left to nest in: this costs {cost} by a short "
        "search"
    )
    return [Note(level="know", where="marks", text=text)]


def _band_notes(job: Job, artwork: Artwork, lanes: Lanes, trial: Budget) -> list[Note]:
    """What keeping decals together costs, in millimetres of film, by short searches."""
    kept = [decal.name for decal in artwork.decals if decal.keep_together]
    if not kept or len(artwork.decals) == 1:
        return []
    free = replace(
        artwork, decals=tuple(replace(decal, keep_together=False) for decal in artwork.decals)
    )
    longer_mm, frames = 0.0, 0
    for sign, asked in ((1, artwork), (-1, free)):
        nest = nest_within(job, asked, lanes, trial, unwatched)
        longer_mm += sign * nest.length_mm
        frames += sign * len(nest.strips)
    cost = f"{longer_mm:.1f} mm of film" if longer_mm > 0.05 else "no film"
    more = f" and {count(frames, 'frame')} more" if frames > 0 else ""
    text = f"a band each for {', '.join(kept)}: this costs {cost}{more} by a short search"
    return [Note(level="know", where="keep_together", text=text)]


def with_quantities(job: Job, artwork: Artwork, copies: int | Sequence[int]) -> tuple[Job, Artwork]:
    """The same job with other quantities: one for all decals, or one for each."""
    each = [copies] * len(artwork.decals) if isinstance(copies, int) else list(copies)
    decals = tuple(
        replace(decal, quantity=number, rows=())
        for decal, number in zip(artwork.decals, each, strict=True)
    )
    rows = [
        order.model_copy(update={"quantity": number})
        for order, number in zip(job.order.decal, each, strict=True)
    ]
    order = job.order.model_copy(update={"decal": rows})
    return replace(job, order=order), replace(artwork, decals=decals)
