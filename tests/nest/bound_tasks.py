"""Small tasks for the tests of the bounds: boxes and discs in a strip."""

from dataclasses import replace

import numpy as np
import shapely

from nestplan.nest.task import Shape, Task
from tests.strategies import QUARTER, centred, round_polygon

NONE = (0.0,)


def equal(region, copies, *, strip, gutter=0.0, angles_deg=QUARTER, **rules):
    """Copies of one shape."""
    shape = Shape(
        name="decal", outline=centred(region), copies=copies, angles_deg=angles_deg, **rules
    )
    return Task(shapes=(shape,), width_mm=float(strip), apart_mm=((float(gutter),),))


def box(width, height):
    """A rectangle."""
    return shapely.box(0, 0, width, height)


def mixed(*sizes, strip, gutter=0.0, angles_deg=NONE):
    """Boxes (width, height, copies) with one gutter."""
    shapes = tuple(
        Shape(name=f"{w} x {h}", outline=centred(box(w, h)), copies=n, angles_deg=angles_deg)
        for w, h, n in sizes
    )
    apart = ((float(gutter),) * len(shapes),) * len(shapes)
    return Task(shapes=shapes, width_mm=float(strip), apart_mm=apart)


def disc_round(diameter, corners=64):
    """A polygon round a disc, so that the disc is exactly the greatest inside."""
    return round_polygon(diameter / 2 / np.cos(np.pi / corners), corners)


def replace_copies(task, copies):
    """The same task of one shape with another number of copies."""
    return replace(task, shapes=(replace(task.shapes[0], copies=copies),))
