"""What stands on the film of the demo jobs, judged by ways that share no code with the search."""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from nestplan.check.apart_claims import _mistaken
from nestplan.marks import Lanes, web_of
from nestplan.nest import Budget, placed
from nestplan.plan import nest_within
from tests.marks.demo_marks import JOBS, frames_of, planned
from tests.marks.swaps import better_swaps

CORNER_MM = 40.0  # a corner mark stands this near its end of the frame
WRONG = 1e-6  # a run's chance to take one layout for another, shared by its comparisons


@pytest.mark.parametrize("job", ["berths"])  # half a minute each: the others by hand
def test_no_swap_of_one_or_two_marks_lowers_the_greatest_error(job):
    """Of all sets that keep frames apart: swaps that would let one be taken for another, by the
    check's own reckoning, do not count."""
    run = planned(job)
    before: list[np.ndarray] = []
    for model, field, rows, points in frames_of(run):

        def is_apart(marks, model=model):
            said, marks = SimpleNamespace(**model), marks - marks.mean(axis=0)
            pairs = [(marks, -marks)]
            pairs += [pair for o in before for pair in ((marks, o), (o, marks), (marks, -o))]
            most = 0.9 * WRONG / (2 * len(run.marks.frames))  # a hair's breadth is no swap
            return all(_mistaken(said, a, b) <= most for a, b in pairs)

        greatest, looked, better = better_swaps(
            model,
            field.places_mm,
            field.edge,
            list(field.corners),
            rows,
            points,
            spacing_mm=field.spacing_mm,
            apart_mm=field.apart_mm,
            allowed=is_apart,
        )

        assert looked > 100
        assert 0.05 < greatest < 0.3
        assert better == []
        marks = field.places_mm[rows]
        before.append(marks - marks.mean(axis=0))


def cost_film(run) -> list[list[int]]:
    """Of each frame, the numbers of the marks that film was added for: those in a longer end, and
    as many in a lane as the spacing asks for; one more in a lane that is there costs nothing."""
    sensor = run.job.cutter.sensor
    blank = sensor.size_mm / 2 + sensor.clear_mm
    lanes = run.nest.x0_mm > web_of(run.job).printable_mm[0]
    found = []
    for frame, strip in zip(run.marks.frames, run.nest.strips, strict=True):
        bleed = max(run.artwork.decals[k].bleed_mm for k in set(strip.placements.shape.tolist()))
        low, high = frame.strip_y0_mm - bleed, frame.strip_y0_mm + strip.length_mm + bleed
        cost = []
        if lanes:
            lane = sorted((m.y_mm, m.number) for m in frame.marks if m.x_mm < run.nest.x0_mm)
            reach = lane[-1][0] - lane[0][0]
            cost += [number for _, number in lane][: 1 + int(np.ceil(reach / sensor.spacing_mm))]
        cost += [
            m.number
            for m in frame.marks
            if m.number not in cost
            and (m.y_mm - blank < low - 1e-6 or m.y_mm + blank > high + 1e-6)
            and not (lanes and m.x_mm < run.nest.x0_mm)
            and not _beside(run, frame, strip, m, blank)
        ]
        found.append(cost)
    return found


def _beside(run, frame, strip, mark, blank) -> bool:
    """Whether the mark could stand as near the strip's end with no film added: nothing is printed
    beside it."""
    middle = frame.strip_y0_mm + strip.length_mm / 2
    inward = np.sign(middle - mark.y_mm)
    end = frame.strip_y0_mm + (strip.length_mm if inward < 0 else 0.0)
    place = shapely.Point(mark.x_mm, end + inward * blank)
    return ink_of(run.artwork.decals, run.nest, strip, frame.strip_y0_mm).distance(place) >= blank


def ink_of(decals, nest, strip, y0_mm: float) -> shapely.Geometry:
    """What a strip prints."""
    laid = strip.placements
    return shapely.union_all(
        [
            placed(decals[shape].contour, centre + (nest.x0_mm, y0_mm), float(angle)).region.buffer(
                decals[shape].bleed_mm
            )
            for shape, centre, angle in zip(
                laid.shape.tolist(), laid.centre_mm, laid.angle_deg, strict=True
            )
        ]
    )


@pytest.mark.parametrize("job", JOBS)
def test_at_least_half_of_the_marks_cost_no_film(job):
    run = planned(job)

    for frame, cost in zip(run.marks.frames, cost_film(run), strict=True):
        assert 2 * len(cost) <= len(frame.marks)


def both_edges_hold(run, nest) -> bool:
    """Whether marks may stand along both edges from end to end with no film added to this nest.

    The nest is moved across the film in half millimetres, and every place of a grid as fine is
    tried: near both ends of each edge, off everything printed, no gap over the spacing.
    """
    sensor, (left, right) = run.job.cutter.sensor, web_of(run.job).printable_mm
    (strip,), bleed = nest.strips, run.artwork.decals[0].bleed_mm
    blank = sensor.size_mm / 2 + sensor.clear_mm
    ink = ink_of(run.artwork.decals, nest, strip, bleed)
    off = ink.buffer(blank - 0.02)
    shapely.prepare(off)
    length = strip.length_mm + 2 * bleed
    y = np.arange(blank, length - blank + 0.01, 0.5)

    def holds(low: float, high: float) -> bool:
        x, rows = np.meshgrid(np.arange(low, high + 0.01, 0.5), y)
        free = y[~shapely.contains_xy(off, x, rows).all(axis=1)]
        if not len(free) or free[0] > blank + CORNER_MM or free[-1] < length - blank - CORNER_MM:
            return False
        at = free[0]
        while free[-1] - at > sensor.spacing_mm:
            on = free[free <= at + sensor.spacing_mm][-1]
            if on == at:
                return False
            at = on
        return True

    reach, width = sensor.reach_left_mm, run.job.roll.width_mm
    x_from, _, x_to, _ = ink.bounds
    return any(
        holds(reach - shift, reach + 60 - shift)
        and holds(width - reach - 60 - shift, width - reach - shift)
        for shift in np.arange(left - x_from, right - x_to + 0.01, 0.5)
    )


def test_berth_plates_need_a_lane_for_one_edge_and_film_for_no_more():
    """Why three of the seven marks of the berth plates cost film: made without a lane the nest
    leaves no room for marks along both edges, wherever it lies and whatever places are tried;
    made with one it does, and three marks are all that the spacing asks for in it."""
    run = planned("berths")
    budget = Budget(steps=300, seed=1, workers=2, stopped=lambda: False)
    without = nest_within(run.job, run.artwork, Lanes(), budget, lambda *_: None)

    assert not both_edges_hold(run, without)
    assert both_edges_hold(run, run.nest)
    assert len(cost_film(run)[0]) == 3
    assert run.nest.length_mm < 1.02 * without.length_mm
