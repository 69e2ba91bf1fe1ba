"""Run coordinates turn over into SVG in one place, and nothing is lost on the way."""

import dataclasses

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from nestplan.files.turn_over import turned_over
from nestplan.geometry.outline import signed_area_mm2
from tests.files.handmade import PLATE, a_run

FRAME = a_run().marks.frames[1]  # y 480 .. 780


def test_the_leading_end_of_the_frame_is_at_the_bottom_of_the_svg():
    corners = np.array([[0.0, 480.0], [600.0, 780.0]])

    assert turned_over(corners, FRAME).tolist() == [[0.0, 300.0], [600.0, 0.0]]


@given(st.floats(0, 30_000), st.floats(1, 5_000), st.floats(0, 2_000), st.floats(0, 1))
def test_turning_over_keeps_x_and_adds_up_with_y_to_the_far_end(y0, length, x, share):
    frame = dataclasses.replace(FRAME, y0_mm=y0, length_mm=length)
    y = y0 + share * length

    ((x_svg, y_svg),) = turned_over(np.array([[x, y]]), frame)

    assert x_svg == x
    assert abs(y + y_svg - (y0 + length)) < 1e-9


def test_turning_over_mirrors_and_keeps_sizes():
    ring = PLATE.rings[0] + (110.0, 600.0)

    assert signed_area_mm2(turned_over(ring, FRAME)) == -signed_area_mm2(ring)
