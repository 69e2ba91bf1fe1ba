"""How the nesting engines work, each picture made by the engine it explains."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import Outline
from nestplan.nest import Budget, Layout, Shape, Task
from nestplan.nest.blocks import Blocks
from nestplan.nest.bound import lower_bound
from nestplan.nest.boxes import Boxes
from nestplan.nest.columns import Columns
from nestplan.nest.convex_parts import Area
from nestplan.nest.cuts import cut
from nestplan.nest.fields import form_of, no_fit
from nestplan.nest.outlines import Outlines
from nestplan.nest.patterns import Patterns
from nestplan.nest.placements import settled
from nestplan.show.canvas import ACCENT, CUT, FILM, GREY, INK, RULE, SAFE, TINTS, Canvas
from nestplan.show.demo import AROUND_MM, GUTTER_MM, Demo, regions, task_of

CLOSER = 0.93  # by which a layout is drawn together to show overlaps
STEPS = 4_000
PLATES_MM = ((180, 60, 14), (120, 90, 16), (90, 90, 18), (75, 40, 30), (240, 45, 8), (60, 30, 40))
IN_BANDS = ("lighthouse shield", "race office arrow", "life ring")
FRAME_MM = 420.0


# ---------------------------------------------------------------- one picture an engine


def columns(plate: Shape) -> bytes:
    """Equal boxes: rows of upright plates and a row of turned ones."""
    task = task_of((plate,))
    layout = Columns()(task, Budget(steps=1, seed=1))
    return _strip(task, layout, _by_turn)


def pattern(shield: Shape) -> bytes:
    """Equal copies in a pattern of two turns."""
    task = task_of((replace(shield, copies=60),))
    layout = Patterns()(task, Budget(steps=1, seed=1))
    return _strip(task, layout, _by_turn)


def boxes() -> bytes:
    """A mix of plates, each gap filled with what fits it best."""
    shapes = tuple(
        Shape(
            name=f"{wide} x {high}",
            outline=Outline(rings=(np.array(_box(wide / 2, high / 2)),)),
            copies=copies,
            angles_deg=(0.0, 90.0),
        )
        for wide, high, copies in PLATES_MM
    )
    task = task_of(shapes, width_mm=1000.0)
    layout = Boxes()(task, Budget(steps=4 * STEPS, seed=1))
    return _strip(task, layout, _by_shape)


def bands(shapes: Sequence[Shape]) -> bytes:
    """Large quantities of several shapes: bands of their own patterns, and a searched rest."""
    task = task_of(tuple(replace(shape, copies=70) for shape in shapes))
    layout = Blocks()(task, Budget(steps=STEPS, seed=1))
    return _strip(task, layout, _by_shape)


def _box(x: float, y: float) -> list[tuple[float, float]]:
    return [(-x, -y), (x, -y), (x, y), (-x, y)]


def cuts(shapes: tuple[Shape, ...]) -> bytes:
    """One long nest, its copies tinted by the frame that each goes into."""
    task = task_of(tuple(replace(s, copies=max(1, s.copies // 3)) for s in shapes))
    layout = Outlines()(task, Budget(steps=STEPS, seed=1))
    assert layout is not None
    canvas = _strip_canvas(task, layout.length_mm)
    _film(canvas, task, layout.length_mm)
    copies = regions(task, layout.placements)
    ends = np.array([(region.bounds[1], region.bounds[3]) for region in copies])
    frames = cut(ends[:, 0], ends[:, 1], FRAME_MM)
    for frame, rows in enumerate(frames):
        for row in rows.tolist():
            _copy(canvas, copies[row], TINTS[frame % len(TINTS)])
        high = float(ends[rows, 1].max())
        edge = np.array([[AROUND_MM / 2, high], [task.width_mm + 1.5 * AROUND_MM, high]])
        canvas.line(edge, colour=ACCENT, dash="7 4")
    extents = [float(ends[rows, 1].max() - ends[rows, 0].min()) for rows in frames]
    each = ", ".join(f"{extent:.0f}" for extent in extents)
    text = f"one nest of {layout.length_mm:.0f} mm, cut into frames of {each} mm"
    canvas.words(AROUND_MM, AROUND_MM + layout.length_mm + canvas.px_mm(10), text)
    return canvas.png()


def no_fit_region(one: Shape, other: Shape) -> bytes:
    """Where the middle of one decal may not lie about another, and the gutter round it."""
    a, b = one.outline.region, other.outline.region
    forbidden = no_fit(form_of(a), form_of(b), 0.0)
    kept = forbidden.buffer(GUTTER_MM, quad_segs=32)
    left, bottom, right, top = kept.bounds
    reach = max(b.bounds[2] - b.bounds[0], b.bounds[3] - b.bounds[1]) / 2 + 8.0
    wide, high = right - left + 2 * reach, top - bottom + 2 * reach
    canvas = Canvas(wide, high, wide_px=900)
    middle = np.array([reach - left, reach - bottom])

    def at(region: Area, x: float = 0.0, y: float = 0.0) -> Area:
        return shapely.transform(region, lambda points: points + middle + (x, y))

    canvas.area(at(kept), fill=SAFE, line=ACCENT, px=1.2, dash="5 3")
    canvas.area(at(forbidden), fill="#F3DDD6", line=CUT, px=1.4)
    canvas.area(at(a), fill=TINTS[0], line=INK)
    ring = kept.exterior
    for share in (0.09, 0.43, 0.77):
        touch = ring.interpolate(share, normalized=True)
        canvas.area(at(b, touch.x, touch.y), fill="none", line=GREY, px=1.2)
        canvas.dot(*(middle + (touch.x, touch.y)), colour=ACCENT)
    canvas.dot(*middle, colour=INK)
    return canvas.png()


def search(shapes: tuple[Shape, ...]) -> bytes:
    """A first layout, the same drawn together, and what the search made of it."""
    few = tuple(replace(shape, copies=max(1, shape.copies // 10)) for shape in shapes)
    task = task_of(few, width_mm=600.0)
    first = Outlines()(task, Budget(steps=1, seed=1))
    last = Outlines()(task, Budget(steps=STEPS, seed=1))
    assert first is not None
    assert last is not None
    closer = replace(first.placements, centre_mm=first.placements.centre_mm * (1.0, CLOSER))
    together = settled(task, closer, first.engine)
    panels = [
        ("a first layout", first),
        ("drawn together: the overlaps are now the enemy", together),
        ("after the search", last),
    ]
    high = first.length_mm
    step = task.width_mm + 2 * AROUND_MM
    canvas = Canvas(3 * step, high + 3 * AROUND_MM, wide_px=1500)
    for k, (title, layout) in enumerate(panels):
        x0, y0 = k * step + AROUND_MM, AROUND_MM
        canvas.area(shapely.box(x0, y0, x0 + task.width_mm, y0 + high), fill=FILM, line=RULE)
        copies = regions(task, layout.placements, x0, y0)
        for region, shape in zip(copies, layout.placements.shape.tolist(), strict=True):
            _copy(canvas, region, TINTS[shape % len(TINTS)])
        for overlap in _overlaps(copies):
            canvas.area(overlap, fill=CUT)
        extent = max(region.bounds[3] for region in copies) - y0
        canvas.words(x0, y0 + high + canvas.px_mm(8), f"{title}: {extent:.0f} mm")
    return canvas.png()


# ---------------------------------------------------------------- parts of pictures


Kinds = NDArray[np.intp]


def _by_shape(layout: Layout) -> Kinds:
    return layout.placements.shape


def _by_turn(layout: Layout) -> Kinds:
    return np.unique(layout.placements.angle_deg, return_inverse=True)[1]


def _strip(task: Task, layout: Layout | None, tint: Callable[[Layout], Kinds]) -> bytes:
    """A whole nest, its copies tinted by what they have in common, and its bound."""
    assert layout is not None, "the engine has an answer to its own example"
    canvas = _strip_canvas(task, layout.length_mm)
    _film(canvas, task, layout.length_mm)
    for region, kind in zip(regions(task, layout.placements), tint(layout).tolist(), strict=True):
        _copy(canvas, region, TINTS[kind])
    _bound_line(canvas, task, layout.length_mm)
    return canvas.png()


def _strip_canvas(task: Task, length_mm: float) -> Canvas:
    return Canvas(task.width_mm + 2 * AROUND_MM, length_mm + 3.5 * AROUND_MM)


def _film(canvas: Canvas, task: Task, length_mm: float) -> None:
    canvas.area(
        shapely.box(AROUND_MM, AROUND_MM, AROUND_MM + task.width_mm, AROUND_MM + length_mm),
        fill=FILM,
        line=RULE,
    )


def _copy(canvas: Canvas, region: Area, tint: str) -> None:
    canvas.area(region, fill=tint, line=INK, px=0.9)


def _overlaps(copies: list[Area]) -> list[shapely.Geometry]:
    """Where two copies lie on each other."""
    tree = shapely.STRtree(copies)
    pairs = zip(*tree.query(copies, predicate="intersects").tolist(), strict=True)
    return [
        shapely.intersection(copies[i], copies[j])
        for i, j in pairs
        if i < j and shapely.intersection(copies[i], copies[j]).area > 0
    ]


def _bound_line(canvas: Canvas, task: Task, length_mm: float) -> None:
    bound = lower_bound(task)
    high = AROUND_MM + bound.length_mm
    ends = np.array([[AROUND_MM / 2, high], [task.width_mm + 1.5 * AROUND_MM, high]])
    canvas.line(ends, colour=ACCENT, dash="7 4")
    text = (
        f"{task.copies} copies in {length_mm:.1f} mm; no layout is shorter than "
        f"{bound.length_mm:.1f} mm ({bound.reason}, dashed line)"
    )
    canvas.words(AROUND_MM, AROUND_MM + length_mm + canvas.px_mm(10), text)


DRAWINGS: dict[str, Callable[[Demo], bytes]] = {
    "nest-columns": lambda demo: columns(demo.plate),
    "nest-boxes": lambda _: boxes(),
    "nest-pattern": lambda demo: pattern(demo.regatta["lighthouse shield"]),
    "nest-no-fit": lambda demo: no_fit_region(
        demo.regatta["race office arrow"], demo.regatta["club burgee"]
    ),
    "nest-search": lambda demo: search(tuple(demo.regatta.values())),
    "nest-bands": lambda demo: bands([demo.regatta[name] for name in IN_BANDS]),
    "nest-cuts": lambda demo: cuts(tuple(demo.regatta.values())),
}
