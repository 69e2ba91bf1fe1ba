"""Draw how the nesting engines work: `python -m nestplan.show.nests DEMO_JOBS --out PICTURES`.

Every picture is made by the engine it explains, on decals of the demo jobs.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import click
import numpy as np
import shapely

from nestplan.artwork import load_artwork
from nestplan.geometry.outline import Outline
from nestplan.job import read_job
from nestplan.nest import Budget, Placements, Shape, Task, placed
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

GUTTER_MM = 4.0
WIDTH_MM = 1370.0
AROUND_MM = 26.0  # blank paper round a picture
CLOSER = 0.93  # by which a layout is drawn together to show overlaps
STEPS = 4_000
PLATES_MM = ((180, 60, 14), (120, 90, 16), (90, 90, 18), (75, 40, 30), (240, 45, 8), (60, 30, 40))
IN_BANDS = ("lighthouse shield", "race office arrow", "life ring")
FRAME_MM = 420.0


@click.command()
@click.argument("demo", metavar="DEMO_JOBS", type=click.Path(path_type=Path, exists=True))
@click.option("--out", required=True, type=click.Path(path_type=Path), help="Folder for the PNGs.")
def main(demo: Path, out: Path) -> None:
    """Draw every engine at work."""
    out.mkdir(parents=True, exist_ok=True)
    shapes = shapes_of(demo / "regatta" / "regatta.toml")
    plates = shapes_of(demo / "berths" / "berths.toml")
    drawings: dict[str, Callable[[], bytes]] = {
        "nest-columns": lambda: columns(plates["berth plate"]),
        "nest-boxes": boxes,
        "nest-pattern": lambda: pattern(shapes["lighthouse shield"]),
        "nest-no-fit": lambda: no_fit_region(shapes["race office arrow"], shapes["club burgee"]),
        "nest-search": lambda: search(tuple(shapes.values())),
        "nest-bands": lambda: bands([shapes[name] for name in IN_BANDS]),
        "nest-cuts": lambda: cuts(tuple(shapes.values())),
    }
    for name, draw in drawings.items():
        (out / f"{name}.png").write_bytes(draw())


def shapes_of(job_file: Path) -> dict[str, Shape]:
    """The decals of a job as shapes that may be turned by quarters, by name."""
    decals = load_artwork(read_job(job_file)).decals
    return {
        decal.name: Shape(
            name=decal.name,
            outline=decal.contour,
            copies=decal.quantity,
            angles_deg=(0.0, 90.0, 180.0, 270.0),
            edge_mm=2.0,
        )
        for decal in decals
    }


def task_of(shapes: tuple[Shape, ...], width_mm: float = WIDTH_MM) -> Task:
    """These shapes on the film, one gutter for all."""
    apart = ((GUTTER_MM,) * len(shapes),) * len(shapes)
    return Task(shapes=shapes, width_mm=width_mm, apart_mm=apart)


def regions(
    task: Task, placements: Placements, x0_mm: float = AROUND_MM, y0_mm: float = AROUND_MM
) -> list[Area]:
    """Every copy as it lies, the strip's corner at (x0, y0) of the picture."""
    rows = zip(
        placements.shape.tolist(),
        placements.centre_mm + (x0_mm, y0_mm),
        placements.angle_deg.tolist(),
        strict=True,
    )
    return [placed(task.shapes[k].outline, at, angle).region for k, at, angle in rows]


# ---------------------------------------------------------------- one picture an engine


def columns(plate: Shape) -> bytes:
    """Equal boxes: rows of upright plates and a row of turned ones."""
    task = task_of((plate,))
    layout = Columns()(task, Budget(steps=1, seed=1))
    assert layout is not None
    canvas = _strip_canvas(task, layout.length_mm)
    _film(canvas, task, layout.length_mm)
    turned = layout.placements.angle_deg % 180.0 != 0.0
    for region, lying in zip(regions(task, layout.placements), turned, strict=True):
        _copy(canvas, region, TINTS[int(lying)])
    _bound_line(canvas, task, layout.length_mm)
    return canvas.png()


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
    assert layout is not None
    canvas = _strip_canvas(task, layout.length_mm)
    _film(canvas, task, layout.length_mm)
    copies = zip(regions(task, layout.placements), layout.placements.shape.tolist(), strict=True)
    for region, shape in copies:
        _copy(canvas, region, TINTS[shape])
    _bound_line(canvas, task, layout.length_mm)
    return canvas.png()


def _box(x: float, y: float) -> list[tuple[float, float]]:
    return [(-x, -y), (x, -y), (x, y), (-x, y)]


def bands(shapes: list[Shape]) -> bytes:
    """Large quantities of several shapes: a band of its own pattern for each."""
    task = task_of(tuple(replace(shape, copies=70) for shape in shapes))
    layout = Blocks()(task, Budget(steps=STEPS, seed=1))
    assert layout is not None
    canvas = _strip_canvas(task, layout.length_mm)
    _film(canvas, task, layout.length_mm)
    copies = zip(regions(task, layout.placements), layout.placements.shape.tolist(), strict=True)
    for region, shape in copies:
        _copy(canvas, region, TINTS[shape])
    _bound_line(canvas, task, layout.length_mm)
    return canvas.png()


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


def pattern(shield: Shape) -> bytes:
    """Equal copies: the pattern, and the one pair that is repeated."""
    task = task_of((replace(shield, copies=60),))
    layout = Patterns()(task, Budget(steps=1, seed=1))
    assert layout is not None
    canvas = _strip_canvas(task, layout.length_mm)
    _film(canvas, task, layout.length_mm)
    turns = sorted(set(layout.placements.angle_deg.tolist()))
    angles = layout.placements.angle_deg.tolist()
    for region, angle in zip(regions(task, layout.placements), angles, strict=True):
        _copy(canvas, region, TINTS[turns.index(angle)])
    _bound_line(canvas, task, layout.length_mm)
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


if __name__ == "__main__":
    main()
