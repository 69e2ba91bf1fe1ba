"""Radii by which contours grow: never more than copies keep, and as much as they can."""

from dataclasses import replace

import pytest
from hypothesis import given, settings

from nestplan.nest.bound_area import area_mm
from nestplan.nest.bound_radii import best_choices, length_for_mm, radius_choices
from tests.nest.bound_tasks import mixed
from tests.strategies import tasks


@settings(max_examples=25)
@given(tasks(most_shapes=4))
def test_no_two_radii_are_more_than_the_copies_keep(task):
    alone = [shape.copies == 1 for shape in task.shapes]
    for radii in radius_choices(task):
        for i, row in enumerate(task.apart_mm):
            for j, apart in enumerate(row):
                assert (i == j and alone[i]) or radii[i] + radii[j] <= apart + 1e-9


def test_where_bleed_decides_for_one_and_the_gutter_for_all_both_choices_are_tried():
    """Bleeds 3 and 0, gutter 4: 2 and 2, or 3 and 1; never 3 and 2."""
    task = replace(mixed((50, 30, 9), (20, 40, 9), strip=200), apart_mm=((6.0, 4.0), (4.0, 4.0)))

    choices = set(radius_choices(task))

    assert {(2.0, 2.0), (3.0, 1.0)} <= choices
    assert (3.0, 2.0) not in choices


def test_the_linear_program_finds_radii_that_raising_one_by_one_does_not():
    """A, B and C keep 6 from their like, B and C 4 from each other, A 5 from both.

    A first leaves B and C 2 each; B first takes 3 and leaves C 1 and A 2. The most outline
    is grown with A 3, B 2, C 2 or, where A is small, with another share: all are tried.
    """
    task = mixed((40, 40, 9), (41, 40, 9), (42, 40, 9), strip=300)
    apart = ((6.0, 5.0, 5.0), (5.0, 6.0, 4.0), (5.0, 4.0, 6.0))
    task = replace(task, apart_mm=apart)

    grown = [sum(radii) for radii in radius_choices(task)]

    assert max(grown) == pytest.approx(7.0)


@settings(max_examples=20)
@given(tasks(most_shapes=3))
def test_the_area_bound_is_no_worse_than_half_the_gutter_for_all(task):
    least = min(min(row) for row in task.apart_mm) / 2
    radii = (least,) * len(task.shapes)
    total = sum(s.copies * s.outline.area_mm2 for s in task.shapes)

    assert best_choices(task, 1)
    assert area_mm(task, 1) >= length_for_mm(task, radii, total, 1) - 1e-9
