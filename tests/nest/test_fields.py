"""The no-fit fields against shapely's own distance of the two areas as they lie.

One identity carries the search: two pieces are as far apart as the origin of one is from
the field of the pair. shapely (GEOS) never sees the field, only the pieces.
"""

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from nestplan.nest import pair_depth
from nestplan.nest.convex_parts import convex_parts, convex_parts_outside
from nestplan.nest.fields import Variant, form_of, no_fit, pair_tables
from tests.nest.hand_shapes import ANGLE, HAND_DRAWN, RING, centred, disc, star

GUTTER = 3.0
NEAR = 1e-6  # both measure in float64


def tables_of(a, b, angles):
    """Tables of two regions at angles, and the compiled header that reads them."""
    forms = [form_of(centred(region).region) for region in (a, b)]
    variants = [
        Variant(form=f, angle_deg=angle, box_mm=form.box(angle))
        for f, form in enumerate(forms)
        for angle in angles
    ]
    tables = pair_tables(forms, variants, np.full((2, 2), GUTTER), 1)
    header = np.zeros(pair_depth.HEADER, dtype=np.int64)
    for slot in ("edges", "cells", "lists", "rows", "spans", "codes", "turns"):
        header[getattr(pair_depth, slot.upper())] = getattr(tables, slot).ctypes.data
    return SimpleNamespace(tables=tables, variants=variants, header=header)


def depths(read, i, j, displacements):
    """Looked-up depth of variant j at displacements from variant i."""
    code = int(read.tables.codes[i, j])
    address = int(read.header.ctypes.data)
    return np.array([pair_depth.depth(address, code, dx, dy) for dx, dy in displacements.tolist()])


def apart(a, b, displacements):
    """Distance of the two regions as they lie, by shapely; 0 where they overlap."""
    laid = [shapely.transform(b, lambda p, d=d: p + d) for d in displacements]
    return shapely.distance(a, np.array(laid, dtype=object)), np.array(laid, dtype=object)


def awkward(a, b, rng):
    """Displacements at random, along the axes, and from corner to corner."""
    span = np.array(a.bounds[2:]) - a.bounds[:2] + np.array(b.bounds[2:]) - b.bounds[:2]
    random = (rng.random((250, 2)) - 0.5) * (span + 4 * GUTTER)
    axes = random[:60] * np.where(rng.random((60, 1)) < 0.5, [[1.0, 0.0]], [[0.0, 1.0]])
    on_a, on_b = shapely.get_coordinates(a), shapely.get_coordinates(b)
    corners = on_a[rng.integers(len(on_a), size=60)] - on_b[rng.integers(len(on_b), size=60)]
    beside = corners + rng.choice([0.0, GUTTER, -GUTTER, 0.5], size=(60, 2))
    level = np.column_stack([corners[:, 0], random[60:120, 1]])
    return np.concatenate([random, axes, corners, beside, level])


@pytest.mark.parametrize("first", HAND_DRAWN)
@pytest.mark.parametrize("second", ["rectangle", "angle", "star", "ring", "islands"])
def test_a_pair_is_as_far_apart_as_shapely_says(first, second):
    """Clear pairs: depth is the gutter less the distance. Lapping pairs: at least the gutter."""
    rng = np.random.default_rng([len(first), len(second)])
    read = tables_of(HAND_DRAWN[first], HAND_DRAWN[second], (0.0, 90.0, 137.0))
    for i, j in ((0, 3), (1, 5), (4, 0), (2, 4), (0, 1)):
        one, other = read.variants[i], read.variants[j]
        regions = [
            centred(HAND_DRAWN[(first, second)[v.form]]).turned(v.angle_deg).region
            for v in (one, other)
        ]
        displacements = awkward(*regions, rng)
        found = depths(read, i, j, displacements)
        distance, laid = apart(regions[0], regions[1], displacements)
        lapped = shapely.area(shapely.intersection(regions[0], laid)) > 1e-6
        clear = ~lapped & (distance > NEAR)
        np.testing.assert_allclose(found[clear], np.maximum(GUTTER - distance[clear], 0), atol=NEAR)
        assert (found[lapped] > GUTTER).all()


