"""Runs made by a plain grid, to try the proof on: narrow, long, crowded, verbose, huge.

No engine: decals stand in rows of equal cells, marks along both edges. What these
runs say of time and price is invented; only their geometry is consistent.
"""

import io
from dataclasses import replace

import numpy as np
import shapely
from reportlab.pdfgen.canvas import Canvas

from nestplan.artwork import Artwork, Decal, Picture
from nestplan.cut import CutPlan, CutStroke, FrameCut
from nestplan.faults import Note
from nestplan.files.fonts import BODY_BOLD, register_fonts
from nestplan.files.run import Run
from nestplan.geometry.outline import Outline, outline_of
from nestplan.marks import Frame, Mark, Slug
from nestplan.nest import Placements, Shape, Strip, placed
from tests.files.handmade import PT_PER_MM, a_run, roughly_predicted

END_MM, LEAD_MM, TAIL_MM, GAP_MM = 24.0, 40.0, 90.0, 30.0
MARGIN_MM, LANE_MM, GUTTER_MM = 10.0, 30.0, 5.0
HUES = (0.58, 0.08, 0.42, 0.75, 0.0, 0.15, 0.5, 0.92, 0.3, 0.66, 0.2, 0.83)


def sample(
    *,
    width_mm: float = 600.0,
    frames_mm: tuple[float, ...] = (400.0,),
    sizes_mm: tuple[tuple[float, float], ...] = ((90.0, 60.0), (70.0, 70.0)),
    names: tuple[str, ...] = (),
    spacing_mm: float = 400.0,
    enters: str = "leading",
    notes: tuple[Note, ...] = (),
    weight_g_m2: float | None = None,
    name: str = "harbour regatta",
    spoiled_m: tuple[tuple[float, float], ...] = (),
) -> Run:
    """A run of frames filled with equal cells, decals taking turns."""
    base = a_run()
    decals = tuple(
        _decal(k, size, names[k] if k < len(names) else f"boat number {k + 1}")
        for k, size in enumerate(sizes_mm)
    )
    starts = LEAD_MM + np.cumsum([0.0, *(length + GAP_MM for length in frames_mm[:-1])])
    frames, strips, cuts = [], [], []
    used = [0] * len(decals)
    for index, (y0, length) in enumerate(zip(starts.tolist(), frames_mm, strict=True), start=1):
        strip = _strip(decals, width_mm, length, used)
        frames.append(_frame(index, y0, length, width_mm, spacing_mm, enters))
        strips.append(strip)
        cuts.append(_cut(index, decals, strip, y0))
    roll = base.job.roll.model_copy(
        update={
            "width_mm": width_mm,
            "weight_g_m2": weight_g_m2,
            "avoid_m": [list(span) for span in spoiled_m],
            "left_m": 50.0,
        }
    )
    setup = base.job.setup.model_copy(update={"enters": enters})
    order = base.job.order.model_copy(update={"name": name})
    decals = tuple(replace(d, quantity=max(1, n)) for d, n in zip(decals, used, strict=True))
    task = replace(base.nest.task, shapes=tuple(_shape(decal) for decal in decals))
    nest = replace(base.nest, task=task, strips=tuple(strips), x0_mm=MARGIN_MM)
    last = frames[-1]
    return roughly_predicted(
        replace(
            base,
            job=replace(base.job, roll=roll, setup=setup, order=order),
            artwork=Artwork(decals=decals, notes=()),
            nest=replace(nest, bound_mm=0.94 * nest.length_mm),
            marks=replace(
                base.marks,
                frames=tuple(frames),
                spacing_mm=spacing_mm,
                length_used_mm=last.y0_mm + last.length_mm + TAIL_MM,
            ),
            cut=CutPlan(
                frames=tuple(cuts), contours=sum(used), length_mm=250.0 * sum(used), travel_mm=1e4
            ),
            notes=notes or base.notes,
            page_x0_mm=MARGIN_MM,
            page_width_mm=width_mm - 2 * MARGIN_MM,
        )
    )


def small() -> Run:
    """One frame, two decals."""
    return sample(frames_mm=(300.0,))


def narrow() -> Run:
    """A narrow web, entering with its trailing edge."""
    return sample(
        width_mm=152.0,
        frames_mm=(620.0, 620.0),
        sizes_mm=((40.0, 30.0),),
        spacing_mm=200.0,
        enters="trailing",
        weight_g_m2=250.0,
    )


def twenty_frames() -> Run:
    """Thirty metres."""
    return sample(
        width_mm=1370.0,
        frames_mm=(1500.0,) * 20,
        sizes_mm=((180.0, 120.0), (150.0, 150.0), (220.0, 100.0)),
        spoiled_m=((9.2, 9.3),),
    )


