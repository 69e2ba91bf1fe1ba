"""Weed lines: through waste only, half the gutter off everything, and moved to where they help."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut import Knife, Wishes, plan_cut
from nestplan.cut.weed import LEAST_LINE_MM, WeedFilm, WeedLine, weed_lines, within_windows
from nestplan.cut.windows import Windows
from nestplan.job import Weed
from tests.cut.handmade import decal, frames, square

BOX = (0.0, 0.0, 300.0, 200.0)
EDGE = 1e-5  # what coordinates of a metre lose in an overlay


def film(decals, kept=1.5, closed=()):
    return WeedFilm(
        box_mm=BOX, decals=list(decals), kept_mm=kept, closed=list(closed), aside=list(closed)
    )


def lines_of(lines):
    return [
        shapely.LineString(
            np.vstack([e.points_mm, e.points_mm[:1]]) if e.is_closed else e.points_mm
        )
        for e in lines
    ]


discs = st.lists(
    st.tuples(st.integers(20, 280), st.integers(20, 180), st.integers(4, 18)),
    min_size=1,
    max_size=15,
).map(lambda each: [shapely.Point(x, y).buffer(r, quad_segs=8) for x, y, r in each])
wishes = st.builds(
    Weed,
    along_mm=st.sampled_from([None, 40.0, 90.0]),
    across_mm=st.sampled_from([None, 50.0, 120.0]),
    border_mm=st.sampled_from([None, 2.0, 12.0]),
)


@given(discs, wishes, st.floats(0.5, 4.0), st.integers(30, 270), st.integers(20, 180))
def test_no_line_comes_near_a_decal_or_leaves_its_film(decals, weed, kept, x, y):
    mark = shapely.box(x - 5, y - 5, x + 5, y + 5)
    lines = lines_of(weed_lines(weed, film(decals, kept, [mark])))

    for line in lines:
        assert all(line.distance(each) >= kept - EDGE for each in decals)
        assert line.intersection(mark).length < EDGE
        assert shapely.box(*BOX).buffer(EDGE).covers(line)
        assert line.length >= LEAST_LINE_MM


def test_a_line_runs_between_two_rows_that_stand_the_gutter_apart():
    """Rows end at 98 and begin at 101: only at 99.5 does a line pass, and it is found."""
    low = [shapely.box(10 + 60 * k, 40, 60 + 60 * k, 98) for k in range(4)]
    high = [shapely.box(10 + 60 * k, 101, 60 + 60 * k, 160) for k in range(4)]

    (line,) = weed_lines(Weed(along_mm=110), film([*low, *high]))

    assert line.points_mm[:, 1] == pytest.approx([99.5, 99.5], abs=1e-5)
    assert line.points_mm[:, 0].tolist() == [0.0, 300.0]


def test_a_border_goes_round_the_decals_and_turns_aside_before_a_mark():
    decals = [shapely.box(60, 60, 200, 140)]
    mark = shapely.box(200, 145, 214, 159)

    (plain,) = weed_lines(Weed(border_mm=10), film(decals))
    (aside,) = weed_lines(Weed(border_mm=10), film(decals, closed=[mark]))

    assert plain.is_closed
    assert shapely.Polygon(plain.points_mm).bounds == (50, 50, 210, 150)
    assert aside.is_closed
    assert len(aside.points_mm) == 6
    assert shapely.Polygon(aside.points_mm).distance(mark) == pytest.approx(0.1)


def test_lines_end_at_the_border():
    decals = [shapely.box(60, 60, 100, 100), shapely.box(160, 60, 200, 100)]

    border, *lines = lines_of(weed_lines(Weed(border_mm=10, across_mm=90), film(decals)))

    assert len(lines) == 1
    assert lines[0].bounds[1] == pytest.approx(border.bounds[1])
    assert lines[0].bounds[3] == pytest.approx(border.bounds[3])


@given(st.floats(20.0, 300.0), st.booleans())
def test_a_line_longer_than_a_window_is_parted_and_nothing_is_lost(window, closed):
    ring = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 251.0], [0.0, 251.0]])
    line = WeedLine(points_mm=ring, is_closed=closed)

    parts = list(within_windows(line, window))

    assert all(np.ptp(part.points_mm[:, 1]) <= window + 1e-9 for part in parts)
    assert sum(line.length for line in lines_of(parts)) == pytest.approx(702 if closed else 451)


PLATES = [(k % 2, (60 + 60 * (k % 4), 60 + 60 * (k // 4))) for k in range(16)]


def planned(knife=None, gutter=4.0):
    kiss, through = (decal(kind, (square(0, 0, 50),), cut=kind) for kind in ("kiss", "through"))
    nest, marks = frames([PLATES], [[(5.0, 20.0), (295.0, 880.0)]])
    wish = Wishes(
        gutter_mm=gutter,
        weed=Weed(along_mm=70, across_mm=100, border_mm=5),
        film_mm=(0.0, 300.0),
        cuttable_mm=(0.0, 300.0),
    )
    return plan_cut((kiss, through), nest, marks, knife, wish)


def test_weed_lines_are_cut_after_the_kiss_cuts_and_before_the_through_cuts():
    plan = planned()

    kinds = [stroke.kind for stroke in plan.frames[0].strokes]

    assert kinds == sorted(kinds, key=["kiss", "weed", "through"].index)
    assert plan.extras.weed_lines == kinds.count("weed") > 4
    assert plan.contours == 16
    assert plan.length_mm == pytest.approx(16 * 200 + plan.extras.weed_mm)
    assert 0 < plan.travel_bound_mm <= plan.travel_mm
    assert {stroke.tool for stroke in plan.frames[0].strokes} == {"kiss", "through"}


def test_in_windows_they_keep_that_order_window_by_window():
    strokes = planned(Knife(windows=Windows(length_mm=130.0))).frames[0].strokes

    ranks = [(s.window, ["kiss", "weed", "through"].index(s.kind)) for s in strokes]

    assert ranks == sorted(ranks)
    assert ranks[-1][0] >= 1
    assert all(np.ptp(stroke.points_mm[:, 1]) <= 130 + 1e-6 for stroke in strokes)
