"""Path data as SVG 1.1 (W3C, second edition, 2011, chapter 8.3) writes it."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from svgelements import Path

from nestplan.check.path_data import rings_of

TRIANGLE = [[1.0, 2.0], [5.0, 2.0], [5.0, 8.0]]


@pytest.mark.parametrize(
    "data",
    [
        "M1 2 L5 2 L5 8 Z",
        "M 1,2 L 5,2 5,8 z",
        "M1 2 5 2 5 8Z",  # 8.3.2: pairs after a moveto are linetos
        "m1 2 4 0 0 6z",  # 8.3.2: a first relative moveto is absolute
        "M1 2H5V8Z",
        "M1 2h4v6z",
        "M1 2l4-0L5,8z",  # 8.3.1: separators may be left out
        "M1 2 L5 2 L5 8 L1 2 Z",  # the first point again
        "  M1e0 2.0L.5e1 2L5 80e-1 Z ",
    ],
)
def test_the_same_triangle_in_many_words(data):
    ((ring, closed),) = rings_of(data)

    assert closed
    assert ring.tolist() == TRIANGLE


def test_a_path_that_is_not_closed_is_said_to_be_open():
    ((_, closed),) = rings_of("M1 2 L5 2 L5 8")

    assert not closed


def test_each_subpath_is_a_ring_and_relative_moves_start_from_the_last_start():
    """8.3.3: after a closepath the current point is the start of the subpath."""
    rings = rings_of("M0 0h4v4h-4zm10 10h2v2h-2z")

    assert [ring[0].tolist() for ring, _ in rings] == [[0, 0], [10, 10]]


@pytest.mark.parametrize("data", ["M1 2 C1 2 3 4 5 6Z", "M1 2 L5", "L", "M1 2 L5 x", "1 2", "M,"])
def test_what_is_no_straight_path_is_refused(data):
    with pytest.raises(ValueError, match=r"line|numbers|path data"):
        rings_of(data)


def test_damaged_data_is_read_to_the_end():
    """A pattern that backtracks would take longer than the universe has."""
    with pytest.raises(ValueError, match="path data"):
        rings_of("M1 2 " + "L3.0000 4.0000 " * 2000 + "# Z")


numbers = st.floats(-1e4, 1e4).map(lambda value: round(value, 4))
commands = st.one_of(
    st.tuples(st.sampled_from("LlMm"), numbers, numbers),
    st.tuples(st.sampled_from("HhVv"), numbers),
    st.tuples(st.sampled_from("Zz")),
)


@given(st.lists(commands, min_size=1, max_size=12))
def test_a_second_reader_sees_the_same_points(steps):
    """svgelements reads the same words and ends at the same place."""
    words = [("M", 3.0, 4.0), *steps, ("l", 1.0, 1.0)]
    data = " ".join(" ".join(map(str, word)) for word in words)

    end = Path(data).current_point
    last = rings_of(data)[-1][0]

    if len(last) > 1:
        assert last[-1] == pytest.approx(np.array([end.x, end.y]), abs=1e-6)
    assert not re.search("nan", str(last))
