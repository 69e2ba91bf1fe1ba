"""A small planned run, made by hand: what the writers and the check can be tried on.

No engine, no search: every place below was chosen with pencil and paper, so a test
can say where a thing must lie without asking the program. Two decals (a plate with
a square hole off its centre, and a swallow-tailed burgee, which is concave), eight
copies at 0, 37.5, 90, 180, 217.5 and 270 degrees, two frames on 600 mm film.

    from tests.files.handmade import a_run
    run = a_run()

    frame 1   y  50 .. 450   4 marks, 6 copies
    frame 2   y 480 .. 780   5 marks, 2 copies
    page      x  10 .. 588   the printable width

The plate's picture is vectors (and says which way is up); the burgee's is one
raster with alpha. Both pictures reach 4 mm past the contour, twice the bleed, so
that a writer that forgets to clip is seen.
"""

import hashlib
import io
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import shapely
from PIL import Image, ImageDraw
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from nestplan.artwork import Artwork, Decal, Picture
from nestplan.artwork.picture_dpi import picture_dpi
from nestplan.clock import SetupTimes, Times
from nestplan.cost import Estimate
from nestplan.cut import CutPlan, CutStroke, FrameCut
from nestplan.faults import Note
from nestplan.files.fonts import BODY_BOLD, register_fonts
from nestplan.files.run import Run
from nestplan.geometry.outline import Outline
from nestplan.job import Job, JobFile, ShopFile
from nestplan.marks import Frame, FrameErrors, Mark, MarkPlan, Slug, error_model, predict
from nestplan.nest import Nest, Placements, Shape, Strip, Task, Tried, placed

PT_PER_MM = 72 / 25.4
PAGE_X0_MM, PAGE_WIDTH_MM = 10.0, 578.0
FRAME_Y0_MM, FRAME_LENGTH_MM = (50.0, 480.0), (400.0, 300.0)
STRIP_Y0_MM = (110.0, 555.0)
MARK_SIZE_MM = 6.0
ART_PAST_CONTOUR_MM = 4.0

# (decal, copy, centre in run coordinates, angle) of each frame
PLACES = (
    (
        (0, 1, (110.0, 140.0), 0.0),
        (0, 2, (110.0, 250.0), 90.0),
        (1, 1, (240.0, 150.0), 0.0),
        (1, 2, (250.0, 260.0), 37.5),
        (0, 3, (400.0, 150.0), 180.0),
        (1, 3, (400.0, 270.0), 90.0),
    ),
    (
        (0, 4, (110.0, 600.0), 270.0),
        (1, 4, (260.0, 610.0), 217.5),
    ),
)
MARKS = (
    ((24.0, 62.0), (576.0, 62.0), (24.0, 438.0), (576.0, 438.0)),
    ((24.0, 492.0), (576.0, 492.0), (24.0, 768.0), (576.0, 768.0), (300.0, 768.0)),
)

PLATE = Outline(  # 90 x 60 mm, a 20 mm square hole whose centre is at (-25, 10)
    rings=(
        np.array([[-45.0, -30.0], [45.0, -30.0], [45.0, 30.0], [-45.0, 30.0]]),
        np.array([[-35.0, 0.0], [-35.0, 20.0], [-15.0, 20.0], [-15.0, 0.0]]),
    )
)
BURGEE = Outline(  # 80 x 50 mm, tails to the right
    rings=(np.array([[-40.0, -25.0], [40.0, -10.0], [25.0, 0.0], [40.0, 10.0], [-40.0, 25.0]]),)
)
CONTOURS = (PLATE, BURGEE)
AREAS_MM2 = (90.0 * 60 - 20 * 20, 80.0 * 50 - 2 * 80 * 15 / 2 - 20 * 15 / 2)  # by hand


