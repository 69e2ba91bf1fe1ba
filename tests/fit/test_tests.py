"""The tests that choose a fit and name a mark, against printed tables and by simulation."""

import numpy as np
import pytest
from scipy import stats

from nestplan.fit.bad_marks import bad_marks, least_seen_mm
from nestplan.fit.choose import choose, expected, f_test
from nestplan.fit.maps import design, turned_back
from nestplan.fit.noise import Noise, Residuals, left_by, residuals
from tests.fit.test_maps import MARKS, SEEN
from tests.marks.error_samples import model

EIGHT = np.array([(x, y) for y in (0.0, 340.0, 660.0, 1000.0) for x in (0.0, 1300.0)])
SIX = np.array([(x, y) for y in (0.0, 500.0, 1000.0) for x in (0.0, 1300.0)])
NOISE = Noise(model=model("affine", print_noise_mm=0.06), reading_mm=0.08)  # 0.1 mm in all


def plain(square: float, dof: int) -> Residuals:
    """Residuals of which only the sum is looked at."""
    return Residuals(Q=np.zeros((0, 0)), shifts_mm=np.zeros(0), square=square, dof=dof)


@pytest.mark.parametrize(
    ("dof", "five", "one"),
    [(2, 5.991, 9.210), (4, 9.488, 13.277), (6, 12.592, 16.812), (10, 18.307, 23.209)],
)
def test_what_noise_leaves_is_judged_by_the_chi_square_table(dof, five, one):
    """source: NIST/SEMATECH e-Handbook, 1.3.6.7.4, upper critical values."""
    assert expected(plain(five, dof)) == pytest.approx(0.05, abs=2e-5)
    assert expected(plain(one, dof)) == pytest.approx(0.01, abs=2e-5)


@pytest.mark.parametrize(
    ("more", "dof", "table"), [(1, 4, 7.709), (2, 2, 19.000), (2, 10, 4.103), (4, 6, 4.534)]
)
def test_a_richer_fit_is_judged_by_the_f_table(more, dof, table):
    """source: NIST/SEMATECH e-Handbook, 1.3.6.7.3, 5 % critical values."""
    f, chance = f_test(plain(1.0 + table * more / dof, dof + more), plain(1.0, dof))

    assert f == pytest.approx(table)
    assert chance == pytest.approx(0.05, abs=5e-5)


def test_the_worked_example_is_a_similarity():
    """F 156 for the scale over the turn, 0.18 for an affine fit over that (by hand)."""
    quiet = Noise(model=model("affine", print_noise_mm=0.03), reading_mm=0.04)
    turn = turned_back(MARKS, SEEN)
    printed = turn.back(SEEN)
    left = {k: residuals(k, quiet, MARKS, printed) for k in ("turn", "similarity", "affine")}

    assert f_test(left["turn"], left["similarity"])[0] == pytest.approx(156.19, abs=0.01)
    assert f_test(left["similarity"], left["affine"])[0] == pytest.approx(0.1831, abs=1e-3)
    assert choose(quiet, MARKS, SEEN, turn).kind == "similarity"


def test_the_handbooks_bad_measurement_has_its_own_grubbs_statistic():
    """source: NIST/SEMATECH e-Handbook 1.3.5.17.1 (Grubbs 1969): G = 2.4688, critical 2.032.

    With G the greatest distance from the mean in standard deviations, leaving that value out
    lowers the sum of squares by the share G^2 N / (N - 1)^2.
    """
    values = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])
    n = len(values)
    places = np.zeros((n, 2))
    left = left_by(design("shift", places), np.eye(2 * n), places, np.outer(values, (1, 0)))

    falls, _ = left.without()

    assert falls.argmax() == 7
    G = np.sqrt(falls.max() / left.square) * (n - 1) / np.sqrt(n)
    assert pytest.approx(2.4688, abs=1e-4) == G


def test_the_simplest_fit_is_taken_for_each_kind_of_print():
    """Nothing, a turn, one scale, two scales and skew, strips: noise of 0.1 mm throughout."""
    rng = np.random.default_rng(3)
    x, y = EIGHT.T
    bent = np.column_stack([0 * x, 2.0 * np.sin(y / 1000 * np.pi)])
    prints = {
        "turn": EIGHT[:, ::-1] * (-1, 1),
        "similarity": EIGHT * 1.002,
        "affine": np.column_stack([x * 1.002 + 0.001 * y, y]),
        "strips": EIGHT + bent,
        "shift": EIGHT + (30, 40),
    }
    for kind, seen in prints.items():
        noisy = seen + rng.normal(0, 0.1, seen.shape)
        assert choose(NOISE, EIGHT, noisy, turned_back(EIGHT, noisy)).kind == kind


def test_a_sound_print_is_seldom_doubted():
    """At most one in 250, with every fit in it: 2 x 0.1 % by the level of the test."""
    rng = np.random.default_rng(4)
    doubted = 0
    for _ in range(500):
        printed = SIX * (1.003, 0.998) + rng.normal(0, 0.1, SIX.shape)
        doubted += bad_marks(residuals("affine", NOISE, SIX, printed)) is not None

    assert doubted <= 2 + 3  # 2 expected of 1000, three more by chance


def test_one_misread_mark_is_named_on_six_and_only_suspected_on_four():
    """Three pairs, affine: named from about 8.6 sd on; four corners: never."""
    rng = np.random.default_rng(5)
    corners = SIX[[0, 1, 4, 5]]
    for marks, named in ((SIX, True), (corners, False)):
        for bad in range(len(marks)):
            printed = marks + rng.normal(0, 0.1, marks.shape)
            printed[bad] += (3.0, -4.0)
            found = bad_marks(residuals("affine", NOISE, marks, printed))
            assert found is not None
            assert found.named == named
            assert bad in found.rows
            if named:
                assert found.offset_mm == pytest.approx(5.0, abs=0.6)


def test_what_is_said_to_be_seen_is_seen():
    """A mark misread by just so much is found in 95 % of cases; its square is 2n terms of noise."""
    left = residuals("affine", NOISE, SIX, SIX)
    least = least_seen_mm(left)
    bar = stats.chi2.isf(1e-3 / len(SIX), 2)
    rng = np.random.default_rng(6)
    found = 0
    for _ in range(400):
        printed = SIX + rng.normal(0, 0.1, SIX.shape)
        printed[0] += (0.0, least[0])
        found += residuals("affine", NOISE, SIX, printed).without()[0][0] > bar

    assert found / 400 == pytest.approx(0.95, abs=0.03)


def test_a_mark_that_nothing_checks_is_told():
    """Three corners fix an affine fit exactly: any of them may be wrong."""
    three = SIX[[0, 1, 4]]

    assert np.isinf(least_seen_mm(residuals("affine", NOISE, three, three))).all()
