"""The search over outlines: legal to shapely's own measure, reproducible, stoppable."""

import hashlib
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import shapely.affinity

from nestplan.geometry.outline import outline_of
from nestplan.nest.engine import Budget
from nestplan.nest.outlines import Outlines
from nestplan.nest.patterns import Patterns
from nestplan.nest.placements import Layout, Placements, placed
from nestplan.nest.task import Obstacle
from nestplan.nest.verify import verify
from tests.nest.hand_shapes import centred, disc, shape, task

EXACT = 1e-6
HOUSE = Path(__file__).parents[2]

MIXED = task(
    shape("rectangle", 4),
    shape("angle", 4),
    shape("star", 5),
    shape("sickle", 3),
    shape("islands", 3),
    width_mm=170.0,
)


def budget(steps, seed=1, workers=2, **more):
    return Budget(steps=steps, seed=seed, workers=workers, **more)


def lying(asked, layout):
    """Every copy as a shapely area, turned and laid by the contract alone."""
    placements = layout.placements
    return [
        placed(asked.shapes[int(s)].outline, centre, float(angle)).region
        for s, centre, angle in zip(
            placements.shape, placements.centre_mm, placements.angle_deg, strict=True
        )
    ]


def assert_legal(asked, layout):
    """Counts, angles, edges, length and every distance, by shapely."""
    placements = layout.placements
    counts = np.bincount(placements.shape, minlength=len(asked.shapes)).tolist()
    assert counts == [s.copies for s in asked.shapes]
    for index, angle in zip(placements.shape.tolist(), placements.angle_deg.tolist(), strict=True):
        assert angle in asked.shapes[index].angles_deg
    areas = lying(asked, layout)
    for i, one in enumerate(areas):
        edge = asked.shapes[int(placements.shape[i])].edge_mm
        assert one.bounds[0] >= edge - EXACT
        assert one.bounds[2] <= asked.width_mm - edge + EXACT
        assert one.bounds[1] >= -EXACT
        for j in range(i):
            apart = asked.apart_mm[int(placements.shape[i])][int(placements.shape[j])]
            assert one.distance(areas[j]) >= apart - EXACT, (i, j)
        for obstacle in asked.obstacles:
            assert one.distance(obstacle.outline.region) >= obstacle.apart_mm - EXACT
    top = max(area.bounds[3] for area in areas)
    assert layout.length_mm == pytest.approx(top, abs=EXACT)


def digest(layout):
    """One word for every bit of the layout."""
    placements = layout.placements
    arrays = (placements.shape, placements.centre_mm, placements.angle_deg)
    return hashlib.sha256(b"".join(a.tobytes() for a in arrays)).hexdigest()


def test_a_mixed_nest_is_legal_and_much_shorter_than_laying_piece_by_piece():
    first = Outlines()(MIXED, budget(0))
    found = Outlines()(MIXED, budget(600))
    assert_legal(MIXED, first)
    assert_legal(MIXED, found)
    assert found.length_mm < 0.92 * first.length_mm


def test_gutters_that_differ_by_pair_and_edges_by_shape_are_kept():
    asked = replace(
        task(
            shape("rectangle", 4, edge_mm=2.0),
            shape("star", 4, edge_mm=7.0),
            width_mm=120.0,
        ),
        apart_mm=((1.0, 4.0), (4.0, 8.0)),
    )
    assert_legal(asked, Outlines()(asked, budget(300)))


def test_obstacles_are_kept_clear_each_by_its_own_distance():
    marks = tuple(
        Obstacle(
            outline=outline_of(shapely.transform(disc(6), lambda p, x=x, y=y: p + [x, y])),
            apart_mm=apart,
        )
        for x, y, apart in ((6.0, 6.0, 3.0), (114.0, 6.0, 3.0), (60.0, 70.0, 9.0))
    )
    asked = task(shape("rectangle", 5), shape("angle", 4), width_mm=120.0, obstacles=marks)
    free = replace(asked, obstacles=())
    found = Outlines()(asked, budget(400))
    assert_legal(asked, found)
    with pytest.raises(AssertionError):  # the obstacles do stand where pieces would be
        assert_legal(asked, Outlines()(free, budget(400)))


def test_a_hole_is_used():
    """Two rings fill the strip; two discs fit nowhere but into their holes, or above."""
    asked = task(shape("ring", 2), shape("disc", 2), width_mm=123.0 + 0.2)
    found = Outlines()(asked, budget(400))
    assert_legal(asked, found)
    rings = [a for a in lying(asked, found) if a.interiors]
    assert found.length_mm == pytest.approx(rings[0].bounds[3] - rings[0].bounds[1], abs=1e-3)


def test_columns_that_just_fill_the_width_fit():
    """Three of 80 with two gutters of 3 are 246: not a hair too wide, one row long."""
    asked = task(
        replace(
            shape("rectangle", 3, (0.0,)),
            outline=centred(shapely.box(0, 0, 80, 50)),
        ),
        width_mm=246.0,
    )
    found = Outlines()(asked, budget(300))
    assert_legal(asked, found)
    assert found.length_mm == pytest.approx(50.0, abs=EXACT)


def test_free_turning_uses_the_angles_it_is_given():
    asked = task(shape("rectangle", 3, tuple(15.0 * k for k in range(24))), width_mm=45.0)
    assert_legal(asked, Outlines()(asked, budget(200)))


@pytest.mark.parametrize("workers", [1, 2, 3])
def test_the_same_seed_steps_and_workers_give_the_same_bytes(workers):
    once = Outlines()(MIXED, budget(250, workers=workers))
    assert digest(Outlines()(MIXED, budget(250, workers=workers))) == digest(once)
    assert digest(Outlines()(MIXED, budget(250, seed=2, workers=workers))) != digest(once)


