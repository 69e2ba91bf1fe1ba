"""Contours made round the art: their distance, their corners, their islands and holes."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.artwork.form import formed
from nestplan.artwork.islands import BRIDGE_MM, filled, joined
from nestplan.artwork.rule import rule_of
from nestplan.artwork.smooth import smoothed
from nestplan.faults import Fault
from nestplan.geometry.outline import FLATTEN_MM, polygons_of
from tests.artwork.handmade import decal, loaded, svg

# a wheel with a hole, 40 mm across, and two dots right of it: 3 mm and 0.8 mm in radius
WHEEL = (
    '<path fill-rule="evenodd" d="M10 30a20 20 0 0 1 40 0a20 20 0 0 1 -40 0z'
    'M28 30a2 2 0 0 1 4 0a2 2 0 0 1 -4 0z"/>'
)
DOTS = '<circle cx="55" cy="30" r="3"/><circle cx="70" cy="30" r="0.8"/>'


def region(folder, body=WHEEL, **order):
    return decal(folder, svg(body), **order).contour.region


@pytest.mark.parametrize(
    ("contour", "area"),
    [  # of a rectangle of 60 by 40 mm
        ("rectangle:3", 66 * 46),
        ("rectangle:-3", 54 * 34),
        ("rounded:3,5", 66 * 46 - (4 - np.pi) * 25),
        ("circle:0", np.pi * (30**2 + 20**2)),
        ("circle:2", np.pi * (np.hypot(30, 20) + 2) ** 2),
        ("hull:3", 60 * 40 + 2 * 100 * 3 + np.pi * 9),
        ("hull:-3", 54 * 34),
        ("offset:3", 60 * 40 + 2 * 100 * 3 + np.pi * 9),
        ("offset:-3", 54 * 34),
    ],
)
def test_forms_round_a_rectangle_have_the_area_of_the_textbook(tmp_path, contour, area):
    """Areas of rectangle, disc and sector; the grown one by Steiner's formula (1840)."""
    found = region(tmp_path, '<rect x="10" y="10" width="60" height="40"/>', contour=contour)

    assert found.area == pytest.approx(area, rel=5e-4)


@pytest.mark.parametrize("away", [-4.0, -1.0, 0.5, 2.0, 7.5])
def test_an_offset_lies_just_so_far_from_the_art(tmp_path, away):
    """Every corner and middle of the made line, against GEOS's own distance to the edge."""
    edge = region(tmp_path, WHEEL + DOTS, contour="outline")
    edge = shapely.transform(edge, lambda p: p - edge.centroid.coords[0])
    found = formed(edge, rule_of(f"offset:{away}"), "")
    line = shapely.segmentize(found.boundary, 0.5)

    distances = shapely.distance(shapely.points(shapely.get_coordinates(line)), edge.boundary)

    assert np.abs(distances - abs(away)).max() <= FLATTEN_MM
    assert shapely.covers(found, edge) == (away > 0)


def turns_within(found, window_mm):
    """The greatest turn, in radians, of any stretch so long: another measure of tightness.

    A circle of radius r turns by window / r.
    """
    most = 0.0
    for part in polygons_of(found):
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)
            legs = np.diff(points, axis=0)
            heads = np.arctan2(legs[:, 1], legs[:, 0])
            turn = (np.diff(heads, append=heads[0]) + np.pi) % (2 * np.pi) - np.pi
            at = np.cumsum(np.hypot(*legs.T))  # where each leg ends and the ring turns
            turn, at = np.tile(turn, 2), np.concatenate([at, at + at[-1]])
            sums = np.concatenate([[0.0], np.cumsum(turn)])
            ends = np.searchsorted(at, at + window_mm, side="right")
            most = max(most, float(np.abs(sums[ends] - sums[: len(at)]).max()))
    return most


stars = st.integers(3, 9).flatmap(
    lambda n: st.tuples(st.just(n), st.floats(6, 20), st.floats(0.35, 0.9), st.floats(0, 6))
)


@settings(max_examples=40, deadline=None)
@given(star=stars, radius=st.sampled_from([0.5, 1.0, 2.0]))
def test_no_corner_is_tighter_than_the_least_radius(star, radius):
    n, outer, share, turn = star
    at = turn + np.arange(2 * n) * np.pi / n
    away = np.where(np.arange(2 * n) % 2, share * outer, outer)
    art = shapely.Polygon(np.column_stack([away * np.cos(at), away * np.sin(at)]))
    contour = shapely.buffer(art, 1.0)

    found = smoothed(contour, radius)

    # a stretch of half the radius turns by half a radian on the circle itself; chords add one
    # of their angles at most, 2 acos(1 - sagitta / radius)
    chord = 2 * np.arccos(1 - 0.006 / radius)
    assert turns_within(found, radius / 2) <= 0.5 / 0.85 + 1.5 * chord
    assert abs(found.area - contour.area) <= n * 2.5 * radius**2
    assert found.is_valid


@pytest.mark.parametrize("neck", [0.5, 1.5, 2.5, 3.5])
def test_a_neck_between_two_discs_is_rounded_too(neck):
    """Where opening parts a neck and leaves two discs that meet in a sharp corner."""
    discs = shapely.union_all(
        [shapely.Point(x, 0).buffer(6, quad_segs=64) for x in (-5.9, 5.9)]
    ).union(shapely.box(-6, -neck / 2, 6, neck / 2))

    found = smoothed(discs, 2.0)

    assert turns_within(found, 1.0) <= 0.75
    assert found.is_valid


