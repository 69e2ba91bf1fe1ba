"""Pictures laid out: in their room, at round scales, one for all where that can be."""

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.files.proof_flow import column_mm
from nestplan.files.proof_lengths import Lengths
from nestplan.quote.pictures import SEEN_MM, pictures

ROUND = {1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8}
WIDE_MM = 182.0
PLAIN = Lengths(False)


def decal(wide, high, backing=None, rows=()):
    """What the layout asks of a decal."""
    outline = SimpleNamespace(width_mm=wide, height_mm=high)
    return SimpleNamespace(
        name="decal", contour=outline, footprint=outline, backing=backing, rows=rows, cut="kiss"
    )


def is_round(denominator):
    while denominator >= 10:
        denominator /= 10
    return any(abs(denominator - each) < 1e-9 for each in ROUND)


def test_one_that_fits_is_shown_at_its_own_size():
    laid = pictures((decal(90.0, 60.0),), PLAIN, WIDE_MM, 100.0)

    assert laid.denominators == (1.0,)
    assert laid.rows_mm == (60.0,)


def test_two_sizes_have_one_scale_so_that_they_can_be_compared():
    laid = pictures((decal(300.0, 200.0), decal(60.0, 40.0)), PLAIN, WIDE_MM, 100.0)

    assert laid.one_scale and laid.denominators[0] > 1


def test_where_the_smallest_could_not_be_seen_each_has_its_own_scale():
    laid = pictures((decal(1200.0, 400.0), decal(12.0, 12.0)), PLAIN, WIDE_MM, 100.0)

    assert not laid.one_scale
    assert laid.denominators[1] == 1.0


def test_none_fits_a_room_that_is_too_low():
    assert pictures(tuple(decal(50.0, 50.0) for _ in range(40)), PLAIN, WIDE_MM, 60.0) is None


@given(
    sizes=st.lists(st.tuples(st.floats(3, 3000), st.floats(3, 3000)), min_size=1, max_size=24),
    room=st.floats(30, 120),
    inches=st.booleans(),
)
def test_every_picture_lies_in_its_cell_at_a_round_scale(sizes, room, inches):
    decals = tuple(decal(*size) for size in sizes)
    laid = pictures(decals, Lengths(inches), WIDE_MM, room)
    if laid is None:
        return

    assert laid.height_mm() <= room + 1e-6
    cell = column_mm(WIDE_MM, laid.columns)
    for k, ((wide, high), scale) in enumerate(zip(sizes, laid.denominators, strict=True)):
        assert scale >= 1 and is_round(scale)
        assert wide / scale <= cell + 1e-6
        assert high / scale <= laid.rows_mm[k // laid.columns] + 1e-6
    if laid.one_scale and laid.denominators[0] > 1:
        assert min(max(size) for size in sizes) / laid.denominators[0] >= SEEN_MM - 1e-6


@pytest.mark.parametrize("columns", [1, 2, 3])
def test_words_under_the_pictures_are_counted(columns):
    """A line more of words makes each row of pictures 2.9 mm taller."""
    decals = tuple(decal(165.0 / columns, 20.0) for _ in range(3))
    plain, inches = (pictures(decals, Lengths(on), WIDE_MM, 120.0) for on in (False, True))

    rows = len(plain.rows_mm)
    assert len(inches.rows_mm) == rows == -(-3 // columns)
    assert inches.height_mm() - plain.height_mm() == pytest.approx(2.9 * rows)
