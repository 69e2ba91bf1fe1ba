"""Frames are told from each other and from their own half-turn by their marks."""

import numpy as np
import pytest

from nestplan.marks.apart import chance_mistaken, greatest_mistaken, turned
from tests.marks.error_samples import model, pairs

NOISE_MM = 0.1
QUIET = model("affine", sensor_noise_mm=NOISE_MM)


def shifted(marks: np.ndarray, which: list[int], by_mm: float) -> np.ndarray:
    """The marks, some of them farther along the feed."""
    moved = marks.copy()
    moved[which, 1] += by_mm
    return moved


@pytest.mark.parametrize(
    ("number", "which", "by_mm"),
    [
        # shifts that leave one mistake in a million: 9.507 noise / sqrt(g), with the share g of a
        # shift that an affine fit leaves worked out by hand: a corner of four 1/4, of six 5/12,
        # a middle pair of six 4/3
        (4, [0], 9.507 * NOISE_MM / np.sqrt(1 / 4)),
        (6, [0], 9.507 * NOISE_MM / np.sqrt(5 / 12)),
        (6, [2, 3], 9.507 * NOISE_MM / np.sqrt(4 / 3)),
    ],
)
def test_a_shifted_mark_is_mistaken_once_in_a_million(number, which, by_mm):
    marks = pairs(number)

    found = chance_mistaken(QUIET, marks, shifted(marks, which, by_mm))

    assert found == pytest.approx(1e-6, rel=0.05)


def test_both_marks_of_an_end_tell_nothing():
    marks = pairs(4)

    assert chance_mistaken(QUIET, marks, shifted(marks, [2, 3], 50.0)) > 0.4


def test_an_even_layout_is_its_own_half_turn():
    assert chance_mistaken(QUIET, pairs(8), turned(pairs(8))) == pytest.approx(0.5)


def test_a_stretched_and_askew_frame_is_no_other_frame():
    marks = pairs(6)
    askew = marks @ np.array([[1.002, 0.004], [-0.003, 0.997]])

    assert chance_mistaken(QUIET, marks, askew) > 0.49


def test_a_mark_more_is_counted():
    assert chance_mistaken(QUIET, pairs(6), pairs(8)) == 0.0


def test_the_chance_is_that_of_drawn_readings():
    """Noise, waves and a wandering film drawn by Cholesky; both layouts fitted by least squares."""
    told = model("affine", sensor_noise_mm=0.3, distortion_mm=0.3, tracking_mm_m=0.3)
    right = pairs(6)
    other = shifted(right, [2], 1.5)
    rng = np.random.default_rng(5)
    apart2 = ((right[:, None] - right) ** 2).sum(axis=2)
    smooth = 0.09 * (np.exp(-apart2 / (2 * 300.0**2)) + np.eye(6))
    walk = 0.09 / 1000 * np.minimum.outer(right[:, 1], right[:, 1])
    roots = [np.linalg.cholesky(each) for each in (smooth + walk, smooth)]
    draws = rng.standard_normal((60_000, 2, 6))
    read = right + np.stack([draws[:, a] @ roots[a].T for a in (0, 1)], axis=2)

    def square(layout: np.ndarray) -> np.ndarray:
        columns = np.column_stack([right / 1000, np.ones(6)])
        away = np.eye(6) - columns @ np.linalg.pinv(columns)
        return ((away @ (read - layout)) ** 2).sum(axis=(1, 2))

    drawn = (square(other) < square(right)).mean()
    assert chance_mistaken(told, right, other) == pytest.approx(drawn, rel=0.06)


def test_the_worst_pair_of_a_run_counts_turned_or_not():
    one = shifted(pairs(6), [2], 40.0)
    assert greatest_mistaken(QUIET, [one]) < 1e-9
    assert greatest_mistaken(QUIET, [one, shifted(pairs(6), [3], -40.0)]) == pytest.approx(0.5)
