"""Tabs: what is cut and what is left make up the contour, and tabs stand where they may."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cut import Knife, Wishes, cut_notes, plan_cut
from nestplan.cut.along import part_of
from nestplan.cut.tabs import TabRules, between_tabs, tabs_on
from nestplan.faults import OUT_OF_REACH, Fault
from nestplan.job import Tabs
from tests.cut.handmade import decal, frames, hole, square

EVEN = TabRules(width_mm=1.0, spacing_mm=40.0)
WISHES = Wishes(
    gutter_mm=3.0, tabs=Tabs(spacing_mm=40, width_mm=1), film_mm=(0, 400), cuttable_mm=(0, 400)
)


def disc(radius, sides=180):
    angles = np.arange(sides) * 2 * np.pi / sides
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


# stars and polygons about the origin, long legs and short ones
rings = st.tuples(st.integers(3, 9), st.floats(0.3, 1.0), st.floats(20.0, 80.0)).map(
    lambda each: (
        each[2]
        * np.where(np.arange(2 * each[0]) % 2 == 0, 1.0, each[1])[:, None]
        * disc(1.0, 2 * each[0])
    )
)


@given(rings)
def test_strokes_and_tabs_together_are_the_ring(ring):
    at = tabs_on(ring, EVEN)
    if not len(at):
        return
    lines = between_tabs(ring, at, EVEN.width_mm)
    whole = shapely.LinearRing(ring)

    tabs = [part_of(ring, a - 0.5, a + 0.5, closed=True) for a in at if a >= 0.5]
    length = sum(shapely.LineString(line).length for line in lines)

    assert length + len(at) * EVEN.width_mm == pytest.approx(whole.length)
    assert all(whole.buffer(1e-6).covers(shapely.LineString(line)) for line in [*lines, *tabs])
    for one, other in zip([lines[-1], *lines], lines, strict=False):
        assert np.hypot(*(one[-1] - other[0])) <= EVEN.width_mm + 1e-9


@given(rings)
def test_no_tab_stands_in_a_sharp_corner_and_none_is_alone(ring):
    """Every corner that turns by more than 30 degrees lies a tab's width beside it or farther."""
    at = tabs_on(ring, EVEN)
    legs = np.roll(ring, -1, axis=0) - ring
    heading = np.degrees(np.arctan2(legs[:, 1], legs[:, 0]))
    turn = np.abs((heading - np.roll(heading, 1) + 180) % 360 - 180)
    sharp = np.concatenate([[0.0], np.cumsum(np.hypot(*legs.T))])[:-1][turn > 30.1]
    round_mm = np.hypot(*legs.T).sum()

    assert len(at) != 1
    for tab in at:
        away = np.abs(sharp - tab)
        assert (np.minimum(away, round_mm - away) >= 1.5 * EVEN.width_mm - 1e-6).all()


def test_tabs_of_a_disc_are_spread_evenly():
    """Round 251 mm: seven tabs, a seventh of the way apart within a step of the search."""
    at = tabs_on(disc(40.0), EVEN)

    assert len(at) == 7
    assert np.diff(at) == pytest.approx(np.full(6, 2 * np.pi * 40 / 7), abs=1.1)


def test_a_small_ring_has_two_tabs_and_a_tiny_one_has_no_room():
    assert len(tabs_on(disc(6.0), EVEN)) == 2
    assert len(tabs_on(disc(0.9), EVEN)) == 0
    assert len(tabs_on(square(0, 0, 2.5), EVEN)) == 0


def planned(decals, places, wishes=WISHES, marks=((200.0, 400.0),), knife=None):
    nest, plan = frames([places], [list(marks)])
    return plan, plan_cut(decals, nest, plan, knife, wishes)


def test_only_through_cuts_have_tabs_and_the_plan_counts_them():
    kiss, through = (decal(kind, (square(0, 0, 60),), cut=kind) for kind in ("kiss", "through"))

    _, plan = planned((kiss, through), [(0, (100, 100)), (1, (200, 100))])

    (frame,) = plan.frames
    assert plan.extras.tabs == len(frame.tabs_mm) == 6  # 240 mm round, every 40
    assert [s.closed for s in frame.strokes if s.kind == "kiss"] == [True]
    pieces = [s for s in frame.strokes if s.kind == "through"]
    assert len(pieces) == 6 and all(s.is_piece for s in pieces)
    assert plan.length_mm == pytest.approx(480 - 6)
    assert np.hypot(*(frame.tabs_mm[:, 1] - frame.tabs_mm[:, 0]).T) == pytest.approx(np.ones(6))