BUSY = "while True: pass"
AGAIN = """
from tests.nest.test_outlines import MIXED, budget, digest
from nestplan.nest.outlines import Outlines
from nestplan.nest.patterns import Patterns
print(digest(Outlines()(MIXED, budget(250))))
"""


def test_another_process_on_a_busy_machine_gives_the_same_bytes():
    here = digest(Outlines()(MIXED, budget(250)))
    load = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(2)]
    try:
        there = subprocess.run(
            [sys.executable, "-c", AGAIN], cwd=HOUSE, capture_output=True, text=True, check=True
        )
    finally:
        for process in load:
            process.kill()
            process.wait()
    assert there.stdout.strip() == here


def test_a_given_layout_is_never_made_longer_and_can_be_made_shorter():
    first = Outlines()(MIXED, budget(0))
    found = Outlines(start=first)(MIXED, budget(300))
    assert_legal(MIXED, found)
    assert found.length_mm < first.length_mm
    again = Outlines(start=found)(MIXED, budget(1, seed=9))
    assert again.length_mm <= found.length_mm


def crowded(layout, factor):
    """A layout drawn together along the strip, so that its copies overlap."""
    placements = layout.placements
    drawn = replace(placements, centre_mm=placements.centre_mm * [1.0, factor])
    return replace(layout, placements=drawn, length_mm=factor * layout.length_mm)


def test_a_given_layout_at_angles_nobody_listed_is_begun_with():
    """Plates of 30 x 20 drawn askew, given as two rows of three: at listed turns they take more."""
    askew = shapely.affinity.rotate(shapely.box(0, 0, 30, 20), 7.0)
    plate = replace(shape("rectangle", 6), outline=centred(askew), any_angle=True)
    asked = task(plate, width_mm=94.0, gutter_mm=2.0)
    rows = Placements(
        shape=np.zeros(6, dtype=np.intp),
        centre_mm=np.array([(15.0 + 32 * k, 10.0 + 22 * row) for row in (0, 1) for k in range(3)]),
        angle_deg=np.full(6, 353.0),
    )
    found = Outlines(start=Layout(placements=rows, length_mm=42.0, engine="hand"))(
        asked, budget(20)
    )

    assert verify(asked, found) == ()
    assert found.length_mm <= 42.0 + 1e-9


def test_a_given_layout_that_overlaps_is_pushed_apart():
    good = Outlines()(MIXED, budget(600))
    mended = Outlines(start=crowded(good, 0.99))(MIXED, budget(200))
    assert_legal(MIXED, mended)
    assert mended.length_mm < Outlines()(MIXED, budget(200)).length_mm


@pytest.mark.parametrize("steps", [0, 60])
def test_a_given_heap_does_no_harm(steps):
    heap = crowded(Outlines()(MIXED, budget(0)), 0.0)
    found = Outlines(start=heap)(MIXED, budget(steps))
    assert_legal(MIXED, found)
    assert found.length_mm <= Outlines()(MIXED, budget(0)).length_mm


def test_a_remnant_of_any_outline_is_filled_within_its_outline():
    """A sheet with a step in its side and a hole, all else round it an obstacle."""
    sheet = (
        shapely.box(0, 0, 170, 700)
        - shapely.box(110, 0, 170, 150)
        - shapely.Point(60, 90).buffer(30)
    )
    beyond = shapely.box(-50, -50, 220, 750) - sheet
    areas = [outline_of(part) for part in shapely.get_parts(beyond)]
    around = tuple(Obstacle(outline=area, apart_mm=3.0) for area in areas)
    asked = replace(MIXED, obstacles=around)
    found = Outlines()(asked, budget(300))
    assert_legal(asked, found)
    assert all(sheet.buffer(-3.0 + EXACT).covers(area) for area in lying(asked, found))


@pytest.mark.parametrize("polls", [0, 1, 2, 5])
def test_a_stop_at_any_moment_hands_back_a_legal_layout(polls):
    asked = []

    def stopped():
        asked.append(1)
        return len(asked) > polls

    start = Outlines()(MIXED, budget(0))
    for given in (None, start, crowded(start, 0.9)):
        asked.clear()
        assert_legal(MIXED, Outlines(start=given)(MIXED, budget(10_000_000, stopped=stopped)))


def test_a_larger_budget_never_gives_a_longer_nest():
    lengths = [Outlines()(MIXED, budget(steps)).length_mm for steps in (0, 100, 400, 900, 1600)]
    assert lengths == sorted(lengths, reverse=True)


@pytest.mark.parametrize("copies", [12, 160])
def test_a_pattern_of_equal_copies_is_weighed_against_a_free_search(copies):
    """A few copies: the search goes on beside the pattern. Many: the pattern is squeezed."""
    asked = task(shape("angle", copies), width_mm=210.0)
    pattern = Patterns()(asked, budget(1))
    found = Outlines(start=pattern)(asked, budget(500))
    assert_legal(asked, found)
    assert found.length_mm <= pattern.length_mm


def test_progress_tells_falling_lengths_and_rising_shares():
    told = []
    Outlines()(MIXED, budget(400), lambda length, share: told.append((length, share)))
    lengths, shares = zip(*told, strict=True)
    assert list(lengths) == sorted(lengths, reverse=True)
    assert list(shares) == sorted(shares)
    assert shares[0] >= 0.0 and shares[-1] <= 1.0


def test_far_more_pieces_than_a_search_can_help_are_left_to_others():
    assert Outlines()(task(shape("disc", 5000), width_mm=1000.0), budget(10)) is None


def test_a_shape_wider_than_the_strip_has_no_answer():
    assert Outlines()(task(shape("rectangle", 1), width_mm=24.0), budget(10)) is None