def long_names() -> Run:
    """Names as long as the job file allows, letters the typeface lacks, many notes."""
    long = "Bootsnummernschild für die Regatta der Hafengemeinschaft, beidseitig lesbar, matt"[:80]
    names = (long, "W" * 80, "Ŝipo ΑΒΓ Лодка ⚓ 船\n\t\u202e", "i")
    told = tuple(
        Note(
            level=("know", "look", "stop")[k % 3],
            where=names[k % 4],
            text="the outline comes nearer than the knife can turn, look at the tip of the "
            f"pennant, place {k}: it may be lifted while weeding and should be rounded",
        )
        for k in range(9)
    )
    return sample(
        sizes_mm=((90.0, 60.0), (70.0, 70.0), (60.0, 40.0), (30.0, 90.0)),
        names=names,
        notes=told,
        name="A regatta with a name that goes on and on until nobody in the race office listens "
        * 2,
    )


def twelve_decals() -> Run:
    """Twelve designs on a wide film, two frames."""
    sizes = tuple((60.0 + 11 * (k % 5), 50.0 + 9 * (k % 7)) for k in range(12))
    return sample(width_mm=1370.0, frames_mm=(820.0, 820.0), sizes_mm=sizes, spacing_mm=300.0)


def shortest() -> Run:
    """One frame of 150 mm."""
    return sample(width_mm=320.0, frames_mm=(150.0,), sizes_mm=((50.0, 40.0),))


def short() -> Run:
    """One frame of 300 mm on wide film."""
    return sample(width_mm=1370.0, frames_mm=(300.0,))


def many_marks() -> Run:
    """A long frame with marks close together: the tables do not fit the page."""
    return sample(width_mm=700.0, frames_mm=(4800.0,), sizes_mm=((210.0, 297.0),), spacing_mm=150.0)


def huge() -> Run:
    """Ten thousand copies of three small decals."""
    return sample(
        width_mm=1370.0,
        frames_mm=(2400.0,) * 4,
        sizes_mm=((26.0, 26.0), (30.0, 20.0), (28.0, 22.0)),
    )


def any_run(seed: int) -> Run:
    """A run drawn by lot: widths, frames, decals, names, notes and marks of all kinds."""
    rng = np.random.default_rng(seed)
    width = float(rng.choice([100.0, 152.0, 320.0, 610.0, 1370.0, 3200.0]))
    widest = max(20.0, width - 2 * MARGIN_MM - 2 * LANE_MM - GUTTER_MM)
    count = int(rng.choice([1, 2, 5, 9, 30]))
    notes = tuple(
        Note(
            level=("stop", "look", "know")[k % 3],
            where=f"decal {k}",
            text="word " * int(rng.integers(1, 80)),
        )
        for k in range(int(rng.choice([1, 4, 30])))
    )
    return sample(
        width_mm=width,
        frames_mm=tuple(rng.choice([150.0, 300.0, 820.0, 1500.0, 5000.0], size=3).tolist()),
        sizes_mm=tuple(
            (float(min(widest, rng.uniform(15, 200))), float(rng.uniform(15, 300)))
            for _ in range(count)
        ),
        names=tuple(("plate " * int(rng.integers(1, 13)))[:80] for _ in range(count)),
        spacing_mm=float(rng.choice([150.0, 400.0, 1000.0])),
        enters=str(rng.choice(["leading", "trailing"])),
        notes=notes,
        name="regatta " * int(rng.integers(1, 12)),
    )


SAMPLES = {
    "small": small,
    "narrow": narrow,
    "twenty_frames": twenty_frames,
    "long_names": long_names,
    "twelve_decals": twelve_decals,
    "shortest": shortest,
    "short": short,
    "many_marks": many_marks,
}


def _decal(index: int, size_mm: tuple[float, float], name: str) -> Decal:
    contour = outline_of(_region(index, *size_mm))
    low, high = np.array(contour.bounds_mm[:2]), np.array(contour.bounds_mm[2:])
    contour = contour.moved(*(-(low + high) / 2).tolist())
    return Decal(
        name=name,
        quantity=1,
        contour=contour,
        picture=_picture(index, contour),
        cut="through" if index % 3 == 1 else "kiss",
        bleed_mm=2.0,
        rotate=("none", "half", "quarter", "free")[index % 4],
        source=f"art/{index}.svg",
        digest="0" * 64,
    )


def _region(index: int, width: float, height: float) -> shapely.Geometry:
    """A rounded plate, an ellipse with a hole, a pennant, a house, in turn."""
    box = shapely.box(-width / 2, -height / 2, width / 2, height / 2)
    match index % 4:
        case 0:
            r = min(width, height) / 6
            return shapely.buffer(shapely.buffer(box, -r), r)
        case 1:
            disc = shapely.buffer(shapely.Point(0, 0), 0.5, quad_segs=24)
            ring = shapely.difference(disc, shapely.buffer(shapely.Point(0.2, 0.1), 0.1))
            return shapely.affinity.scale(ring, width, height, origin=(0, 0))
        case 2:
            w, h = width / 2, height / 2
            return shapely.Polygon([(-w, -h), (w, -h / 3), (w / 2, 0), (w, h / 3), (-w, h)])
    w, h = width / 2, height / 2
    return shapely.Polygon([(-w, -h), (w, -h), (w, h / 3), (0, h), (-w, h / 3)])


