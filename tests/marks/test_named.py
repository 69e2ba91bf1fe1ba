"""One bad mark: named, or only suspected."""

from itertools import combinations

import numpy as np
import pytest

from nestplan.marks.corrects import rows
from nestplan.marks.named import chance_misnamed, named, residual_share
from tests.marks.error_samples import pairs

CORNERS = pairs(4, 1300, 1500)


def inside(*shares: tuple[float, float]) -> np.ndarray:
    """Corners and places inside, as shares of width and length."""
    return np.vstack([CORNERS, np.array(shares) * (1300, 1500)])


@pytest.mark.parametrize(
    ("corrects", "marks", "alike", "times"),
    [
        # worked out independently: cosines and strengths of layouts on 1300 x 1500 mm
        ("similarity", CORNERS, 0.756, 9.5),
        ("similarity", pairs(6, 1300, 1500), 0.451, 5.9),
        ("affine", CORNERS, 1.0, None),
        ("affine", inside((0.4, 0.3)), 0.989, 59.8),
        ("affine", inside((0.5, 0.5)), 1.0, None),
        ("affine", pairs(6, 1300, 1500), 0.632, 8.6),
        ("affine", pairs(10, 1300, 1500), 0.447, 6.0),
        ("strips", pairs(8, 1300, 1500), 1.0, None),
    ],
)
def test_known_layouts(corrects, marks, alike, times):
    found = named(corrects, marks)

    assert found.alike == pytest.approx(alike, abs=6e-4)
    assert found.times_noise == (None if times is None else pytest.approx(times, abs=0.11))
    assert found.sure == (times is not None and times < 20)


@pytest.mark.parametrize("corrects", ["turn", "similarity", "affine"])
def test_a_mark_is_named_exactly_when_the_fit_survives_the_loss_of_any_two(corrects):
    """Random layouts, some with many marks in line; a fit is determined when J keeps its rank."""
    rng = np.random.default_rng(6)
    seen = set()
    for _ in range(200):
        marks = rng.uniform(0, 1, (rng.integers(3, 8), 2))
        marks[: rng.integers(0, len(marks) + 1), 0] = 0.3
        design = rows(corrects, marks - marks.mean(axis=0), np.zeros(0))
        full = np.linalg.matrix_rank(design.reshape(-1, design.shape[2]))
        survives = full == design.shape[2] and all(
            np.linalg.matrix_rank(np.delete(design, pair, axis=0).reshape(-1, full), tol=1e-9)
            == full
            for pair in combinations(range(len(marks)), 2)
        )
        seen.add(survives)
        assert (named(corrects, marks).times_noise is not None) == survives
    assert seen == {True, False}


def test_the_chance_of_a_wrong_name_is_that_of_drawn_readings():
    """Three pairs, an affine fit, a mark off by six standard deviations."""
    marks, bad, other = pairs(6, 1300, 1500), 2, 4
    left = residual_share("affine", marks)[::2, ::2]
    alike = abs(left[bad, other]) / np.sqrt(left[bad, bad] * left[other, other])
    rng = np.random.default_rng(1)
    read = rng.standard_normal((200_000, len(marks), 2))
    read[:, bad, 0] += 6.0

    strength = ((read.transpose(0, 2, 1) @ left) ** 2).sum(axis=1) / np.diag(left)
    drawn = (strength[:, other] > strength[:, bad]).mean()

    assert chance_misnamed(6.0, alike, left[bad, bad]) == pytest.approx(drawn, rel=0.05)
