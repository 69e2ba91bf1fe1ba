"""Of sets nearly as good as the best one, the best that cannot be mistaken for another frame."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nestplan.marks.aim import Aim
from nestplan.marks.apart import allowed, chance_mistaken, turned
from nestplan.marks.choose import CHECKED_MOST, Frameful, aim_at, joints, looked_at, squares
from nestplan.marks.error_model import ErrorModel
from nestplan.marks.exchange import better_sets, judged
from nestplan.marks.field import Field
from nestplan.marks.stand import CORNER_MM

Array = NDArray[np.float64]

POLISHED_MOST = 6  # frames of a run: in longer ones swaps of two marks are not looked for again


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Rows of the evenly spaced marks, and of the best set, of frames that are alike."""

    about: Frameful
    start: tuple[int, ...]
    best: tuple[int, ...]


def told_apart(
    model: ErrorModel,
    one: Settled,
    taken: set[tuple[int, ...]],
    made: Sequence[Array],
    frames: int,
) -> tuple[int, ...]:
    """The best set that cannot be mistaken for a frame before it or for its own half-turn.

    taken: sets of equal frames before it. made: marks of all frames before it, each (N, 2).
    One mark is put elsewhere, or one is added, the set with the least error first; then swaps of
    one or two marks that keep it apart, until none lowers the error. The best set as it is where
    nothing tells the frames apart; a note says so.
    """
    at, most = one.about.field.places_mm, allowed(frames)

    def is_apart(rows: tuple[int, ...]) -> bool:
        return rows not in taken and _is_apart(model, at[list(rows)], made, most)

    if is_apart(one.best):
        return one.best
    points = looked_at(model, one.about)
    aim = _aim(model, one, points)
    for rows in _nearly_as_good(one, aim):
        if is_apart(rows):
            break
    else:
        return one.best
    if frames > POLISHED_MOST or model.corrects == "strips":
        return rows
    for _ in range(CHECKED_MOST):
        while True:
            better = better_sets(one.about.field, aim, judged(aim, rows))
            found = next((each.rows for each in better if is_apart(each.rows)), None)
            if found is None:
                break
            rows = found
        left = squares(model, one.about, rows)
        if left.max() <= judged(aim, rows).greatest * (1 + 1e-6):
            break
        points = np.vstack([points, one.about.points_mm[left.argmax()]])
        aim = _aim(model, one, points)
    return rows


def _is_apart(model: ErrorModel, marks: Array, made: Sequence[Array], most: float) -> bool:
    pairs = [(marks, turned(marks))]
    for other in made:
        pairs += [(marks, other), (other, marks), (marks, turned(other))]
    return all(chance_mistaken(model, a, b) <= most for a, b in pairs)


def _aim(model: ErrorModel, one: Settled, points: Array) -> Aim:
    field = one.about.field
    return aim_at(model.corrects, model, field, points, joints(model.corrects, field, one.best))


def _nearly_as_good(one: Settled, aim: Aim) -> Iterator[tuple[int, ...]]:
    """Sets that differ from the best by one mark, by rising error: another mark between the
    corners, one more, and last a corner that stands a little farther in.
    """
    for sets in (_between_corners(one), _one_added(one), _corners_inward(one)):
        found = [judged(aim, rows) for rows in sets]
        yield from (each.rows for each in sorted(found, key=lambda each: each.greatest))


def _between_corners(one: Settled) -> Iterator[tuple[int, ...]]:
    for out in one.best:
        if out not in one.about.field.corners:
            yield from _exchanged(one.about.field, one.best, {out})


def _one_added(one: Settled) -> Iterator[tuple[int, ...]]:
    yield from _exchanged(one.about.field, one.best, set())


def _corners_inward(one: Settled) -> Iterator[tuple[int, ...]]:
    field = one.about.field
    for corner in field.corners:
        near = np.abs(field.places_mm[:, 1] - field.places_mm[corner, 1]) <= CORNER_MM
        near &= field.edge == field.edge[corner]
        others = tuple(row for row in field.corners if row != corner)
        loose = replace(field, corners=others)
        for rows in _exchanged(loose, one.best, {corner}):
            if near[list(set(rows) - set(one.best))].all():
                yield rows


def _exchanged(field: Field, rows: tuple[int, ...], out: set[int]) -> Iterator[tuple[int, ...]]:
    """Sets with one new row in place of those that go, as far as they keep the rules."""
    for into in sorted(set(range(len(field.places_mm))) - set(rows)):
        changed = tuple(sorted({*rows, into} - out))
        if field.holds(changed):
            yield changed