def _picture(index: int, contour: Outline) -> Picture:
    """A field of colour with a lighter disc and the decal's number."""
    register_fonts()
    left, bottom, right, top = (
        side + past for side, past in zip(contour.bounds_mm, (-4, -4, 4, 4), strict=True)
    )
    held = io.BytesIO()
    pdf = Canvas(
        held,
        pagesize=((right - left) * PT_PER_MM, (top - bottom) * PT_PER_MM),
        initialFontName=BODY_BOLD,
        invariant=1,
    )
    pdf.scale(PT_PER_MM, PT_PER_MM)
    pdf.translate(-left, -bottom)
    shade = HUES[index % len(HUES)]
    pdf.setFillColorRGB(0.25 + 0.6 * shade, 0.45, 0.75 - 0.5 * shade)
    pdf.rect(left, bottom, right - left, top - bottom, stroke=0, fill=1)
    pdf.setFillColorRGB(0.95, 0.93, 0.86)
    pdf.circle(-(right - left) / 8, 0, (top - bottom) / 4, stroke=0, fill=1)
    pdf.setFillColorRGB(0.1, 0.15, 0.2)
    pdf.setFont(BODY_BOLD, (top - bottom) / 5)
    pdf.drawCentredString(-(right - left) / 8, -(top - bottom) / 15, f"{index + 1}")
    pdf.save()
    return Picture(pdf=held.getvalue(), box_mm=(left, bottom, right, top))


def _shape(decal: Decal) -> Shape:
    return Shape(
        name=decal.name,
        outline=decal.contour,
        copies=decal.quantity,
        angles_deg=(0.0,),
        edge_mm=decal.bleed_mm,
    )


def _strip(decals: tuple[Decal, ...], width_mm: float, length_mm: float, used: list[int]) -> Strip:
    """Cells between the lanes of the marks; strip coordinates, x = 0 at the printable edge."""
    wide = max(d.contour.width_mm for d in decals) + GUTTER_MM
    tall = max(d.contour.height_mm for d in decals) + GUTTER_MM
    lanes = width_mm - 2 * MARGIN_MM - 2 * LANE_MM
    columns = max(1, int(lanes // wide))
    rows = max(1, int((length_mm - 2 * END_MM) // tall))
    shape, centre, angle, copy = [], [], [], []
    for row in range(rows):
        for column in range(columns):
            decal = (row * columns + column) % len(decals)
            used[decal] += 1
            shape.append(decal)
            copy.append(used[decal])
            centre.append((LANE_MM + (column + 0.5) * wide, (row + 0.5) * tall - GUTTER_MM / 2))
            angle.append(180.0 if row % 2 else 0.0)
    return Strip(
        placements=Placements(
            shape=np.array(shape, dtype=np.intp),
            centre_mm=np.array(centre),
            angle_deg=np.array(angle),
        ),
        copy=tuple(copy),
        length_mm=rows * tall - GUTTER_MM,
    )


def _frame(
    index: int, y0: float, length: float, width_mm: float, spacing_mm: float, enters: str
) -> Frame:
    x0, x1 = MARGIN_MM + 12.0, width_mm - MARGIN_MM - 12.0
    low, high = y0 + 11.0, y0 + length - 11.0
    rows = max(2, int(np.ceil((high - low) / spacing_mm)) + 1)
    places = [(x, float(y)) for y in np.linspace(low, high, rows) for x in (x0, x1)]
    if enters == "trailing":
        places = places[::-1]
    lanes = [shapely.box(a, low, b, high) for a, b in ((x0 - 6, x0 + 12), (x1 - 12, x1 + 6))]
    return Frame(
        index=index,
        y0_mm=y0,
        length_mm=length,
        strip_y0_mm=y0 + END_MM,
        marks=tuple(Mark(number=n, x_mm=x, y_mm=y) for n, (x, y) in enumerate(places, start=1)),
        slug=Slug(
            across_mm=(x0 + 10.0, y0 + length - 8.0),
            along_mm=(x0 - 10.0, y0 + 25.0),
            text_mm=(x0 + 12.0, y0 + 3.0, min(x0 + 140.0, x1 - 12.0), y0 + 8.0),
        ),
        safe=shapely.MultiPolygon(lanes),
    )


def _cut(index: int, decals: tuple[Decal, ...], strip: Strip, y0: float) -> FrameCut:
    moved = strip.placements.moved(MARGIN_MM, y0 + END_MM)
    rings = [
        CutStroke(kind=decals[shape].cut, decal=shape, copy=copy, ring=k, points_mm=ring)
        for shape, centre, angle, copy in zip(
            moved.shape.tolist(),
            moved.centre_mm,
            moved.angle_deg.tolist(),
            strip.copy,
            strict=True,
        )
        for k, ring in enumerate(placed(decals[shape].contour, centre, angle).rings)
    ]
    return FrameCut(index=index, strokes=tuple(sorted(rings, key=lambda ring: ring.kind)))
