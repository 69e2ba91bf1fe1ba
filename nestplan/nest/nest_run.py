"""The whole nest of a run: task, frames, bound, notes."""

from dataclasses import replace

from nestplan.artwork import Decal
from nestplan.faults import Note
from nestplan.job import Former
from nestplan.nest.ask import distance_notes, refuse_what_cannot_fit, task_of, turning_notes
from nestplan.nest.bound import lower_bound
from nestplan.nest.carry import beside_anew, carried_notes, carry_over
from nestplan.nest.divide import nest_in_frames
from nestplan.nest.engine import Budget, Watch, unwatched
from nestplan.nest.missing import Missing
from nestplan.nest.nested import Nest
from nestplan.nest.remnant import nest_on_remnant
from nestplan.nest.together import nest_in_bands
from nestplan.nest.upright import laid_best


def nest_run(
    decals: tuple[Decal, ...],
    *,
    gutter_mm: float,
    printable_mm: tuple[float, float],
    cuttable_mm: tuple[float, float],
    strip_mm: tuple[float, float],
    length_most_mm: float,
    roll: str,
    may_turn: bool,
    job: str,
    former: Former | None,
    missing: Missing | None,
    budget: Budget,
    watch: Watch = unwatched,
) -> Nest:
    """Nest all copies between strip_mm[0] and strip_mm[1], in frames of at most length_most_mm.

    The bound is for the whole printable width: lanes kept free for marks are a choice, and
    no choice of theirs could make the nest shorter than the bound.
    former: a plan to change as little as possible. job: the name of the job that is planned.
    missing: film that is not there where the run starts.
    raises: Fault(s) for decals that fit neither the film nor a frame.
    """
    task = task_of(
        decals,
        gutter_mm=gutter_mm,
        strip_mm=strip_mm,
        cuttable_mm=cuttable_mm,
        may_turn=may_turn,
    )
    refuse_what_cannot_fit(task, length_most_mm=length_most_mm, roll=roll)
    together = tuple(decal.keep_together for decal in decals)
    kept = None
    if former is not None:
        kept = carry_over(
            task,
            former,
            x0_mm=strip_mm[0],
            length_most_mm=length_most_mm,
            budget=budget,
            watch=watch,
        )
    if kept is not None:
        divided = beside_anew(task, kept, length_most_mm=length_most_mm, budget=budget)
    elif any(together) and len(decals) > 1:
        divided = nest_in_bands(
            task, together, length_most_mm=length_most_mm, budget=budget, watch=watch
        )
    elif missing is not None:
        divided = nest_on_remnant(
            task,
            missing,
            x0_mm=strip_mm[0],
            length_most_mm=length_most_mm,
            budget=budget,
            watch=watch,
        )
    else:
        divided = nest_in_frames(task, length_most_mm=length_most_mm, budget=budget, watch=watch)
    wide = replace(task, width_mm=printable_mm[1] - printable_mm[0])
    bound = lower_bound(wide, frames=len(divided.strips), quick=budget.haste)
    notes = distance_notes(decals, gutter_mm)
    if former is not None:
        notes += carried_notes(former, job, divided.carried, divided.tried)
    notes += turning_notes(decals, roll=roll, may_turn=may_turn)
    for engine in divided.refused:
        text = f"a layout of the engine {engine} broke a distance and was thrown away"
        notes.append(Note(level="know", where="nest", text=text))
    return Nest(
        task=task,
        strips=divided.strips if divided.carried else laid_best(task, divided.strips),
        x0_mm=strip_mm[0],
        bound_mm=bound.length_mm,
        bound_reason=bound.reason,
        engine=divided.engine,
        tried=divided.tried,
        notes=tuple(notes),
        carried=divided.carried,
        start_mm=divided.start_mm,
    )