def a_run() -> Run:
    """The whole planned run; a fresh object every time."""
    frames = tuple(_frame(i) for i in range(2))
    marks = MarkPlan(
        frames=frames,
        shape="disc",
        size_mm=MARK_SIZE_MM,
        clear_mm=5.0,
        spacing_mm=400.0,
        outline=_disc(MARK_SIZE_MM / 2),
        length_used_mm=880.0,
        notes=(),
    )
    return Run(
        job=a_job(),
        seed=7,
        steps=1000,
        workers=2,
        artwork=Artwork(decals=_decals(), notes=()),
        nest=_nest(),
        marks=marks,
        errors=predict(error_model(a_job()), _decals(), _nest(), frames, 0.05),
        cut=_cut(),
        times=_times(),
        estimate=Estimate(
            currency="EUR",
            film=Decimal("7.39"),
            ink=Decimal("1.20"),
            labour=Decimal("9.00"),
            machine=Decimal("2.41"),
            total=Decimal("20.00"),
            per_decal=Decimal("2.5000"),
            per_decal_by_name=(
                ("berth plate", Decimal("3.1200")),
                ("club burgee", Decimal("1.8800")),
            ),
        ),
        notes=(
            Note(
                level="look",
                where="club burgee",
                text="a hairline of 0.12 mm lies outside the contour: it is cut off",
            ),
            Note(
                level="know",
                where="gutter",
                text="the gutter of 5 mm decides, the bleeds together need 3.5 mm",
            ),
        ),
        page_x0_mm=PAGE_X0_MM,
        page_width_mm=PAGE_WIDTH_MM,
        version="0.1.0",
    )


def predicted(run: Run) -> Run:
    """The run with the errors of its own marks and places."""
    model = error_model(run.job)
    errors = predict(
        model, run.artwork.decals, run.nest, run.marks.frames, run.job.order.chance_limit
    )
    return replace(run, errors=errors)


def roughly_predicted(run: Run) -> Run:
    """The run with errors that grow along the film: quick, for pictures of large runs."""
    frames = tuple(
        FrameErrors(
            p95_mm=0.3 + strip.placements.centre_mm[:, 1] / 1e4,
            worst_mm=strip.placements.centre_mm + (run.nest.x0_mm, frame.strip_y0_mm),
        )
        for strip, frame in zip(run.nest.strips, run.marks.frames, strict=True)
    )
    worst = max(float(frame.p95_mm.max()) for frame in frames)
    return replace(run, errors=replace(run.errors, frames=frames, worst_mm=worst))


def a_job() -> Job:
    """The job and shop of the run, as if read from files that need not exist."""
    order = JobFile.model_validate(
        {
            "name": "harbour regatta",
            "shop": "shop.toml",
            "roll": "white gloss 600",
            "setup": "pair",
            "gutter_mm": 5.0,
            "decal": [
                {
                    "name": "berth plate",
                    "artwork": "art/berth_plate.svg",
                    "quantity": 4,
                    "contour": "layer:outline",
                    "bleed_mm": 2.0,
                    "rotate": "quarter",
                },
                {
                    "name": "club burgee",
                    "artwork": "art/club_burgee.png",
                    "quantity": 4,
                    "cut": "through",
                    "contour": "offset:1.0",
                    "bleed_mm": 1.5,
                    "rotate": "free",
                },
            ],
        }
    )
    shop = ShopFile.model_validate(
        {
            "roll": [
                {
                    "name": "white gloss 600",
                    "width_mm": 600.0,
                    "left_m": 40.0,
                    "price": Decimal("14.00"),
                    "per": "m2",
                    "finish": "gloss",
                }
            ],
            "machine": [_printer(), _cutter()],
            "setup": [
                {
                    "name": "pair",
                    "stages": [
                        {"machine": "printer", "does": "print", "handling_s": 120.0},
                        {"machine": "cutter", "does": "cut", "lag_s": 3600.0, "handling_s": 180.0},
                    ],
                    "enters": "leading",
                }
            ],
            "cost": {
                "currency": "EUR",
                "ink_per_ml": Decimal("0.12"),
                "ink_ml_per_m2": Decimal("10"),
                "labour_per_h": Decimal("36"),
            },
        }
    )
    return Job(
        path=Path("/harbour/regatta.toml"),
        order=order,
        shop_path=Path("/harbour/shop.toml"),
        shop=shop,
        roll=shop.roll[0],
        setup=shop.setup[0],
        printer=shop.machine[0],
        cutter=shop.machine[1],
    )


def _printer() -> dict[str, object]:
    return {
        "name": "printer",
        "does": ["print"],
        "width_mm": 1600.0,
        "margin_left_mm": 10.0,
        "margin_right_mm": 12.0,
        "lead_mm": 50.0,
        "tail_mm": 100.0,
        "mode": [
            {
                "name": "fine",
                "resolution_dpi": 720,
                "passes": 6,
                "swath_mm": 54.0,
                "carriage_mm_s": 1000.0,
                "turnaround_s": 0.4,
            }
        ],
    }


