"""Extra copies of one shape on the free film of a strip, which grows no longer for them.

Where a copy's origin may lie is geometry: the strip less, round everything there, the no-fit
field of the pair grown by its distance. A copy is put at the corner of that region that lies
farthest to one side, its own field is taken off, and so on until nothing is left. From which
side to begin is tried, and the most copies win.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.offset import grown
from nestplan.geometry.outline import Outline
from nestplan.nest.engine import Budget
from nestplan.nest.fields import Form, form_of, no_fit
from nestplan.nest.nested import Strip
from nestplan.nest.parts import joined
from nestplan.nest.placements import Placements, lying, placed
from nestplan.nest.task import Task
from nestplan.nest.verify import verify

SLACK_MM = 4e-7  # places that fit exactly stay wider than nothing; the verifier looks over more
SAGITTA_MM = 5e-4  # of the arcs of a grown field
TURNS_MOST = 8  # angles tried
CORNERS_MOST = 40  # of a region, looked at before those that are surely free
STEPS_A_CUT = 0.05  # of the budget, for taking a field off a region
# what is least first: x and y by these weights, then the other
SIDES = (
    ((0.0, 1.0), (1.0, 0.0)),
    ((0.0, 1.0), (-1.0, 0.0)),
    ((1.0, 0.0), (0.0, 1.0)),
    ((-1.0, 0.0), (0.0, 1.0)),
)

Floats = NDArray[np.float64]


def filled(
    task: Task, strip: Strip, index: int, *, within_mm: tuple[float, float], budget: Budget
) -> Strip:
    """The strip with as many more copies of a shape as were found to fit, none of it moved.

    task: with the strip's own obstacles. index: of the shape. within_mm: from where to where
    along the feed the copies may lie. Copies are numbered on from the task's own.
    """
    film = _Film(task=task, laid=strip.placements, index=index, within_mm=within_mm)
    most: list[tuple[float, Floats]] = []
    spent = 0.0
    for side in SIDES:
        if budget.stopped() or spent > budget.steps:
            break
        found = list(film.copies(np.array(side), budget))
        spent += STEPS_A_CUT * len(film.turns_deg) * len(found)
        if len(found) > len(most):
            most = found
    if not most:
        return strip
    extra = Placements(
        shape=np.full(len(most), index, dtype=np.intp),
        centre_mm=np.array([centre for _, centre in most]),
        angle_deg=np.array([angle for angle, _ in most]),
    )
    placements = joined([strip.placements, extra])
    bare = replace(task, obstacles=())  # what was there may stand nearer to them
    for asked, laid in ((bare, placements), (task, extra)):
        copies = np.bincount(laid.shape, minlength=len(task.shapes)).tolist()
        if verify(asked, laid, copies=copies, length_most_mm=strip.length_mm):
            return strip
    first = task.shapes[index].copies + 1
    return replace(
        strip, placements=placements, copy=(*strip.copy, *range(first, first + len(most)))
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Film:
    """A strip with what lies on it, as one more copy of a shape sees it."""

    task: Task
    laid: Placements
    index: int
    within_mm: tuple[float, float]

    @cached_property
    def turns_deg(self) -> tuple[float, ...]:
        """Angles to try, the best one first."""
        shape = self.task.shapes[self.index]
        turns = sorted(shape.angles_deg, key=lambda angle: (angle - shape.best_deg) % 360.0)
        return tuple(turns[:: ceil(len(turns) / TURNS_MOST)])

    def copies(self, side: Floats, budget: Budget) -> Iterator[tuple[float, Floats]]:
        """(angle, centre) of copies that fit, one after the other, from one side."""
        free = dict(self._free)
        came: list[BaseGeometry] = []
        while not budget.stopped():
            found = [
                (tuple(side @ centre), k, angle, centre)
                for k, (angle, region) in enumerate(free.items())
                if (centre := self._corner(angle, region, side, came)) is not None
            ]
            if not found:
                return
            _, _, angle, centre = min(found, key=lambda each: (*each[0], each[1]))
            yield angle, centre
            came.append(placed(self._outline, centre, angle).region)
            for other in free:
                taken = _moved(self._field(self.index, angle, other), centre)
                free[other] = shapely.difference(free[other], taken)

    @property
    def _outline(self) -> Outline:
        return self.task.shapes[self.index].outline

    @cached_property
    def _forms(self) -> list[Form]:
        return [form_of(shape.outline.region) for shape in self.task.shapes]

    @cached_property
    def _fields(self) -> dict[tuple[int, float], BaseGeometry]:
        return {}

    def _field(self, other: int, at_deg: float, angle_deg: float) -> BaseGeometry:
        """Where the origin of the shape may not lie about that of another that lies at an angle."""
        between = round((angle_deg - at_deg) % 360.0, 9)
        if (other, between) not in self._fields:
            apart_mm = self.task.apart_mm[other][self.index]
            field = no_fit(self._forms[other], self._forms[self.index], between)
            self._fields[other, between] = _grown(field, apart_mm)
        return shapely.affinity.rotate(self._fields[other, between], at_deg, origin=(0.0, 0.0))

    @cached_property
    def _free(self) -> dict[float, BaseGeometry]:
        """Where the origin may lie at each angle, before any extra copy."""
        return {angle: self._free_at(angle) for angle in self.turns_deg}

    def _free_at(self, angle: float) -> BaseGeometry:
        shape = self.task.shapes[self.index]
        left, bottom, right, top = shape.outline.turned(angle).bounds_mm
        low = np.array([shape.edge_mm - left, self.within_mm[0] - bottom]) - SLACK_MM
        high = np.array([self.task.width_mm - shape.edge_mm - right, self.within_mm[1] - top])
        high += SLACK_MM
        if (low > high).any():
            return shapely.Polygon()
        taken = [
            _moved(self._field(other, at, angle), centre) for other, centre, at in self.laid.each()
        ]
        form = self._forms[self.index]
        for obstacle in self.task.obstacles:
            field = no_fit(form_of(obstacle.outline.region), form, angle)
            taken.append(_grown(field, obstacle.apart_mm))
        return shapely.difference(shapely.box(*low, *high), shapely.union_all(taken))

    def _corner(
        self, angle: float, region: BaseGeometry, side: Floats, came: list[BaseGeometry]
    ) -> Floats | None:
        """The corner of a region nearest the side at which a copy keeps its distances exactly.

        Arcs of a field are chords, so a place on one may be short; a little farther in none is.
        """
        if region.is_empty:
            return None
        for inside, most in ((region, CORNERS_MOST), (region.buffer(-2 * SAGITTA_MM), None)):
            corners = shapely.get_coordinates(inside)
            order = np.lexsort((corners @ side[1], np.round(corners @ side[0], 6)))
            for row in order[:most]:
                if self._keeps_off(placed(self._outline, corners[row], angle).region, came):
                    return np.array(corners[row])
        return None

    @cached_property
    def _there(self) -> tuple[shapely.STRtree, NDArray[np.object_], Floats]:
        """Everything on the strip, and the distance to keep from each."""
        apart = [row[self.index] for row in self.task.apart_mm]
        areas: list[BaseGeometry] = [each.region for each in lying(self.task, self.laid)]
        apart_mm = [apart[other] for other in self.laid.shape.tolist()]
        for obstacle in self.task.obstacles:
            areas.append(obstacle.outline.region)
            apart_mm.append(obstacle.apart_mm)
        listed = np.array(areas, dtype=np.object_)
        return shapely.STRtree(listed), listed, np.array(apart_mm)

    def _keeps_off(self, area: BaseGeometry, came: list[BaseGeometry]) -> bool:
        tree, areas, apart_mm = self._there
        reach_mm = float(apart_mm.max(initial=0.0))
        near = tree.query(area, predicate="dwithin", distance=reach_mm)
        short = shapely.distance(area, areas[near]) < apart_mm[near] - 1.5 * SLACK_MM
        own_mm = self.task.apart_mm[self.index][self.index] - 1.5 * SLACK_MM
        return not short.any() and bool((shapely.distance(area, came) >= own_mm).all())


def _grown(field: BaseGeometry, apart_mm: float) -> BaseGeometry:
    region = grown(field, max(apart_mm - SLACK_MM, 0.0), sagitta_mm=SAGITTA_MM)
    assert isinstance(region, BaseGeometry)
    return region


def _moved(region: BaseGeometry, centre: Iterable[float]) -> BaseGeometry:
    moved: BaseGeometry = shapely.affinity.translate(region, *centre)
    return moved
