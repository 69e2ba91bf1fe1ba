"""Generated inputs, and their one home: outlines, tasks, layouts that are legal by hand.

The layouts are made here without any engine: copies stand in shelves, box beside box, at
least as far apart as the farthest two shapes must be.
"""

from dataclasses import replace

import numpy as np
import shapely
from hypothesis import strategies as st

from nestplan.geometry.outline import Outline, outline_of
from nestplan.job.former import Former, FormerCopy, FormerDecal, FormerFrame, FormerMarks
from nestplan.nest.placements import Layout, Placements
from nestplan.nest.task import Shape, Task

QUARTER = (0.0, 90.0, 180.0, 270.0)
TURNS = ((0.0,), (0.0, 180.0), QUARTER, tuple(float(a) for a in range(0, 360, 15)))


def centred(region: shapely.Geometry) -> Outline:
    """The outline with the centre of its bounding box at the origin, as shapes want it."""
    outline = outline_of(region)
    left, bottom, right, top = outline.bounds_mm
    return outline.moved(-(left + right) / 2, -(bottom + top) / 2)


def round_polygon(radius_mm: float, corners: int) -> shapely.Polygon:
    """A regular polygon with its corners on the circle."""
    angles = 2 * np.pi * np.arange(corners) / corners
    return shapely.Polygon(radius_mm * np.column_stack((np.cos(angles), np.sin(angles))))


def sizes_mm(least: float = 4.0, most: float = 60.0):
    """Lengths in whole quarters of a millimetre."""
    return st.integers(int(4 * least), int(4 * most)).map(lambda quarters: quarters / 4)


def boxes():
    """Rectangles."""
    return st.builds(lambda w, h: centred(shapely.box(0, 0, w, h)), sizes_mm(), sizes_mm())


def discs():
    """Regular polygons from a triangle to a fine circle."""
    return st.builds(
        lambda r, corners: centred(round_polygon(r, corners)), sizes_mm(3, 30), st.integers(3, 40)
    )


@st.composite
def rounds(draw):
    """Convex outlines: corners on an ellipse, at any angles that go all round."""
    turns = draw(st.lists(st.integers(0, 359), min_size=3, max_size=9, unique=True))
    angles = np.radians(sorted(turns))
    wide, high = draw(sizes_mm(5, 30)), draw(sizes_mm(5, 30))
    corners = np.column_stack((wide * np.cos(angles), high * np.sin(angles)))
    hull = shapely.convex_hull(shapely.MultiPoint(corners))
    if not isinstance(hull, shapely.Polygon) or hull.area < 4:
        hull = shapely.box(0, 0, wide, high)
    return centred(hull)


@st.composite
def stars(draw):
    """Outlines with dents: as many radii as corners, all seen from the middle."""
    radii = np.array(draw(st.lists(sizes_mm(5, 30), min_size=5, max_size=14)))
    angles = 2 * np.pi * np.arange(len(radii)) / len(radii)
    corners = radii[:, np.newaxis] * np.column_stack((np.cos(angles), np.sin(angles)))
    return centred(shapely.Polygon(corners))


@st.composite
def rings(draw):
    """Outlines with a hole."""
    radius, corners = draw(sizes_mm(8, 30)), draw(st.integers(6, 24))
    hole = draw(st.floats(0.3, 0.8)) * radius
    return centred(round_polygon(radius, corners) - round_polygon(hole, corners))


def outlines():
    """Any outline a decal may have."""
    return st.one_of(boxes(), discs(), rounds(), stars(), rings())


@st.composite
def tasks(draw, shapes=None, gutters_mm=None, most_shapes=3, most_copies=6, turns=TURNS):
    """Tasks without obstacles, on film on which every shape fits at every angle.

    Distances are what gutter and bleed make of them: max(gutter, bleed + bleed), and to
    the edge the bleed.
    """
    shapes = outlines() if shapes is None else shapes
    drawn = draw(st.lists(shapes, min_size=1, max_size=most_shapes))
    gutter = draw(sizes_mm(0.25, 5) if gutters_mm is None else gutters_mm)
    bleeds = [draw(st.sampled_from((0.0, 1.5, 3.0))) for _ in drawn]
    made = tuple(
        Shape(
            name=f"shape {index}",
            outline=outline,
            copies=draw(st.integers(1, most_copies)),
            angles_deg=draw(st.sampled_from(turns)),
            edge_mm=bleed,
        )
        for index, (outline, bleed) in enumerate(zip(drawn, bleeds, strict=True))
    )
    widest = max(np.hypot(o.width_mm, o.height_mm) for o in drawn) + 2 * max(bleeds)
    return Task(
        shapes=made,
        width_mm=float(np.ceil(widest)) + draw(sizes_mm(0, 120)),
        apart_mm=tuple(tuple(max(gutter, a + b) for b in bleeds) for a in bleeds),
    )


def equal_copies(shapes=None, most_copies=40, **rest):
    """Tasks of one shape, many times."""
    return tasks(shapes=shapes, most_shapes=1, most_copies=most_copies, **rest)