def test_no_tab_stands_near_a_mark_or_at_the_films_edge():
    """A pass whose left side runs 5 mm from the film's edge, beside a mark."""
    through = decal("pass", (square(0, 0, 80),), cut="through")
    marks, plan = planned((through,), [(0, (45, 100))], marks=((110.0, 110.0),))

    tabs = plan.frames[0].tabs_mm.reshape(-1, 2)
    mark = shapely.transform(marks.outline.region, lambda p: p + (110.0, 110.0))
    away = shapely.distance(shapely.points(tabs), mark)

    assert len(tabs) >= 4
    assert tabs[:, 0].min() >= 10 - 1e-6
    assert away.min() >= marks.clear_mm + 5 - 1e-6


def test_a_decal_without_room_for_two_tabs_is_named():
    small = decal("token", (square(0, 0, 2.5),), cut="through")
    with pytest.raises(Fault, match=r"longest on token has 2\.5 mm"):
        planned((small,), [(0, (200, 100))])

    strip = decal("strip", (np.array([[-4.0, -90], [4, -90], [4, 90], [-4, 90]]),), cut="through")
    with pytest.raises(Fault, match="strip, copy 1, has no room") as found:
        planned((strip,), [(0, (6, 100))])
    assert found.value.code == OUT_OF_REACH


def test_a_hole_too_small_for_tabs_is_cut_whole_and_remembered():
    plate = decal("plate", (square(0, 0, 60), hole(0, 0, 3)), cut="through")

    _, plan = planned((plate,), [(0, (200, 100))])

    assert plan.extras.untabbed == (0,)
    (note,) = cut_notes((plate,), plan)
    assert note.text.endswith("may drop: plate")
    strokes = plan.frames[0].strokes
    assert [s.closed for s in strokes if s.ring == 1] == [True]
    assert max(k for k, s in enumerate(strokes) if s.ring == 1) < len(strokes) - 1


@pytest.mark.parametrize("turning", ["clockwise", "anticlockwise"])
def test_pieces_run_the_way_round_that_the_knife_needs(turning):
    through = decal("pass", (square(0, 0, 60), hole(0, 0, 20)), cut="through")
    sign = 1 if turning == "anticlockwise" else -1

    _, plan = planned((through,), [(0, (100, 100))], knife=Knife(turning=turning))

    for stroke in plan.frames[0].strokes:
        a, b = stroke.points_mm[:-1] - (100, 110), stroke.points_mm[1:] - (100, 110)
        assert (sign * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) > 0).all()


def test_a_hole_in_pieces_is_cut_before_the_last_of_its_outline():
    plate = decal("plate", (square(0, 0, 90), hole(0, 0, 50)), cut="through")

    _, plan = planned((plate,), [(0, (100, 100))])

    rings = [stroke.ring for stroke in plan.frames[0].strokes]
    assert rings.count(1) > 1
    assert rings[-1] == 0
    last_of_hole = max(k for k, ring in enumerate(rings) if ring == 1)
    assert last_of_hole < max(k for k, ring in enumerate(rings) if ring == 0)


def test_travel_goes_from_where_a_piece_ends_to_where_the_next_begins():
    through = decal("pass", (square(0, 0, 60),), cut="through")

    _, plan = planned((through,), [(0, (100, 100))])

    at, travel = np.array([200.0, 400.0]), 0.0
    for stroke in plan.frames[0].strokes:
        travel += np.hypot(*(stroke.points_mm[0] - at))
        at = stroke.points_mm[-1]
    assert plan.travel_mm == pytest.approx(travel)
    # round the pass from tab to tab: in at one, then only over the tabs
    assert travel <= np.hypot(200 - 130, 400 - 140) + 10 + 5.1
    assert 0 < plan.travel_bound_mm <= plan.travel_mm + 1e-6


def test_wishes_that_ask_for_nothing_change_nothing():
    through = decal("pass", (square(0, 0, 60),), cut="through")

    _, plan = planned((through,), [(0, (100, 100))], wishes=replace(WISHES, tabs=None))

    (stroke,) = plan.frames[0].strokes
    assert stroke.closed and not stroke.is_piece
    assert plan.extras.words == ()
