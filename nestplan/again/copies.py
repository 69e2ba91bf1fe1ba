"""The job cut down to the copies that are printed again: their numbers and rows stay theirs."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np
from pydantic import BaseModel

from nestplan.again.find_job import AGAIN, plain_name
from nestplan.again.printed import Copy, Printed, PrintedDecal
from nestplan.artwork import Artwork, Decal
from nestplan.faults import Fault, raise_all
from nestplan.job import Job
from nestplan.job.nearest import nearest

Model = TypeVar("Model", bound=BaseModel)

SAME_MM = 0.01
NAME_MOST = 80

Numbers = Mapping[str, tuple[int, ...]]  # copies of each decal, rising


def numbers_of(copies: Iterable[Copy]) -> dict[str, tuple[int, ...]]:
    """The copies by decal, in the order of their numbers; those nobody ordered left out."""
    found: dict[str, set[int]] = {}
    for copy in copies:
        if not copy.extra:
            found.setdefault(copy.decal, set()).add(copy.number)
    return {decal: tuple(sorted(each)) for decal, each in found.items()}


def again_order(
    job: Job, numbers: Numbers, *, piece: str | None = None, start_on: str | None = None
) -> Job:
    """The job for these copies alone, on whatever film is named for them.

    What the job says of its own run's film, of former plans and of extra copies is left out.
    raises: Faults for decals that the job has no longer.
    """
    names = [row.name for row in job.order.decal]
    raise_all([_gone(job, name, names) for name in numbers if name not in names])
    name = f"{plain_name(job.order.name)[: NAME_MOST - len(AGAIN)]}{AGAIN}"
    decals = [
        _with(
            row,
            # of rows there is a copy each: how many are printed, their numbers say
            quantity=None if row.rows is not None else len(numbers[row.name]),
            # copies nested round film that is not there cannot be brought together
            **({"keep_together": None} if start_on is not None else {}),
        )
        for row in job.order.decal
        if row.name in numbers
    ]
    film = {"piece": piece, "start_on": start_on}
    order = _with(job.order, name=name, decal=decals, **film, from_plan=None, fill_with=None)
    return replace(job, order=order, former=None)


def _with(model: Model, **changes: Any) -> Model:
    """The same with other values; None: as if the key did not stand in the file."""
    fields = type(model).model_fields
    values = {
        key: fields[key].get_default() if value is None else value for key, value in changes.items()
    }
    other = model.model_copy(update=values)
    other.model_fields_set.difference_update(k for k, value in changes.items() if value is None)
    return other


def only_again(artwork: Artwork, numbers: Numbers) -> Artwork:
    """The decals with these copies; artwork has just those decals."""
    decals = tuple(
        replace(decal, quantity=len(numbers[decal.name]), numbers=numbers[decal.name])
        for decal in artwork.decals
    )
    return replace(artwork, decals=decals)


def refuse_changed_art(artwork: Artwork, printed: Printed, job: Job) -> None:
    """raises: Faults where a copy printed now would not be the copy that was spoiled."""
    before = {decal.name: decal for decal in printed.decals}
    faults = []
    for decal in artwork.decals:
        changed = _changed(decal, before[decal.name], printed)
        if changed:
            faults.append(
                Fault(
                    what=f"{decal.name} is not as it was planned: {changed}",
                    where=f'{job.path.name}, [[decal]] "{decal.name}"',
                    do="put back what the plan was made from, or order the copies as a new job",
                )
            )
    raise_all(faults)


def _changed(decal: Decal, before: PrintedDecal, printed: Printed) -> str:
    if printed.art.get(decal.source) != decal.digest:
        return f"{decal.source} has changed"
    table = decal.row_table
    if table is not None and printed.art.get(table.source) != table.digest:
        return f"{table.source} has changed"
    if abs(decal.bleed_mm - before.bleed_mm) > SAME_MM:
        return f"its bleed was {before.bleed_mm:g} mm"
    rings = [np.array(ring) for ring in before.contour]
    points = np.concatenate(rings)
    sizes = np.ptp(points, axis=0) - (decal.contour.width_mm, decal.contour.height_mm)
    if np.abs(sizes).max() > SAME_MM or abs(decal.contour.area_mm2 - before.area_mm2) > 1.0:
        return "its contour was another"
    if (decal.backing is None) != (before.backing is None):
        return "its backing was another"
    return ""


def _gone(job: Job, name: str, names: list[str]) -> Fault:
    near = nearest(name, names)
    return Fault(
        what=f"the job has no decal {name!r}, which was spoiled",
        where=job.path.name,
        do=f"name the decal as it was; the nearest is {near}" if near else "name the plan's job",
    )
