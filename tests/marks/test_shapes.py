"""Marks are plain geometry, and the clear zone is counted from the mark's edge."""

from math import hypot, pi, sqrt

import pytest

from nestplan.job import Sensor
from nestplan.marks.shapes import blank_round_mm, mark_outline


def sensor(shape: str) -> Sensor:
    return Sensor(
        shape=shape,
        size_mm=6.0,
        clear_mm=5.0,
        line_mm=1.0,
        spacing_mm=400.0,
        read_s=1.0,
        repeatability_mm=0.1,
    )


@pytest.mark.parametrize(
    ("shape", "area_mm2"),
    [
        ("square", 36.0),
        ("corner", 6.0 + 6.0 - 1.0),  # two bars of 6 by 1 that share a square millimetre
        ("cross", 6.0 + 6.0 - 1.0),
    ],
)
def test_a_mark_has_the_area_its_bars_have(shape, area_mm2):
    assert mark_outline(sensor(shape)).area_mm2 == pytest.approx(area_mm2)


def test_a_disc_is_as_wide_as_its_size_and_within_the_flattening_of_a_circle():
    disc = mark_outline(sensor("disc"))

    assert (disc.width_mm, disc.height_mm) == pytest.approx((6.0, 6.0))
    assert pi * (3.0 - 0.02) ** 2 < disc.area_mm2 < pi * 3.0**2


@pytest.mark.parametrize(
    ("shape", "farthest_mm"),
    [("disc", 3.0), ("square", 3 * sqrt(2)), ("corner", 3 * sqrt(2)), ("cross", hypot(3, 0.5))],
)
def test_the_blank_round_is_the_farthest_point_of_the_mark_and_the_clear_zone(shape, farthest_mm):
    assert blank_round_mm(sensor(shape)) == pytest.approx(farthest_mm + 5.0)
