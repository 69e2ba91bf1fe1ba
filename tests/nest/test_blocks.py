"""Bands of large quantities: exact where rows fill the film, legal, repeatable, never longer."""

from dataclasses import replace

import numpy as np
import pytest

from nestplan.nest import Budget, Shape, Task
from nestplan.nest.blocks import Blocks
from nestplan.nest.outlines import Outlines
from nestplan.nest.verify import verify
from tests.marks.handmade import box
from tests.strategies import centred, round_polygon

HALF_TURNS = (0.0, 180.0)


def plates(copies: int = 100) -> Task:
    """Boxes of which five and ten fill a row of the film without a hair left over."""
    sizes = ((96, 46), (46, 71))
    return Task(
        shapes=tuple(
            Shape(name=f"plate {w}", outline=box(w, h), copies=copies, angles_deg=(0.0,))
            for w, h in sizes
        ),
        width_mm=5 * 96 + 4 * 4,
        apart_mm=((4.0, 4.0), (4.0, 4.0)),
    )


def pennants() -> Task:
    """Triangles and discs with distances of their own, and a few plates that make no band."""
    outlines = (centred(round_polygon(25, 3)), centred(round_polygon(16, 24)), box(60, 30))
    return Task(
        shapes=tuple(
            Shape(name=name, outline=outline, copies=n, angles_deg=angles, edge_mm=edge)
            for name, outline, n, angles, edge in zip(
                ("pennant", "disc", "plate"),
                outlines,
                (90, 70, 7),
                (HALF_TURNS, (0.0,), HALF_TURNS),
                (1.0, 0.0, 2.0),
                strict=True,
            )
        ),
        width_mm=410.0,
        apart_mm=((3.0, 3.0, 4.0), (3.0, 2.0, 3.0), (4.0, 3.0, 4.0)),
    )


def test_rows_that_fill_the_film_are_stacked_row_upon_row():
    """By hand: 20 rows of 46 mm and 10 rows of 71 mm, 4 mm between."""
    task = plates()

    layout = Blocks()(task, Budget(steps=1, seed=1))

    assert layout.length_mm == pytest.approx(20 * 50 + 10 * 75 - 4)
    assert verify(task, layout) == ()


def test_bands_and_the_rest_are_legal_and_shorter_than_a_search_over_all():
    task = pennants()

    layout = Blocks()(task, Budget(steps=2_000, seed=1))

    assert verify(task, layout) == ()
    assert layout.length_mm < Outlines()(task, Budget(steps=2_000, seed=1)).length_mm


def test_the_same_budget_gives_the_same_bytes():
    first, second = (Blocks()(pennants(), Budget(steps=1_800, seed=3)) for _ in range(2))

    assert first.placements.centre_mm.tobytes() == second.placements.centre_mm.tobytes()
    assert first.placements.angle_deg.tobytes() == second.placements.angle_deg.tobytes()
    assert first.placements.shape.tobytes() == second.placements.shape.tobytes()


def test_one_shape_few_copies_and_obstacles_are_left_to_others():
    task, budget = plates(), Budget(steps=1, seed=1)

    assert Blocks()(plates(copies=10), budget) is None
    assert Blocks()(replace(task, shapes=task.shapes[:1], apart_mm=((4.0,),)), budget) is None


def test_stopped_at_any_moment_there_is_a_legal_layout():
    task = pennants()
    for moment in (1, 4, 20):
        asked = iter(range(10**9))
        budget = Budget(steps=3_000, seed=1, stopped=lambda: next(asked) >= moment)  # noqa: B023

        layout = Blocks()(task, budget)

        assert verify(task, layout) == ()


def test_copies_of_a_band_are_never_more_than_asked():
    task = pennants()

    counted = np.bincount(Blocks()(task, Budget(steps=1, seed=1)).placements.shape)

    assert counted.tolist() == [90, 70, 7]