def _cutter() -> dict[str, object]:
    return {
        "name": "cutter",
        "does": ["cut"],
        "width_mm": 1400.0,
        "speed_mm_s": 400.0,
        "acceleration_mm_s2": 9800.0,
        "lift_s": 0.08,
        "frame_least_mm": 150.0,
        "frame_greatest_mm": 400.0,
        "frame_gap_mm": 30.0,
        "corrects": "similarity",
        "tools": {"kiss": "blade 1", "through": "blade 2"},
        "sensor": {
            "shape": "disc",
            "size_mm": MARK_SIZE_MM,
            "clear_mm": 5.0,
            "spacing_mm": 400.0,
            "read_s": 1.5,
            "repeatability_mm": 0.08,
        },
    }


def _decals() -> tuple[Decal, ...]:
    pictures = (_plate_picture(), _burgee_picture())
    order = a_job().order.decal
    return tuple(
        Decal(
            name=wanted.name,
            quantity=wanted.quantity,
            contour=contour,
            picture=picture,
            cut=wanted.cut,
            bleed_mm=wanted.bleed_mm,
            rotate=wanted.rotate,
            source=wanted.artwork,
            digest=hashlib.sha256(picture.pdf).hexdigest(),
            picture_dpi=picture_dpi(picture, contour.region),
        )
        for wanted, contour, picture in zip(order, CONTOURS, pictures, strict=True)
    )


def _art_box_mm(contour: Outline) -> tuple[float, float, float, float]:
    left, bottom, right, top = contour.bounds_mm
    past = ART_PAST_CONTOUR_MM
    return left - past, bottom - past, right + past, top + past


def _plate_picture() -> Picture:
    """Blue to the edge of the art box, a white arrow up, a translucent red bar at the left."""
    box = _art_box_mm(PLATE)
    pdf, held = _blank(box)
    pdf.setFillColorRGB(0.10, 0.30, 0.60)
    pdf.rect(box[0] - 1, box[1] - 1, 120, 90, stroke=0, fill=1)
    pdf.setFillColorRGB(1, 1, 1)
    arrow = pdf.beginPath()
    arrow.moveTo(20, 22)
    for x, y in ((10, 5), (17, 5), (17, -22), (23, -22), (23, 5), (30, 5)):
        arrow.lineTo(x, y)
    arrow.close()
    pdf.drawPath(arrow, stroke=0, fill=1)
    pdf.setFont(BODY_BOLD, 11)
    pdf.drawString(-35, -20, "B 12")
    pdf.setFillColorRGB(0.85, 0.20, 0.15, alpha=0.6)
    pdf.rect(-42, -26, 4, 52, stroke=0, fill=1)
    pdf.save()
    return Picture(pdf=held.getvalue(), box_mm=box)


def _burgee_picture() -> Picture:
    """One raster with alpha at 8 pixels a mm: orange, a dark disc near the hoist."""
    box = _art_box_mm(BURGEE)
    width_mm, height_mm = box[2] - box[0], box[3] - box[1]
    image = Image.new("RGBA", (round(width_mm * 8), round(height_mm * 8)), (240, 150, 30, 255))
    draw = ImageDraw.Draw(image)
    draw.ellipse(_pixels(box, -33.0, -8.0, -17.0, 8.0), fill=(40, 40, 60, 255))
    draw.ellipse(_pixels(box, -28.0, -3.0, -22.0, 3.0), fill=(40, 40, 60, 0))
    pdf, held = _blank(box)
    pdf.drawImage(ImageReader(image), box[0], box[1], width_mm, height_mm, mask="auto")
    pdf.save()
    return Picture(pdf=held.getvalue(), box_mm=box)


def _pixels(
    box: tuple[float, ...], left: float, bottom: float, right: float, top: float
) -> tuple[float, ...]:
    """First and last pixel of a rectangle in mm; pixels run down, the last one is inside."""
    return (
        8 * (left - box[0]),
        8 * (box[3] - top),
        8 * (right - box[0]) - 1,
        8 * (box[3] - bottom) - 1,
    )


def _blank(box: tuple[float, float, float, float]) -> tuple[Canvas, io.BytesIO]:
    """A page as large as the art box, its units millimetres of decal coordinates."""
    register_fonts()
    held = io.BytesIO()
    size_pt = ((box[2] - box[0]) * PT_PER_MM, (box[3] - box[1]) * PT_PER_MM)
    pdf = Canvas(held, pagesize=size_pt, initialFontName=BODY_BOLD, invariant=1)
    pdf.scale(PT_PER_MM, PT_PER_MM)
    pdf.translate(-box[0], -box[1])
    return pdf, held


