"""Fits against published closed forms and SciPy."""

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from nestplan.fit.maps import can_fit, fit_map, own_map, turned_back

# worked example: marks of a 600 x 400 mm sheet, built from 0.25 degrees, scale 1.0008,
# shift (1.2, -0.7) plus noise; figures of the three fits by independent computation
MARKS = np.array([(0.0, 0.0), (600.0, 0.0), (600.0, 400.0), (0.0, 400.0)])
SEEN = np.array([(1.250, -0.680), (601.644, 1.960), (599.948, 402.176), (-0.557, 399.646)])


@pytest.mark.parametrize(
    ("kind", "square"),
    [("turn", 0.289275156), ("similarity", 0.007223423), ("affine", 0.00610525)],
)
def test_a_worked_example_leaves_what_it_should(kind, square):
    """The rigid fit is taken to first order about the best turn, where it is exact."""
    printed = turned_back(MARKS, SEEN).back(SEEN)

    left = printed - fit_map(kind, MARKS, printed).at(MARKS)

    assert (left**2).sum() == pytest.approx(square, rel=1e-6)


def test_the_turn_is_the_worked_examples():
    """0.2479089187 degrees."""
    assert turned_back(MARKS, SEEN).angle_deg == pytest.approx(0.2479089187, abs=1e-9)


def test_umeyamas_example_is_not_taken_for_a_mirror_image():
    """source: Umeyama, IEEE TPAMI 13 (1991) 376: R .832050, .554700; c .721110; t -.8, .4."""
    planned = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 2.0)])
    seen = np.array([(0.0, 0.0), (-1.0, 0.0), (0.0, 2.0)])
    turn = turned_back(planned, seen)

    assert np.cos(np.radians(turn.angle_deg)) == pytest.approx(0.832050, abs=1e-6)
    assert np.sin(np.radians(turn.angle_deg)) == pytest.approx(-0.554700, abs=1e-6)
    grown = fit_map("similarity", planned, turn.back(seen))
    a, b = grown.at(np.array([(0.0, 0.0), (1.0, 0.0)]))
    assert np.hypot(*(b - a)) == pytest.approx(0.721110, abs=1e-6)
    left = turn.back(seen) - grown.at(planned)
    assert (left**2).sum(axis=1).mean() == pytest.approx(0.533333, abs=1e-6)


def test_turn_and_similarity_agree_with_scipy():
    """The closed forms against a library's rotation and against plain minimising."""
    rng = np.random.default_rng(1)
    planned = rng.uniform(0, 1000, (7, 2))
    z = 1.003 * np.exp(2.2j) * (planned @ (1, 1j)) + 300 - 80j
    seen = np.column_stack([z.real, z.imag]) + rng.normal(0, 0.3, (7, 2))
    turn = turned_back(planned, seen)

    flat = [np.column_stack([p - p.mean(axis=0), np.zeros(7)]) for p in (seen, planned)]
    angle = Rotation.align_vectors(*flat)[0].as_rotvec()[2]
    assert np.radians(turn.angle_deg) == pytest.approx(angle, abs=1e-9)

    def off(figures):
        w = complex(*figures[:2]) * (planned @ (1, 1j)) / 1000 + complex(*figures[2:])
        return np.column_stack([w.real, w.imag]).ravel() - seen.ravel()

    best = least_squares(off, (-600.0, 800.0, 300.0, -80.0), xtol=1e-15, ftol=1e-15).cost * 2
    printed = turn.back(seen)
    left = printed - fit_map("similarity", planned, printed).at(planned)
    assert (left**2).sum() == pytest.approx(best, rel=1e-6)


@pytest.mark.parametrize("corrects", ["none", "turn", "similarity", "affine", "strips"])
def test_the_way_back_undoes_a_fit(corrects):
    """Whatever a cutter does by itself can be taken off a file, to a nanometre."""
    rng = np.random.default_rng(2)
    marks = np.array([(x, y) for y in (0.0, 300.0, 650.0, 1000.0) for x in (0.0, 1300.0)])
    fit = own_map(corrects, marks, marks * (1.004, 0.997) + rng.normal(0, 0.5, marks.shape))
    places = rng.uniform(-50, 1300, (200, 2))

    np.testing.assert_allclose(fit.at(fit.back(places)), places, atol=1e-6)


def test_strips_need_three_rows_of_marks():
    """Two rows are one strip, and that is an affine fit."""
    rows = [
        np.array([(x, y) for y in ys for x in (0.0, 900.0)]) for ys in ((0, 400), (0, 400, 900))
    ]

    assert [can_fit("strips", each) for each in rows] == [False, True]
    assert [can_fit("affine", each) for each in (rows[0], rows[0][:2])] == [True, False]