def test_square_corners_are_cut_by_just_the_corner_of_a_circle(tmp_path):
    found = region(
        tmp_path, '<rect width="40" height="30" x="5" y="5"/>', contour="outline", least_radius_mm=4
    )

    assert found.area == pytest.approx(40 * 30 - (4 - np.pi) * 16, rel=1e-4)


def test_rounding_that_takes_from_the_art_is_told(tmp_path):
    square = svg('<rect width="40" height="30" x="5" y="5"/>')
    (note,) = [
        n.text
        for n in loaded(tmp_path, square, contour="offset:0.5", least_radius_mm=4).notes
        if "off the art" in n.text
    ]

    # (4 - 0.5)(sqrt 2 - 1) - 0.5 = 0.95 less than that: the arc of the offset is kept
    assert "0.95 mm" in note
    assert not [
        n
        for n in loaded(tmp_path, square, contour="offset:4", least_radius_mm=4).notes
        if "off the art" in n.text
    ]


@pytest.mark.parametrize(
    ("rule", "parts", "holes"),
    [
        ({}, 3, 1),
        ({"islands": "drop", "least_island_mm": 2.0}, 2, 1),
        ({"islands": "drop", "least_island_mm": 6.5}, 1, 1),
        ({"islands": "join", "join_mm": 2.5}, 2, 1),
        ({"islands": "join", "join_mm": 13.0}, 1, 1),
        ({"least_hole_mm": 3.9}, 3, 1),
        ({"least_hole_mm": 4.1}, 3, 0),
    ],
)
def test_islands_and_holes_by_rule(tmp_path, rule, parts, holes):
    """Gaps: 2 mm between wheel and dot, 11.2 mm between the dots; the hole is 4 mm wide."""
    found = list(polygons_of(region(tmp_path, WHEEL + DOTS, contour="outline", **rule)))

    assert len(found) == parts
    assert sum(len(part.interiors) for part in found) == holes


def test_a_bridge_is_wide_enough_to_weed():
    two = shapely.union_all([shapely.box(0, 0, 20, 20), shapely.box(23, 0, 40, 20)])
    found = joined(two, 3.0)
    dumbbell = joined(shapely.union_all([shapely.Point(x, 0).buffer(8) for x in (0.0, 18.9)]), 3.0)

    assert len(list(polygons_of(found))) == 1
    assert found.area == pytest.approx(40 * 20, abs=5), "a parallel gap is filled whole"
    assert shapely.buffer(dumbbell, -0.49 * BRIDGE_MM).geom_type == "Polygon"


def test_filling_leaves_outlines_alone():
    rings = shapely.Point(0, 0).buffer(9).difference(shapely.Point(0, 0).buffer(6))

    assert filled(rings).equals(shapely.Polygon(rings.exterior))


@pytest.mark.parametrize("contour", ["rectangle:3", "circle:3", "hull:3", "offset:1.5"])
def test_the_ordered_width_is_that_of_the_made_contour(tmp_path, contour):
    found = decal(
        tmp_path,
        svg(WHEEL + DOTS),
        contour=contour,
        width_mm=90,
        least_radius_mm=1.5,
        islands="drop",
        least_island_mm=1,
    )

    assert found.contour.width_mm == pytest.approx(90, abs=0.05)


def test_a_form_that_shrinks_to_nothing_is_told(tmp_path):
    with pytest.raises(Fault, match="nothing is left of the contour"):
        region(tmp_path, contour="rectangle:-20")
    with pytest.raises(Fault, match="corners of 30 mm are larger than the rectangle holds, 23"):
        region(tmp_path, contour="rounded:3,30")
    with pytest.raises(Fault, match="nowhere wide enough for corners of 25 mm"):
        region(tmp_path, least_radius_mm=25, contour="outline")
    with pytest.raises(Fault, match="no part of the art is 60 mm wide"):
        region(tmp_path, islands="drop", least_island_mm=60, contour="outline")


BACKINGS = ["offset:3", "rectangle:2", "rounded:3,4", "circle:1", "hull:2.5"]


@pytest.mark.parametrize("backing", BACKINGS)
def test_a_backing_lies_so_far_outside_the_kiss_cut(tmp_path, backing):
    found = decal(tmp_path, svg(WHEEL), contour="offset:1", backing=backing)
    kiss, through = found.contour.region, found.backing.region
    away = float(backing.partition(":")[2].split(",")[0])

    assert shapely.contains_properly(through, kiss)
    assert len(found.backing.rings) == 1, "a backing has no holes"
    assert kiss.boundary.distance(through.boundary) == pytest.approx(away, abs=FLATTEN_MM)
    left, bottom, right, top = found.backing.bounds_mm
    assert (left + right, bottom + top) == pytest.approx((0, 0), abs=1e-9)


def test_a_backing_too_near_is_told(tmp_path):
    with pytest.raises(Fault, match=r"comes within 0.30 mm of the kiss cut"):
        decal(tmp_path, svg(WHEEL), contour="offset:1", backing="offset:0.3")
    with pytest.raises(Fault, match=r"cuts into the kiss cut"):
        decal(
            tmp_path,
            svg('<rect x="5" y="5" width="40" height="40"/>'),
            contour="outline",
            backing="rounded:1,20",
        )


def test_a_backing_of_pieces_is_told(tmp_path):
    art = loaded(tmp_path, svg(WHEEL + DOTS), contour="outline", backing="offset:0.6")

    assert any("the backing falls into 3 pieces" in note.text for note in art.notes)
