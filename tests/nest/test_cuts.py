"""A long nest cut into frames: nothing is shorter, by trying everything."""

from itertools import pairwise, product

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from nestplan.nest.cuts import cut

ends = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 12)), min_size=2, max_size=8)


def spans(copies):
    """Bottoms and tops of copies (bottom, height)."""
    bottom = np.array([low for low, _ in copies], dtype=float)
    return bottom, bottom + np.array([high for _, high in copies], dtype=float)


def total(bottom, top, groups):
    """Extents of all groups together."""
    return sum(float(top[rows].max() - bottom[rows].min()) for rows in groups)


@given(ends, st.integers(12, 40))
def test_every_copy_is_in_one_frame_and_every_frame_fits(copies, most):
    bottom, top = spans(copies)

    groups = cut(bottom, top, most)

    assert sorted(np.concatenate(groups).tolist()) == list(range(len(copies)))
    assert all(top[rows].max() - bottom[rows].min() <= most for rows in groups)
    assert all(top[one].max() <= top[other].min() for one, other in pairwise(groups))


@given(ends, st.integers(12, 30))
def test_no_two_frames_are_shorter_however_copies_are_shared_out(copies, most):
    """All 2^n ways to share the copies out to two frames, cut by a height or not."""
    bottom, top = spans(copies)
    assume(top.max() - bottom.min() > most)
    best = np.inf
    for first in product((False, True), repeat=len(copies)):
        chosen = np.array(first)
        if chosen.all() or not chosen.any():
            continue
        groups = [np.flatnonzero(chosen), np.flatnonzero(~chosen)]
        if all(top[rows].max() - bottom[rows].min() <= most for rows in groups):
            best = min(best, total(bottom, top, groups))

    groups = cut(bottom, top, most)

    assert (len(groups) == 2) == np.isfinite(best)
    if len(groups) == 2:
        assert total(bottom, top, groups) == best


@given(ends, st.integers(12, 20))
def test_no_set_of_cuts_has_fewer_frames_or_is_shorter(copies, most):
    """All ways to cut the copies in order of their tops."""
    bottom, top = spans(copies)
    order = np.lexsort((bottom, top))
    costs = []
    for cuts in product((False, True), repeat=len(copies) - 1):
        groups = np.split(order, np.flatnonzero(cuts) + 1)
        if all(top[rows].max() - bottom[rows].min() <= most for rows in groups):
            costs.append((len(groups), total(bottom, top, groups)))

    groups = cut(bottom, top, most)

    assert (len(groups), total(bottom, top, groups)) == min(costs)
