"""The parts of the bleed in which paints go on: together all that lacks, each the nearest."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.artwork.made_bleed.sectors import Paint, near_contour, sectors
from nestplan.geometry.offset import grown


def star(spokes: int, inner: float, turn: float) -> shapely.Geometry:
    """A star of 20 mm."""
    angle = turn + np.arange(2 * spokes) * np.pi / spokes
    radius = np.where(np.arange(2 * spokes) % 2, inner, 1.0) * 20
    return shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))


STARS = st.builds(star, st.integers(3, 7), st.floats(0.3, 0.95), st.floats(0, 2 * np.pi))


def split(region: shapely.Geometry, reach_mm: float, at: float) -> list[Paint]:
    """Two opaque paints, left and right of a line, together the whole region."""
    band = near_contour(region, reach_mm)
    sides = shapely.box(-99, -99, at, 99), shapely.box(at, -99, 99, 99)
    seen = shapely.intersection(region, band)
    return [Paint(region=shapely.intersection(seen, side), opaque=True) for side in sides]


@settings(max_examples=15, deadline=None)
@given(region=STARS, reach_mm=st.floats(0.5, 4.0), at=st.floats(-10, 10))
def test_all_of_the_ring_has_a_paint_and_each_place_the_nearest(region, reach_mm, at):
    found = sectors(region, reach_mm, split(region, reach_mm, at))

    ring = shapely.difference(grown(region, reach_mm), grown(region, 0.01))
    covered = shapely.union_all([sector.area for sector in found])
    assert shapely.area(shapely.difference(ring, covered)) < 2e-3 * shapely.area(ring)
    assert {sector.stack for sector in found} <= {(0,), (1,)}
    assert abs(sum(sector.share for sector in found) - 1) < 0.05
    for sector in found:
        inner = shapely.intersection(grown(sector.area, -0.2), ring)
        if shapely.is_empty(inner):
            continue
        point = shapely.point_on_surface(inner)
        nearest = shapely.get_coordinates(shapely.shortest_line(region.boundary, point))[0]
        side = int(nearest[0] > at)
        assert sector.stack == (side,) or abs(nearest[0] - at) < 0.3


@settings(max_examples=10, deadline=None)
@given(region=STARS, reach_mm=st.floats(0.5, 3.0), inward=st.floats(0.3, 2.0))
def test_paint_that_stands_clear_or_goes_on_needs_nothing(region, reach_mm, inward):
    clear = Paint(region=shapely.buffer(region, -inward), opaque=True)
    beyond = Paint(region=grown(region, reach_mm + 1), opaque=True)

    assert sectors(region, reach_mm, [clear]) == []
    assert sectors(region, reach_mm, [beyond]) == []
