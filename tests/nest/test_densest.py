"""The densest lattices at any angle, against densities that are published."""

from math import pi, sqrt

import numpy as np
import pytest
import shapely

from nestplan.nest.densest import densest_lattices
from nestplan.nest.task import Shape, Task
from tests.nest.hand_shapes import QUARTER, centred

CLOSE = 4e-4  # of the density: the scan stops at steps of 0.01 mm on shapes of 100


def regular(corners, radius=50.0):
    """A regular polygon, turned so that no side is level."""
    angles = 0.1 + 2 * np.pi * np.arange(corners) / corners
    return shapely.Polygon(radius * np.column_stack([np.cos(angles), np.sin(angles)]))


def densest(region, gutter_mm=0.0):
    """Share of the film that the densest lattice found covers."""
    shape = Shape(
        name="tile", outline=centred(region), copies=9, angles_deg=QUARTER, any_angle=True
    )
    task = Task(shapes=(shape,), width_mm=1000.0, apart_mm=((gutter_mm,),))
    return region.area / densest_lattices(task)[0][1]


# Octagon: the hexagon bound, which a centrally symmetric shape attains (L. Fejes Tóth 1950).
# Pentagon: Hales and Kusner, Packings of regular pentagons in the plane (2016).
# Heptagon: the best double lattice known (Kallus and Kusner 2016 call it locally optimal).
# All from memory.
@pytest.mark.parametrize(
    ("corners", "density"),
    [
        (5, (5 - sqrt(5)) / 3),
        (7, 0.8927),
        (8, (4 + 4 * sqrt(2)) / (5 + 4 * sqrt(2))),
        (64, pi / sqrt(12) * (64 / (2 * pi) * np.sin(2 * pi / 64)) / np.cos(pi / 64) ** -2),
    ],
)
def test_regular_polygons_lie_as_dense_as_published(corners, density):
    found = densest(regular(corners))

    if corners == 64:  # at least as dense as the discs round the polygons
        assert density <= found <= pi / sqrt(12) * 1.0004
    else:
        assert found == pytest.approx(density, rel=CLOSE)
        assert found <= density + 2e-5  # printed with four digits, in the heptagon's case


@pytest.mark.parametrize(
    "body",
    [
        shapely.Polygon([(0, 0), (90, 5), (35, 60)]),
        regular(48).intersection(shapely.box(-60, -10, 60, 60)),
        shapely.Polygon([(0, 0), (50, -4), (80, 20), (76, 41), (40, 70), (8, 52), (-6, 20)]),
    ],
    ids=["triangle", "cut disc", "seven corners"],
)
def test_every_convex_body_lies_at_least_as_dense_as_it_can_in_a_double_lattice(body):
    """At least sqrt(3) / 2: G. and W. Kuperberg, Double-lattice packings of convex bodies in
    the plane, Discrete Comput. Geom. 5 (1990) 389-397.
    """
    assert sqrt(3) / 2 - 1e-4 <= densest(body) <= 1.0 + 1e-6


def test_any_triangle_tiles_the_plane_with_its_half_turn():
    assert densest(shapely.Polygon([(0, 0), (70, 13), (22, 64)])) == pytest.approx(1.0, abs=CLOSE)


def test_discs_with_a_gutter_lie_like_larger_discs():
    """Discs of 40 with 10 between them take the film of discs of 50: (40 / 50)^2 pi / sqrt(12)."""
    found = densest(regular(64, radius=20.0), gutter_mm=10.0)

    assert found == pytest.approx(0.64 * pi / sqrt(12), rel=2e-3)
