"""Print time by hand: strokes of a carriage, bands of film."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.clock.print_time import print_s, strokes_over
from nestplan.job import PrintMode


def mode(**changes):
    """Bands of 54 / 6 = 9 mm; a stroke over 880 mm takes (880 + 2 x 60) / 1000 + 0.4 = 1.4 s."""
    keys = {
        "name": "fine",
        "resolution_dpi": 720,
        "passes": 6,
        "swath_mm": 54.0,
        "carriage_mm_s": 1000.0,
        "turnaround_s": 0.4,
        "overscan_mm": 60.0,
        "directions": 2,
        "warm_up_s": 0.0,
    }
    return PrintMode.model_validate(keys | changes)


def test_one_frame_by_hand():
    """900 mm are 100 bands, and 5 strokes more until the last band has its six: 105 x 1.4 s."""
    assert print_s(mode(), width_mm=880.0, lengths_mm=(900.0,)) == pytest.approx(147.0)


def test_one_pass_is_one_stroke_a_swath():
    """540 mm are 10 swaths; one millimetre more is one swath more."""
    assert strokes_over(mode(passes=1), 540.0) == 10
    assert strokes_over(mode(passes=1), 541.0) == 11


def test_one_direction_doubles_the_strokes_but_not_the_warm_up():
    once = print_s(mode(warm_up_s=90.0), width_mm=880.0, lengths_mm=(900.0,))
    both = print_s(mode(warm_up_s=90.0, directions=1), width_mm=880.0, lengths_mm=(900.0,))

    assert once == pytest.approx(90 + 147)
    assert both == pytest.approx(90 + 2 * 147)


def test_white_passes_over_each_place_as_well():
    """Three more passes: 54 / 9 = 6 mm a stroke, 150 bands and 8 strokes more: 158 x 1.4 s."""
    more = mode(white_passes=3)

    assert print_s(more, width_mm=880.0, lengths_mm=(900.0,), white=True) == pytest.approx(221.2)
    assert print_s(more, width_mm=880.0, lengths_mm=(900.0,)) == pytest.approx(147.0)


def test_frames_add_up_and_warm_up_is_paid_once():
    """50 bands + 5 and 100 bands + 5: 160 strokes of 1.4 s."""
    found = print_s(mode(warm_up_s=60.0), width_mm=880.0, lengths_mm=(450.0, 900.0))

    assert found == pytest.approx(60 + 160 * 1.4)


def test_what_floats_lose_costs_no_stroke():
    """3 x 0.1 is a hair more than 0.3 to a computer: three bands all the same."""
    assert strokes_over(mode(passes=1, swath_mm=0.1), 0.1 + 0.1 + 0.1) == 3


@given(st.integers(1, 64), st.floats(1, 200), st.floats(1, 5000))
def test_so_many_strokes_pass_over_every_place_and_one_less_would_not(passes, swath_mm, length_mm):
    """Stroke k lies from k b - swath to k b, b the band; only those over a place count."""
    strokes = strokes_over(mode(passes=passes, swath_mm=swath_mm), length_mm)
    band_mm = swath_mm / passes

    def passed_over(place_mm, strokes):
        tops = [k * band_mm for k in range(1, strokes + 1)]
        return sum(top - swath_mm < place_mm < top for top in tops)

    last_place = length_mm - 1e-6 * band_mm  # just inside the end of the frame
    assert passed_over(band_mm * 1e-6, strokes) >= passes
    assert passed_over(last_place, strokes) >= passes
    assert passed_over(last_place, strokes - 1) < passes
