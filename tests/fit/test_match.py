"""Which point is which mark, by geometry."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.fit.match import pairings
from nestplan.fit.noise import Noise
from tests.fit.handmade import MARKS
from tests.marks.error_samples import model

FRAMES = [np.array(marks, dtype=float) for marks in MARKS]
NOISE = Noise(model=model("affine", print_noise_mm=0.06), reading_mm=0.08)


def lying(points: np.ndarray, angle_deg: float) -> np.ndarray:
    """Points turned about the origin and shifted."""
    z = np.exp(1j * np.radians(angle_deg)) * (points @ (1, 1j)) + 700 - 1200j
    return np.column_stack([z.real, z.imag])


@given(
    frame=st.sampled_from([0, 1]),
    angle=st.floats(0, 360),
    stretch=st.tuples(st.floats(-0.005, 0.005), st.floats(-0.005, 0.005)),
    skew=st.floats(-0.003, 0.003),
    missing=st.integers(0, 2),
    strays=st.integers(0, 5),
    seed=st.integers(0, 2**20),
)
def test_marks_are_found_whichever_way_the_sheet_lies(
    frame, angle, stretch, skew, missing, strays, seed
):
    """Some are missing, some points are none, and the film has grown and leans."""
    rng = np.random.default_rng(seed)
    marks = FRAMES[frame]
    kept = np.sort(rng.permutation(len(marks))[missing:])
    printed = marks[kept] * (1 + np.array(stretch)) + np.outer(marks[kept, 1], (skew, 0))
    seen = printed + rng.normal(0, 0.1, printed.shape)
    seen = np.concatenate([seen, rng.uniform((-50, 0), (650, 900), (strays, 2))])
    order = rng.permutation(len(seen))

    best = pairings(lying(seen, angle)[order], FRAMES, NOISE, mirrored=False)[0]

    assert best.frame == frame
    found = {int(order[a]): int(b) for a, b in zip(best.seen, best.planned, strict=True)}
    if missing < 2:
        assert found == {k: int(row) for k, row in enumerate(kept)}
    else:  # two missing may leave the rest alike; none may be taken for another with sureness
        assert len(found) >= len(kept) - 1


def test_a_mirror_image_goes_together_only_in_the_mirror():
    """No frame is its own mirror image."""
    seen = lying(FRAMES[0] * (-1, 1), 30)

    proper = pairings(seen, FRAMES, NOISE, mirrored=False)
    mirror = pairings(seen, FRAMES, NOISE, mirrored=True)
    assert len(mirror[0].seen) == 8
    assert mirror[0].square < 1e-6
    assert not proper or proper[0].plausibility(1.0) < mirror[0].plausibility(1.0) - 20


def test_points_at_random_are_no_sheet():
    """At best a few lie near a planned place, and they do not go together."""
    rng = np.random.default_rng(7)
    for _ in range(20):
        ways = pairings(rng.uniform(0, 500, (8, 2)), FRAMES, NOISE, mirrored=False)
        assert all(len(way.seen) <= 4 for way in ways)


def test_stretches_are_told_from_each_other():
    """2 % is another print."""
    assert not pairings(FRAMES[0] * 1.05, FRAMES, NOISE, mirrored=False)
    best = pairings(FRAMES[0] * (1.004, 0.996), FRAMES, NOISE, mirrored=False)[0]
    assert best.stretch == pytest.approx((0.996, 1.004), abs=1e-9)