@st.composite
def shelves(draw, task):
    """A legal layout of a task: copies in any order, at any allowed angle, on shelves."""
    copies = [index for index, shape in enumerate(task.shapes) for _ in range(shape.copies)]
    apart = max(max(row) for row in task.apart_mm)
    edge = max(shape.edge_mm for shape in task.shapes)
    angles, centres = [], []
    x, y, top = edge, 0.0, 0.0
    order = draw(st.permutations(copies))
    for index in order:
        angle = draw(st.sampled_from(task.shapes[index].angles_deg))
        left, bottom, right, above = task.shapes[index].outline.turned(angle).bounds_mm
        if x + right - left > task.width_mm - edge and x > edge:
            x, y = edge, top + apart
        centres.append((x - left, y - bottom))
        angles.append(angle)
        x += right - left + apart + draw(st.sampled_from((0.0, 0.0, 2.5)))
        top = max(top, y + above - bottom)
    placements = Placements(
        shape=np.array(order, dtype=np.intp),
        centre_mm=np.array(centres),
        angle_deg=np.array(angles),
    )
    return Layout(placements=placements, length_mm=top, engine="shelves")


@st.composite
def kept_together(draw, **task_rules):
    """A task, which of its shapes are kept together (at least one), and a length that holds the
    longest copy of each, and more or less of all."""
    task = draw(tasks(**task_rules))
    together = [draw(st.booleans()) for _ in task.shapes]
    together[draw(st.integers(0, len(together) - 1))] = True
    longest = max(np.hypot(s.outline.width_mm, s.outline.height_mm) for s in task.shapes)
    return task, tuple(together), float(longest) + draw(sizes_mm(1, 250))


@st.composite
def turned_home(draw, **task_rules):
    """A legal layout of a task whose shapes would rather lie at a turn drawn for them."""
    task, layout = draw(laid_out(**task_rules))
    shapes = tuple(
        replace(shape, best_deg=draw(st.sampled_from(shape.angles_deg))) for shape in task.shapes
    )
    return replace(task, shapes=shapes), layout


@st.composite
def laid_out(draw, **task_rules):
    """A task and a legal layout of it."""
    task = draw(tasks(**task_rules))
    return task, draw(shelves(task))


def former_plan(task, *layouts, x0_mm=0.0, y0_mm=50.0):
    """Layouts of a task, one a frame, as a former plan's summary would say them."""
    frames, used = [], [0] * len(task.shapes)
    for number, layout in enumerate(layouts):
        copies = []
        laid = layout.placements
        rows = zip(laid.shape.tolist(), laid.centre_mm, laid.angle_deg.tolist(), strict=True)
        for shape, (x, y), angle in rows:
            used[shape] += 1
            copies.append(
                FormerCopy(
                    decal=shape + 1,
                    copy=used[shape],
                    x_mm=round(x + x0_mm, 6),
                    y_mm=round(y + y0_mm + 1000.0 * number, 6),
                    angle_deg=round(angle, 9),
                )
            )
        frames.append(FormerFrame(y0_mm=y0_mm + 1000.0 * number, marks=[], placements=copies))
    decals = tuple(
        FormerDecal(
            name=shape.name,
            contour=[[(x, y) for x, y in np.round(r, 6).tolist()] for r in shape.outline.rings],
        )
        for shape in task.shapes
    )
    return Former(
        folder="../former",
        job="regatta",
        decals=decals,
        frames=tuple(frames),
        marks=FormerMarks(size_mm=6.0, clear_mm=4.0),
    )


@st.composite
def missing_film(draw, width_mm=200.0):
    """Film that lacks at the leading end of a roll: a corner, a side, a torn edge, holes."""
    long_mm = draw(sizes_mm(40, 250))
    kind = draw(st.sampled_from(("corner", "side", "torn", "holes")))
    if kind == "corner":
        wide = draw(sizes_mm(10, 180))
        area = shapely.Polygon([(width_mm - wide, 0), (width_mm, 0), (width_mm, long_mm)])
    elif kind == "side":
        area = shapely.box(draw(sizes_mm(60, 190)), 0, width_mm, long_mm)
    elif kind == "torn":
        heights = draw(st.lists(sizes_mm(4, 90), min_size=3, max_size=12))
        x = np.linspace(0, width_mm, len(heights))
        edge = list(zip(x.tolist(), heights, strict=True))
        area = shapely.Polygon([(width_mm, 0), (0, 0), *edge])
    else:
        places = draw(
            st.lists(st.tuples(sizes_mm(10, 150), sizes_mm(0, 200)), min_size=1, max_size=4)
        )
        area = shapely.union_all([shapely.box(x, y, x + 35, y + 35) for x, y in places])
    return area


def thrown(task):
    """Placements of all copies anywhere: most of them break rules."""
    copies = [index for index, shape in enumerate(task.shapes) for _ in range(shape.copies)]
    places = st.tuples(
        st.floats(0, task.width_mm), st.floats(0, 2 * task.width_mm), st.sampled_from(QUARTER)
    )
    return st.lists(places, min_size=len(copies), max_size=len(copies)).map(
        lambda rows: Placements(
            shape=np.array(copies, dtype=np.intp),
            centre_mm=np.array([row[:2] for row in rows]),
            angle_deg=np.array([row[2] for row in rows]),
        )
    )
