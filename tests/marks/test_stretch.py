"""What shrinkage leaves at the corners."""

import numpy as np
import pytest

from nestplan.marks.stretch import left_at_corner_mm


def test_uneven_shrinkage_breaks_a_similarity_by_the_published_amount():
    """600 x 400 mm, 0.3 % more across than along: 0.49923 mm at each corner (worked by hand:
    0.003 * 600 * 400 / (2 * sqrt(600^2 + 400^2)))."""
    left = left_at_corner_mm("similarity", along=0.0, across=0.003, width_mm=600, length_mm=400)

    assert left == pytest.approx(0.499230, abs=1e-6)


def test_the_closed_form_is_what_least_squares_leaves():
    along, across, width, length = 0.002, -0.001, 700.0, 1100.0
    corners = np.array([-1, 1, 1, -1]) * width / 2 + 1j * np.array([-1, -1, 1, 1]) * length / 2
    printed = corners.real * (1 - across) + 1j * corners.imag * (1 - along)
    fit = np.vdot(corners, printed) / np.vdot(corners, corners)

    worst = np.abs(printed - fit * corners).max()

    assert left_at_corner_mm(
        "similarity", along=along, across=across, width_mm=width, length_mm=length
    ) == pytest.approx(worst)


def test_an_affine_fit_takes_up_all_and_no_fit_takes_up_nothing():
    sizes = {"along": 0.003, "across": 0.004, "width_mm": 1000.0, "length_mm": 1000.0}

    assert left_at_corner_mm("affine", **sizes) == 0
    assert left_at_corner_mm("none", **sizes) == pytest.approx(5.0)
    assert left_at_corner_mm("turn", **sizes) == pytest.approx(2.5)
