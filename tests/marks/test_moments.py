"""Mean and covariance at a place, against tables and against errors drawn by other means."""

import numpy as np
import pytest

from nestplan.marks.draws import Sheet, drawn_errors
from nestplan.marks.moments import moments
from nestplan.marks.radius import radius_within
from tests.marks.error_samples import ALL, CORRECTS, fitted_shifts, model, pairs

CENTRE_AND_CORNER = np.array([[650.0, 750.0], [100.0, 100.0]])


@pytest.mark.parametrize(
    ("number", "corrects", "sd"),
    [
        (4, "similarity", (0.1142, 0.0843)),
        (4, "affine", (0.1142, 0.0746)),
        (6, "similarity", (0.1072, 0.0868)),
        (6, "affine", (0.1072, 0.0784)),
        (10, "similarity", (0.1062, 0.0862)),
        (10, "affine", (0.1062, 0.0761)),
    ],
)
def test_a_smooth_field_leaves_what_it_should(number, corrects, sd):
    """Per-axis deviation for s 0.1, l 300, marks read with 0.05, pairs on the edges of
    1300 x 1500: worked out beside the product and confirmed by 100 000 draws."""
    errors = moments(
        model(corrects, distortion_mm=0.1, sensor_noise_mm=0.05), pairs(number), CENTRE_AND_CORNER
    )

    for axis in (0, 1):
        found = np.sqrt(errors.covariance_mm2[:, axis, axis])
        assert found == pytest.approx(sd, abs=6e-5)
    assert errors.covariance_mm2[:, 0, 1] == pytest.approx([0.0, 0.0], abs=1e-12)


def test_even_noise_gives_circles_but_for_the_rigid_fit():
    places = np.array([[200.0, 1400.0], [1250.0, 300.0]])
    for corrects in CORRECTS:
        spread = moments(model(corrects, sensor_noise_mm=0.1), pairs(6), places).covariance_mm2
        low, high = np.linalg.eigvalsh(spread).T
        assert (low < 0.999 * high).all() == (corrects == "turn")


def test_uneven_shrinkage_leaves_the_published_misfit_at_a_corner():
    """600 x 400 mm, 0.3 % more across than along, similarity: 0.49923 mm at each corner."""
    corners = pairs(4, 600.0, 400.0)

    errors = moments(model("similarity", across_percent=-0.3), corners, corners)

    assert np.hypot(*errors.mean_mm.T) == pytest.approx(np.full(4, 0.499230), abs=1e-6)
    assert moments(model("affine", across_percent=-0.3), corners, corners).mean_mm == (
        pytest.approx(np.zeros((4, 2)), abs=1e-9)
    )


def test_warm_film_without_a_correction_is_off_by_alpha_length_and_warmth():
    """PVC of 70 millionths a kelvin, 600 mm, 20 K: 0.840 mm."""
    errors = moments(
        model("none", along_percent=70e-4 * 20), pairs(4, 300.0, 600.0), np.array([[0.0, 600.0]])
    )

    assert errors.mean_mm[0] == pytest.approx((0.0, -0.840))


def test_what_a_cutter_still_carries_shifts_every_cut_as_measured():
    """An offset moves all alike; a cutter that cuts 0.1 % long, and drifts 2 mm to the right in a
    metre, without a correction is 0.5 mm and 1 mm off at 500 mm from its first mark."""
    here, there = np.array([[0.0, 0.0]]), np.array([[0.0, 500.0]])
    carried = model("none", along_percent=-0.1, skew_mm_m=-2.0, offset_x_mm=0.3, offset_y_mm=-0.2)

    assert moments(carried, pairs(4), here).mean_mm[0] == pytest.approx((0.3, -0.2))
    assert moments(carried, pairs(4), there).mean_mm[0] == pytest.approx((0.3 + 1.0, -0.2 + 0.5))