def test_lapping_pieces_that_leave_by_the_way_told_just_touch():
    """Depth less the gutter is how deep they are in each other; out of that, nothing is left."""
    rng = np.random.default_rng(5)
    read = tables_of(star(20, 8), ANGLE, (0.0, 90.0))
    code, address = int(read.tables.codes[0, 3]), int(read.header.ctypes.data)
    regions = centred(star(20, 8)).region, centred(ANGLE).turned(90.0).region
    tried = 0
    for dx, dy in ((rng.random((300, 2)) - 0.5) * 60).tolist():
        depth, wx, wy = pair_depth.depth_way(address, code, dx, dy)
        lap = depth - GUTTER
        if not 0.0 < lap < 2.0:  # deeper, any way out is good enough for the search
            continue
        distance, laid = apart(*regions, np.array([[dx + lap * wx, dy + lap * wy]]))
        assert distance[0] <= NEAR
        assert shapely.area(shapely.intersection(regions[0], laid[0])) < 1e-9
        tried += 1
    assert tried > 10


def test_a_disc_has_room_in_the_hole_of_a_ring_as_wide_as_hand_arithmetic_says():
    """Hole 40 across, disc 30 across, gutter 3: the disc can shift by 40/2 - 30/2 - 3 = 2 mm.

    Both circles are polygons round the true ones; along x, where a side of each stands
    square to the axis, the arithmetic is exact.
    """
    read = tables_of(RING, disc(30, 40), (0.0,))
    inside = depths(read, 0, 1, np.array([[0.0, 0.0], [1.999, 0.0], [2.001, 0.0]]))
    assert inside[0] == inside[1] == 0.0
    assert inside[2] == pytest.approx(0.001, abs=1e-6)


@pytest.mark.parametrize("name", HAND_DRAWN)
def test_convex_parts_are_convex_and_cover_the_outline(name):
    parts = [shapely.Polygon(part) for part in convex_parts(HAND_DRAWN[name])]
    for part in parts:
        assert part.convex_hull.area == pytest.approx(part.area, rel=1e-12)
    joined = shapely.union_all(parts)
    assert sum(part.area for part in parts) == pytest.approx(HAND_DRAWN[name].area, rel=1e-9)
    assert joined.symmetric_difference(HAND_DRAWN[name]).area < 1e-9 * HAND_DRAWN[name].area


def test_a_bay_with_very_many_corners_is_drawn_with_fewer_always_outside():
    """What the search sees may only be larger than the decal, and by a hair."""
    fine = disc(40, 400).difference(shapely.transform(disc(34, 400), lambda p: p + [14.0, 3.0]))
    grown, parts = convex_parts_outside(fine)
    assert len(parts) < len(convex_parts(fine)) / 2
    assert fine.difference(grown).area < 1e-12
    assert shapely.hausdorff_distance(fine.exterior, grown.exterior) <= 1e-3 * 40


def test_only_holes_too_small_for_the_other_piece_are_left_out_of_a_field():
    """A hole 20 x 30 takes a 14 x 24 plate with 3 mm all round, and just not a 14.1 x 24 one."""
    plate = shapely.box(-50, -50, 50, 50).difference(shapely.box(-10, -15, 10, 15))
    holes = [
        len(no_fit(form_of(plate), form_of(shapely.box(0, 0, w, 24)), 0.0, 3.0).interiors)
        for w in (14.0, 14.1)
    ]
    assert holes == [1, 0]


def test_a_field_is_as_large_as_the_sum_of_squares_says():
    """Two squares of 10 and 4: the field is a square of 14, whatever the angle of a quarter."""
    big, small = form_of(shapely.box(-5, -5, 5, 5)), form_of(shapely.box(-2, -2, 2, 2))
    for angle in (0.0, 90.0, 180.0):
        assert no_fit(big, small, angle).equals(shapely.box(-7, -7, 7, 7))