def _nest() -> Nest:
    task = Task(
        shapes=tuple(
            Shape(
                name=decal.name,
                outline=decal.contour,
                copies=decal.quantity,
                angles_deg=(0.0, 90.0, 180.0, 270.0),
                any_angle=decal.rotate == "free",
                edge_mm=decal.bleed_mm,
            )
            for decal in _decals()
        ),
        width_mm=PAGE_WIDTH_MM,
        apart_mm=((5.0, 5.0), (5.0, 5.0)),
        length_most_mm=300.0,
    )
    strips = tuple(_strip(places, y0) for places, y0 in zip(PLACES, STRIP_Y0_MM, strict=True))
    return Nest(
        task=task,
        strips=strips,
        x0_mm=PAGE_X0_MM,
        bound_mm=62.5,
        bound_reason="area of the contours grown by half the gutter",
        engine="hand",
        tried=(
            Tried(engine="columns", length_mm=None),
            Tried(engine="hand", length_mm=sum(strip.length_mm for strip in strips)),
        ),
    )


def _strip(places: tuple[tuple[int, int, tuple[float, float], float], ...], y0_mm: float) -> Strip:
    tops = [placed_run(place).bounds_mm[3] for place in places]
    return Strip(
        placements=Placements(
            shape=np.array([decal for decal, _, _, _ in places], dtype=np.intp),
            centre_mm=np.array([centre for _, _, centre, _ in places]) - (PAGE_X0_MM, y0_mm),
            angle_deg=np.array([angle for _, _, _, angle in places]),
        ),
        copy=tuple(copy for _, copy, _, _ in places),
        length_mm=max(tops) - y0_mm,
    )


def placed_run(place: tuple[int, int, tuple[float, float], float]) -> Outline:
    """The contour of one of PLACES in run coordinates."""
    decal, _, centre, angle = place
    return placed(CONTOURS[decal], np.array(centre), angle)


def _frame(index: int) -> Frame:
    y0 = FRAME_Y0_MM[index]
    return Frame(
        index=index + 1,
        y0_mm=y0,
        length_mm=FRAME_LENGTH_MM[index],
        strip_y0_mm=STRIP_Y0_MM[index],
        marks=tuple(Mark(number=n + 1, x_mm=x, y_mm=y) for n, (x, y) in enumerate(MARKS[index])),
        slug=Slug(
            across_mm=(440.0, y0 + 6.0),
            along_mm=(20.0, y0 + 70.0),
            text_mm=(60.0, y0 + 4.0, 420.0, y0 + 12.0),
        ),
        safe=_edge_lanes(y0, FRAME_LENGTH_MM[index]),
    )


def _edge_lanes(y0_mm: float, length_mm: float) -> shapely.MultiPolygon:
    return shapely.MultiPolygon(
        [
            shapely.box(18.0, y0_mm + 8.0, 40.0, y0_mm + length_mm - 8.0),
            shapely.box(560.0, y0_mm + 8.0, 580.0, y0_mm + length_mm - 8.0),
        ]
    )


def _disc(radius_mm: float) -> Outline:
    turns = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    return Outline(rings=(radius_mm * np.column_stack([np.cos(turns), np.sin(turns)]),))


def _cut() -> CutPlan:
    """Kiss before through, a hole before its outer ring, copies as they stand in PLACES."""
    frames = []
    for index, places in enumerate(PLACES):
        ordered = [place for place in places if place[0] == 0]
        ordered += [place for place in places if place[0] == 1]
        rings = tuple(
            CutStroke(
                kind="kiss" if place[0] == 0 else "through",
                decal=place[0],
                copy=place[1],
                ring=ring,
                points_mm=placed_run(place).rings[ring],
            )
            for place in ordered
            for ring in reversed(range(len(CONTOURS[place[0]].rings)))
        )
        frames.append(FrameCut(index=index + 1, strokes=rings))
    return CutPlan(
        frames=tuple(frames),
        contours=sum(len(places) for places in PLACES),
        length_mm=sum(CONTOURS[place[0]].length_mm for places in PLACES for place in places),
        travel_mm=2345.6,
    )


def _times() -> Times:
    return Times(
        print_s=95.0,
        print_mode="fine",
        cut_s=42.0,
        setups=(
            SetupTimes(
                name="pair",
                print_s=95.0,
                handling_s=300.0,
                lag_s=3600.0,
                cut_s=42.0,
                one_run_s=4037.0,
                runs_per_shift=98,
            ),
        ),
    )
