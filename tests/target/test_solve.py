"""Figures from readings: against simulated machines, closed forms, and slips."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from nestplan.faults import Fault
from nestplan.target.layout import make_target
from nestplan.target.scatter import scatter_of
from nestplan.target.solve import DIFFERENCE, STEP_MM, measure
from nestplan.target.tape import tape_limit_mm
from tests.bench.target import covered, wanted, with_slip
from tests.target.simulate import CORRECTS, read, target_of, truth
from tests.target.test_layout import on_film

SEEN = {
    "none": {"offset_x_mm", "offset_y_mm", "scale_across_percent", "scale_along_percent"}
    | {"skew_mm_m"},
    "similarity": {"offset_x_mm", "offset_y_mm", "skew_mm_m", DIFFERENCE},
    "affine": {"offset_x_mm", "offset_y_mm"},
}
SEEN |= {"turn": SEEN["none"], "strips": SEEN["affine"]}
SIZES = {"size_across_percent", "size_along_percent", "size_skew_mm_m"}


@pytest.mark.parametrize("corrects", CORRECTS)
def test_a_machine_that_strays_in_nothing_is_read_as_it_is(corrects):
    """Within the half step of the vernier; what the fit takes up is not told."""
    rng = np.random.default_rng(4)
    target, true = target_of(corrects, quiet=True), truth(rng)
    measured = measure(target, read(target, true, rng, sd_mm=0.0))

    assert {told.key for told in measured.told} == SEEN[corrects] | SIZES
    hidden = {untold.key for untold in measured.untold}
    told = SEEN["none"] | SIZES
    assert hidden == told - {told.key for told in measured.told}
    for each in measured.told:
        near = {"offset": 0.02, "scale_": 0.005, "skew_m": 0.05}.get(each.key[:6], 2 * each.sd)
        assert each.value == pytest.approx(wanted(each, true), abs=near), each.key


@pytest.mark.parametrize("corrects", ["none", "similarity", "affine"])
@pytest.mark.parametrize("quiet", [True, False])
def test_ninety_percent_intervals_hold_the_truth_in_about_ninety_percent(corrects, quiet):
    """120 sheets of five figures or more: the standard error is under one percent and a half,
    correlated as the figures of a sheet are, three."""
    assert 0.82 <= covered(corrects, quiet, 120, seed=2)["all"] <= 0.96


def test_an_offset_alone_is_the_mean_with_students_interval():
    """With an affine cutter and no other noise the readings of an axis have one mean; scatter is
    pooled over both axes: mean +- t(0.95, 2n - 2) s / sqrt(n), as any handbook has it."""
    rng = np.random.default_rng(8)
    target = target_of("affine", quiet=True)
    readings = read(target, truth(rng), rng)
    x = np.array([each.x_mm for each in readings.stations])
    y = np.array([each.y_mm for each in readings.stations])
    n = len(x)
    pooled = (((x - x.mean()) ** 2).sum() + ((y - y.mean()) ** 2).sum()) / (2 * n - 2)
    half = stats.t.ppf(0.95, 2 * n - 2) * np.sqrt(pooled / n)

    told = measure(target, readings).figure("offset_x_mm")

    assert told.value == pytest.approx(x.mean())
    assert told.half == pytest.approx(half, rel=1e-4)


def test_scatter_beside_a_known_share_is_found_again():
    """Twenty readings with a variance of 0.01 of which 0.0064 is known: the mean of many estimates
    is the rest, and fewer degrees of freedom are claimed than without a share."""
    rng = np.random.default_rng(3)
    columns, shared = np.ones((20, 1)), 0.0064 * np.eye(20)
    found = [
        scatter_of(0.1 * rng.standard_normal(20), columns, 1, shared, 1e-8) for _ in range(300)
    ]

    assert np.mean([each.variance_mm2 for each in found]) == pytest.approx(0.0036, rel=0.15)
    assert scatter_of(rng.normal(size=20), columns, 1, 0 * shared, 1e-8).freedom == 19
    assert all(each.freedom < 19 for each in found)


@pytest.mark.parametrize("corrects", CORRECTS)
def test_one_misread_station_is_named_and_left_out(corrects):
    rng = np.random.default_rng(6)
    target, true = target_of(corrects), truth(rng)
    good = read(target, true, rng)
    measured = measure(target, with_slip(good, 5, 1.5, rng))

    assert measured.left_out == (5,)
    note = measured.notes[0]
    assert (note.level, note.where) == ("look", "read.csv, line 5")
    assert "station 5 does not agree with the others and is left out" in note.text
    without = replace(good, stations=tuple(s for s in good.stations if s.number != 5))
    assert measured.told == measure(target, without).told


def test_two_misread_stations_are_not_quietly_dropped():
    rng = np.random.default_rng(6)
    target = target_of("affine", quiet=True)
    readings = with_slip(read(target, truth(rng), rng), 5, 2.0, rng)
    measured = measure(target, with_slip(readings, 2, 1.2, rng))

    assert measured.left_out == (5,)
    assert "station 2 does not agree with the others either" in measured.notes[1].text


def test_stations_in_a_line_cannot_tell_what_needs_a_width():
    rng = np.random.default_rng(2)
    target = target_of("none", quiet=True)
    readings = read(target, truth(rng), rng)
    left = replace(
        readings, stations=tuple(s for s in readings.stations if s.number % 3 == 1), tapes=()
    )
    measured = measure(target, left)

    why = {untold.key: untold.why for untold in measured.untold}
    assert "in a line: read more" in why["scale_across_percent"]
    assert "tape lengths across are not filled in" in why["size_across_percent"]
    assert measured.figure("scale_along_percent") is not None


def test_fewer_than_three_stations_are_refused():
    rng = np.random.default_rng(2)
    target = target_of("affine")
    readings = read(target, truth(rng), rng)

    with pytest.raises(Fault, match="2 stations filled in, at least 3"):
        measure(target, replace(readings, stations=readings.stations[:2]))


def test_narrow_film_says_what_it_cannot_tell():
    target = make_target(on_film(width_mm=130.0))
    rng = np.random.default_rng(2)
    measured = measure(target, read(target, truth(rng), rng))

    assert measured.figure("offset_y_mm") is not None
    assert "size_across_percent" in {untold.key for untold in measured.untold}


def test_far_readings_ask_for_another_target():
    rng = np.random.default_rng(2)
    target, true = target_of("affine"), truth(rng) | {"offset_x_mm": 4.0}
    measured = measure(target, read(target, true, rng))

    assert measured.figure("offset_x_mm").value == pytest.approx(4.0, abs=0.2)
    assert any("beyond the 1 mm of the verniers" in note.text for note in measured.notes)


def test_a_tape_is_believed_as_far_as_its_class_allows():
    """Class II, +-(0.3 + 0.2 L): 0.5 mm at a metre, 0.7 mm at 1.3 m (Directive 2014/32/EU,
    Annex X, chapter I, table 1; from memory)."""
    assert tape_limit_mm(1000.0) == pytest.approx(0.5)
    assert tape_limit_mm(1300.0) == pytest.approx(0.7)
    rng = np.random.default_rng(2)
    target = target_of("affine")
    told = measure(target, read(target, truth(rng), rng)).figure("size_along_percent")
    assert 0.7 / np.sqrt(3) < told.sd / 100 * 1232 < 0.7


def test_a_tape_length_that_disagrees_is_named():
    rng = np.random.default_rng(2)
    target = target_of("affine")
    readings = read(target, truth(rng), rng)
    first = replace(readings.tapes[0], length_mm=readings.tapes[0].length_mm + 5)
    measured = measure(target, replace(readings, tapes=(first, *readings.tapes[1:])))

    assert [note.where for note in measured.notes] == ["read.csv, line 20"]
    assert "the tape lengths disagree" in measured.notes[0].text


def test_scatter_is_never_finer_than_the_vernier():
    rng = np.random.default_rng(2)
    target = target_of("affine", quiet=True)
    measured = measure(target, read(target, truth(rng), rng, sd_mm=0.0))

    assert measured.scatter_mm >= STEP_MM / np.sqrt(12) - 1e-9
