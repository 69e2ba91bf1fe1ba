"""Boxes for words and bars: blank, inside the field, as near as can be, and none twice."""

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.marks.free_box import GROWN_MM, BlankFilm


def blank_film(field, areas) -> BlankFilm:
    return BlankFilm(field, areas, [shapely.buffer(area, GROWN_MM) for area in areas])


FIELD = (11.0, 0.5, 189.0, 99.5)


def film(seed: int, number: int) -> tuple[BlankFilm, shapely.Geometry]:
    """Discs, rings and slivers on a field of 178 by 99 mm."""
    rng = np.random.default_rng(seed)
    areas = []
    for x, y, r in rng.uniform((10, 0, 2), (190, 100, 14), (number, 3)):
        disc = shapely.Point(x, y).buffer(r)
        kind = rng.integers(3)
        areas.append(
            disc
            if kind == 0
            else disc.difference(disc.buffer(-1.5))
            if kind == 1
            else shapely.box(x, y, x + 3 * r, y + 0.4)
        )
    return blank_film(FIELD, areas), shapely.union_all(areas)


@given(st.integers(0, 10_000), st.integers(0, 25))
def test_boxes_are_blank_inside_the_field_and_none_is_handed_out_twice(seed, number):
    blank, taken = film(seed, number)
    had = shapely.Polygon()
    for size in ((60.0, 6.0), (6.0, 40.0), (30.0, 5.0)):
        corner = blank.box(width_mm=size[0], height_mm=size[1], toward_mm=(20.0, 90.0))
        if corner is None:
            continue
        box = shapely.box(*corner, corner[0] + size[0], corner[1] + size[1])
        assert shapely.box(*FIELD).covers(box)
        assert not box.intersects(taken)
        assert not box.intersects(had)
        blank.take(box.bounds)
        had = had.union(box)


def test_on_blank_film_a_box_is_where_it_is_wished():
    blank, _ = film(0, 0)

    assert blank.box(width_mm=60, height_mm=6, toward_mm=(31.0, 40.5)) == (31.0, 40.5)


def test_where_everything_is_printed_there_is_no_box():
    blank = blank_film(FIELD, [shapely.box(0, 0, 200, 100)])

    assert blank.box(width_mm=20, height_mm=5, toward_mm=(0, 0)) is None


def test_a_field_narrower_than_the_box_has_none():
    blank = blank_film((0.0, 0.0, 4.0, 90.0), [])

    assert blank.box(width_mm=6, height_mm=5, toward_mm=(0, 0)) is None
