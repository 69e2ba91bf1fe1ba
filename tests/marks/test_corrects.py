"""What each fit carries from marks to places."""

import numpy as np
import pytest

from nestplan.marks.corrects import influence, knots_mm, parameters
from tests.marks.error_samples import CORRECTS, fitted_shifts, pairs

SHEET = np.array([[0.0, 0.0], [600.0, 0.0], [600.0, 400.0], [0.0, 400.0]])
PLACES = np.array([[300.0, 200.0], [300.0, 0.0], [0.0, 0.0], [700.0, 500.0]])


@pytest.mark.parametrize(
    ("corrects", "expected"),
    [
        ("turn", (0.035355, 0.037978, 0.043301, 0.049517)),
        ("similarity", (0.035355, 0.040430, 0.050000, 0.060447)),
        ("affine", (0.035355, 0.050000, 0.061237, 0.079276)),
    ],
)
def test_the_error_at_a_place_is_that_of_fitzpatrick_west_and_maurer(corrects, expected):
    """Rms error for marks read with 0.05 mm on each axis. Fitzpatrick, West, Maurer 1998
    (IEEE Trans. Med. Imaging 17, 694-702) in two dimensions: FLE^2/N (1 + d^2/f^2) for the
    similarity, half of d^2/f^2 for the rigid fit; centre, mid-edge, corner, outside."""
    carried = influence(corrects, SHEET, PLACES)

    rms = 0.05 * np.sqrt((carried**2).sum(axis=(1, 2, 3)))

    assert rms == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("corrects", ["turn", "similarity", "affine", "strips"])
def test_leverages_add_up_to_the_number_of_parameters(corrects):
    """The trace of a projector is its rank: sum over marks of TRE^2 / sigma^2 = p."""
    marks = pairs(10)
    own = influence(corrects, marks, marks)

    assert (own**2).sum() == pytest.approx(parameters(corrects, marks))
    assert np.einsum("iaia->", own) == pytest.approx(parameters(corrects, marks))


@pytest.mark.parametrize("corrects", ["similarity", "affine", "strips"])
def test_a_shift_the_fit_knows_is_carried_to_every_place(corrects):
    marks, places = pairs(6), np.array([[100.0, 300.0], [900.0, 1700.0]])

    def grown(points):
        turned = np.column_stack([-points[:, 1], points[:, 0]])
        return 0.003 * points + 0.001 * turned + (0.4, -0.2)

    put = np.einsum("kaib,ib->ka", influence(corrects, marks, places), grown(marks))

    assert put == pytest.approx(grown(places))


def test_strips_follow_a_film_that_bends_at_the_marks_and_an_affine_fit_does_not():
    marks = pairs(6)
    bent = np.column_stack([np.abs(marks[:, 1] - 750.0) / 1000, 0.0 * marks[:, 0]])
    place = np.array([[650.0, 375.0]])

    strips = np.einsum("kaib,ib->ka", influence("strips", marks, place), bent)
    affine = np.einsum("kaib,ib->ka", influence("affine", marks, place), bent)

    assert strips[0] == pytest.approx((0.375, 0.0))
    assert affine[0, 0] == pytest.approx(0.5)  # the mean of 0.75, 0 and 0.75


@pytest.mark.parametrize("corrects", CORRECTS)
def test_the_influence_is_what_a_fit_by_other_means_does(corrects):
    """Turned readings are small enough for the rigid fit to be straight."""
    rng = np.random.default_rng(3)
    marks, places = pairs(10), rng.uniform(0, 1300, (7, 2))
    read = rng.normal(0, 0.001, (5, 10, 2))

    put = np.einsum("kaib,dib->dka", influence(corrects, marks, places), read)

    assert put == pytest.approx(fitted_shifts(corrects, marks, read, places), abs=1e-8)


def test_joints_lie_half_way_between_the_marks_of_a_pair():
    marks = np.array([[5, 10], [900, 20], [8, 400], [905, 440], [5, 800], [900, 800], [400, 300.0]])

    assert knots_mm(marks).tolist() == [15.0, 420.0, 800.0]
    assert knots_mm(marks[[0, 1, 3, 4, 5]]).tolist() == [15.0, 800.0]