def test_a_film_that_wanders_is_held_best_by_strips():
    """Half-way between two rows of marks a random walk is off by sqrt(gap / 4) of its pace."""
    marks, place = pairs(4, 1300.0, 1000.0), np.array([[650.0, 500.0]])

    spread = moments(model("strips", tracking_mm_m=0.2), marks, place).covariance_mm2[0]

    assert spread == pytest.approx(np.diag([0.2**2 / 4, 0.0]))
    wide = moments(model("none", tracking_mm_m=0.2), marks, place).covariance_mm2[0]
    assert wide[0, 0] == pytest.approx(0.2**2 / 2)


@pytest.mark.parametrize("corrects", CORRECTS)
def test_every_source_together_is_what_draws_by_other_means_show(corrects):
    """Fields by Cholesky over all points, fits by least squares: nothing of the product."""
    rng = np.random.default_rng(11)
    d, marks = 6000, pairs(6)
    places = np.array([[650.0, 700.0], [60.0, 90.0], [1200.0, 1100.0]])
    points = np.concatenate([marks, places])
    film = drawn_film(rng, d, points)
    read = film[:, :6] + np.hypot(0.06, 0.08) * rng.standard_normal((d, 6, 2))
    cut = fitted_shifts(corrects, marks, read, places) + 0.08 * rng.standard_normal((d, 1, 2))
    own = np.hypot(0.06, 0.03) * rng.standard_normal((d, 3, 2))
    off = cut - film[:, 6:] + own + (0.05, -0.04)

    errors = moments(model(corrects, **ALL), marks, places)

    radius = radius_within(errors.mean_mm, errors.covariance_mm2)
    inside = (np.hypot(off[:, :, 0], off[:, :, 1]) <= radius).mean(axis=0)
    assert inside == pytest.approx(np.full(3, 0.95), abs=0.012)  # four standard errors
    assert off.mean(axis=0) == pytest.approx(errors.mean_mm, abs=0.06)


def drawn_film(rng: np.random.Generator, d: int, points: np.ndarray) -> np.ndarray:
    """(d, n, 2) shifts of the film with the figures of ALL."""
    x, y = points.T
    apart2 = (x[:, None] - x) ** 2 + (y[:, None] - y) ** 2
    root = np.linalg.cholesky(np.exp(-apart2 / (2 * 300.0**2)) + 1e-10 * np.eye(len(x)))
    film = 0.1 * np.einsum("ij,djc->dic", root, rng.standard_normal((d, len(x), 2)))
    order = np.argsort(y, kind="stable")
    steps = np.sqrt(np.diff(y[order], prepend=y.min()) / 1000)
    film[:, order, 0] += 0.2 * (steps * rng.standard_normal((d, len(x)))).cumsum(axis=1)
    along, across, both, skew, askew = rng.standard_normal((5, d, 1))
    stretch_x = -0.0002 + 0.0001 * across + 0.0001 * both
    stretch_y = -0.0008 + 0.0002 * along + 0.0001 * both
    film[:, :, 0] += stretch_x * x + 0.0004 * y + 0.0003 * skew * y - 0.0005 * askew * y
    film[:, :, 1] += stretch_y * y + 0.0005 * askew * x
    return film


def test_drawn_runs_have_the_covariance_of_the_closed_form():
    marks, places = pairs(6), np.array([[650.0, 700.0], [60.0, 90.0]])
    told = model("similarity", **ALL)
    errors = moments(told, marks, places)

    sheet = Sheet(marks_mm=marks, places_mm=places, copy=np.array([0, 1]))
    drawn = np.concatenate([each for (each,) in drawn_errors(told, [sheet], draws=6000, seed=5)])

    off = drawn - drawn.mean(axis=0)
    spread = np.einsum("dka,dkb->kab", off, off) / len(off)
    assert spread == pytest.approx(errors.covariance_mm2, abs=0.004)
    assert drawn.mean(axis=0) == pytest.approx(errors.mean_mm, abs=0.015)
