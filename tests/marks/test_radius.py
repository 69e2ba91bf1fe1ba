"""The radius that holds 95 % of two-dimensional normal errors."""

from math import exp, log, pi, sqrt

import numpy as np
import pytest

from nestplan.marks.radius import chance_beyond, radius_within

CENTRED = np.zeros((1, 2))


def spread(k: float) -> np.ndarray:
    return np.array([[[1.0, 0.0], [0.0, k**2]]])


@pytest.mark.parametrize(
    ("k", "radius"),
    [(0.0, 1.95996), (0.25, 1.97651), (0.5, 2.03586), (0.75, 2.18580), (1.0, 2.44775)],
)
def test_the_radius_of_unequal_axes_is_the_tabled_one(k, radius):
    """Ends by the tables of the normal distribution (1.95996) and of chi-square with two
    degrees of freedom (sqrt(5.99146)); between them by 2 000 000 draws to three places."""
    assert radius_within(CENTRED, spread(k))[0] == pytest.approx(radius, abs=1e-5)


@pytest.mark.parametrize("k", [0.1, 0.3, 0.6, 0.9])
def test_a_polynomial_gives_the_same_within_a_thousandth(k):
    second = 1.95996 + 0.2123 * k**2 + 0.4086 * k**4 - 0.1312 * k**6

    assert radius_within(CENTRED, spread(k))[0] == pytest.approx(second, rel=1.1e-3)


def test_a_turned_ellipse_has_the_radius_of_an_upright_one():
    c, s = np.cos(0.7), np.sin(0.7)
    turn = np.array([[c, -s], [s, c]])

    turned = radius_within(CENTRED, turn @ spread(0.4) @ turn.T)

    assert turned == pytest.approx(radius_within(CENTRED, spread(0.4)))


@pytest.mark.parametrize("share", [0.5, 0.95, 0.999])
def test_equal_axes_follow_rayleigh(share):
    radius = radius_within(CENTRED, spread(1.0), share)[0]

    assert radius == pytest.approx(sqrt(-2 * log(1 - share)))
    far = chance_beyond(CENTRED, spread(1.0), np.array([20.0]))[0]
    assert far == pytest.approx(exp(-200.0), rel=1e-9)


@pytest.mark.parametrize("mean", [0.5, 1.5, 4.0])
@pytest.mark.parametrize("radius", [1.0, 2.0, 4.5, 7.0])
def test_a_mean_moves_it_as_the_rice_distribution_says(mean, radius):
    """P(|e| > R) = exp(-(m^2 + R^2) / 2) sum over k of (m / R)^k I_k(m R) (Marcum's Q), here
    by its integral: r exp(-(r^2 + m^2) / 2) I_0(m r) from R on, I_0 as its own integral."""
    r = np.linspace(radius, radius + mean + 12, 4001)
    t = (np.arange(400) + 0.5) * pi / 400
    i0 = np.exp(mean * r[:, None] * (np.cos(t) - 1)).mean(axis=1)  # less exp(m r)
    density = r * np.exp(-((r - mean) ** 2) / 2) * i0
    expected = np.trapezoid(density, r)

    found = chance_beyond(np.array([[mean, 0.0]]), spread(1.0), np.array([radius]))[0]

    near = {"rel": 2e-4} if radius > mean else {"abs": 0.005}  # rays that graze are coarse
    assert found == pytest.approx(expected, **near)


def test_drawn_errors_lie_within_it():
    mean, covariance = np.array([[0.3, 0.2]]), np.array([[[0.04, 0.01], [0.01, 0.02]]])
    drawn = np.random.default_rng(1).multivariate_normal(mean[0], covariance[0], 200_000)

    inside = np.hypot(*drawn.T) <= radius_within(mean, covariance)[0]

    assert inside.mean() == pytest.approx(0.95, abs=0.0025)  # five standard errors


def test_no_spread_leaves_the_mean():
    radius = radius_within(np.array([[3.0, 4.0], [0.0, 0.0]]), np.zeros((2, 2, 2)))

    assert radius == pytest.approx([5.0, 0.0], abs=1e-5)
