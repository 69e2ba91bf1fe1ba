"""The bound on mark noise: below every set, near the best, and exact where optima are known."""

import numpy as np
import pytest

from nestplan.marks.design import design_of, far_points, greatest_noise, noise_left
from nestplan.marks.exchange import rounded
from nestplan.marks.field import INSIDE, Field
from nestplan.marks.parcels import parcels, whole_in_parcels
from nestplan.marks.relax import certified, relaxed
from tests.marks.mark_fields import best_of_all, contours, invented_field, small_field

PARAMETERS = {"turn": 3, "similarity": 4, "affine": 6}


def free_field(places: np.ndarray) -> Field:
    """Places without any rule."""
    return Field(
        places_mm=places,
        edge=np.full(len(places), INSIDE),
        corners=(),
        spacing_mm=1e9,
        apart_mm=0.0,
    )


@pytest.mark.parametrize("corrects", PARAMETERS)
@pytest.mark.parametrize("number", [4, 8, 12])
def test_where_marks_may_stand_at_every_contour_the_bound_is_p_over_n(corrects, number):
    """The equivalence theorem: over a set of places that are candidates too, the least greatest
    variance of a fit of p figures to N readings of two coordinates is p / N (sum of both axes).
    source: Kiefer and Wolfowitz, Canadian J. Math. 12 (1960) 363-366, here for pairs of readings
    """
    t = np.linspace(-1, 1, 41)
    edge = np.concatenate(
        [np.column_stack([300 * t, 0 * t + s]) for s in (-200, 200)]
        + [np.column_stack([0 * t + s, 200 * t]) for s in (-300, 300)]
    )
    places = np.concatenate([edge] * number)  # a place may be taken more than once
    design = design_of(corrects, places, edge)

    found = relaxed(free_field(places), design, number, close=1e-5)

    assert found.bound == pytest.approx(PARAMETERS[corrects] / number, rel=2e-5)
    assert found.reached == pytest.approx(PARAMETERS[corrects] / number, rel=2e-5)


@pytest.mark.parametrize("corrects", ["similarity", "affine"])
@pytest.mark.parametrize("seed", range(4))
def test_no_set_of_marks_is_below_the_bound(corrects, seed):
    field = small_field(seed)
    design = design_of(corrects, field.places_mm, contours(seed, 80, (600, 500)))

    found = relaxed(field, design, 6, close=1e-4)
    optimum = best_of_all(field, design, 6)

    assert found.bound <= optimum * (1 + 1e-9)
    assert found.bound > 0.8 * optimum


@pytest.mark.parametrize("corrects", ["similarity", "affine"])
@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("parcel_mm", [100.0, 250.0])
def test_whole_numbers_in_parcels_bring_the_bound_nearer_and_never_above_any_set(
    corrects, seed, parcel_mm
):
    field = small_field(seed)
    design = design_of(corrects, field.places_mm, contours(seed, 80, (600, 500)))

    loose = relaxed(field, design, 7)
    tight = whole_in_parcels(field, design, 7, loose, parcel_mm=parcel_mm)
    optimum = best_of_all(field, design, 7)

    assert loose.bound * (1 - 1e-9) <= tight.bound <= optimum * (1 + 1e-6)
    assert optimum - tight.bound < 0.6 * (optimum - loose.bound) + 0.01 * optimum
    for rows in parcels(field, parcel_mm):
        assert tight.weights[rows].sum() == pytest.approx(
            round(tight.weights[rows].sum()), abs=1e-5
        )


@pytest.mark.parametrize("corrects", PARAMETERS)
@pytest.mark.parametrize("inside", [0, 60])
def test_a_linear_programme_without_the_cuts_certifies_the_bound(corrects, inside):
    field = invented_field(5, inside=inside)
    design = design_of(corrects, field.places_mm, contours(1))

    found = relaxed(field, design, 12, close=1e-4)

    assert certified(field, design, 12, found) == pytest.approx(found.bound, rel=1e-3)
    assert found.reached <= found.bound * (1 + 1e-4)


def test_weights_of_whole_marks_keep_every_rule():
    field = invented_field(2, inside=40)
    design = design_of("affine", field.places_mm, contours(2))

    rows = rounded(field, relaxed(field, design, 13).weights, 13)

    assert field.holds(rows)
    assert len(rows) == 13


def test_windows_say_the_same_as_the_greatest_gap():
    field = invented_field(3, blocked=0.5)
    windows = [set(rows.tolist()) for rows in field.windows()]
    rng = np.random.default_rng(0)
    seen = set()
    for _ in range(400):
        rows = {*field.corners, *rng.choice(len(field.places_mm), 12, replace=False).tolist()}
        gaps = [
            np.diff(np.sort([field.places_mm[r, 1] for r in rows if field.edge[r] == edge])).max()
            for edge in (0, 1)
        ]
        kept = max(gaps) <= field.spacing_mm
        seen.add(kept)
        assert kept == all(rows & window for window in windows)
    assert seen == {True, False}


def test_too_few_marks_for_the_spacing_have_no_bound():
    field = invented_field(1)

    assert relaxed(field, design_of("affine", field.places_mm, contours(1)), 8) is None


def test_only_the_hull_of_the_contours_counts_for_noise():
    field, points = invented_field(4, inside=20), contours(4, 400)
    rows = [*field.corners, 50, 120, 150]
    for corrects in PARAMETERS:
        far = design_of(corrects, field.places_mm, points)
        near = design_of(corrects, field.places_mm, points, hull=False)
        assert len(far.places) < 40
        assert greatest_noise(far, rows) == pytest.approx(greatest_noise(near, rows), rel=1e-12)
    knots = [0.0, 400.0, 900.0, 1500.0]
    far = design_of("strips", field.places_mm, points, knots)
    near = design_of("strips", field.places_mm, points, knots, hull=False)
    rows = rounded(field, np.ones(len(field.places_mm)), 14)
    assert greatest_noise(far, rows) == pytest.approx(greatest_noise(near, rows), rel=1e-12)


def test_places_in_line_are_their_own_hull():
    assert len(far_points(np.column_stack([np.arange(6.0), np.zeros(6)]))) == 6


@pytest.mark.parametrize(
    ("corrects", "expected"),
    [
        # TRE^2 / sigma^2 at the centre, mid-edge and a mark of 600 x 400 mm: the squares of the
        # published table's .035355 .037978 .043301 over .05, and so on
        ("turn", (0.5, 0.576923, 0.75)),
        ("similarity", (0.5, 0.653846, 1.0)),
        ("affine", (0.5, 1.0, 1.5)),
    ],
)
def test_noise_of_four_corners_is_the_published_one(corrects, expected):
    """source: Fitzpatrick, West, Maurer, IEEE Trans. Med. Imaging 17 (1998) 694-702, in two
    dimensions: FLE^2 / N (1 + d^2 / 2 f^2) for a turn, and its kin for the other fits.
    """
    marks = np.array([(0.0, 0.0), (600.0, 0.0), (600.0, 400.0), (0.0, 400.0)])
    places = np.array([(300.0, 200.0), (300.0, 0.0), (0.0, 0.0)])
    design = design_of(corrects, marks, places, hull=False)

    left = noise_left(design, np.ones(4))

    assert left.tolist() == pytest.approx(expected, rel=1e-5)
