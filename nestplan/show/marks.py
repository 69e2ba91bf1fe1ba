"""Where marks may stand, where they stand, and what a measured print says, for the docs.

Both pictures come from one planned run: the first from its first frame, the second from a print
of it that is stretched and skewed by known figures, measured with noise, and fitted.
"""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypedDict

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray

from nestplan.files import Run, run_files, write_together
from nestplan.fit import fit_files, fit_sheets
from nestplan.marks import web_of
from nestplan.marks.candidates import field_of
from nestplan.marks.off_film import NOTHING
from nestplan.marks.words import slug_rooms
from nestplan.nest.placements import placed
from nestplan.show.canvas import FILM, GREY, INK, PAPER, Canvas
from nestplan.show.demo import AROUND_MM
from nestplan.show.folder import pictures_of

Point = NDArray[np.float64]


class Look(TypedDict, total=False):
    """How an area is drawn."""

    fill: str
    line: str
    px: float
    dash: str


WIDE_PX = 1200
ZONE = "#A9C4DA"  # dark enough to stand off film and decals in grey
KEY_MM, KEY_COLUMN_MM = 16.0, 250.0  # a line and a column of the key
KEY: tuple[tuple[tuple[str, str], ...], ...] = (
    (("safe", "safe zone of a mark's centre"), ("decal", "decals")),
    (("candidate", "places that are looked at"), ("words", "kept for words and bars")),
    (("mark", "marks chosen, in their blank rings"),),
)
LOOKS: dict[str, Look] = {
    "safe": Look(fill=ZONE, line=INK, px=0.8),
    "decal": Look(fill=FILM, line=GREY, px=0.8),
    "words": Look(fill=PAPER, line=GREY, px=1.2, dash="5 3"),
}
CANDIDATE_PX, MARK_PX, NUMBER_PX = 2.6, 8.0, 14.0
STRETCH, SKEW, NOISE_MM, TURN_DEG = 0.0022, 0.0012, 0.06, 93.4  # of the print that is measured


def places(run: Run) -> bytes:
    """A frame's safe zone, the places that were looked at, and the marks that were chosen."""
    frame = run.marks.frames[0]
    width, length = run.job.roll.width_mm, frame.length_mm
    canvas = Canvas(width + 2 * AROUND_MM, length + 2 * AROUND_MM + 2 * KEY_MM, wide_px=WIDE_PX)
    move = np.array([AROUND_MM, AROUND_MM - frame.y0_mm])

    def put(region: shapely.Geometry) -> shapely.Geometry:
        return shapely.affinity.translate(region, *move)

    film = shapely.box(0.0, frame.y0_mm, width, frame.y0_mm + length)
    canvas.area(put(film), fill=PAPER, line=GREY, px=1.5)
    canvas.area(put(frame.safe), **LOOKS["safe"])
    strip = run.nest.strips[frame.index - 1]
    for shape, at, angle in strip.placements.moved(run.nest.x0_mm, frame.strip_y0_mm).each():
        decal = placed(run.artwork.decals[shape].contour, at, angle)
        canvas.area(put(decal.region), **LOOKS["decal"])
    for room in slug_rooms(frame.slug):
        canvas.area(put(room), **LOOKS["words"])
    edges = replace(frame, marks=tuple(mark for mark in frame.marks if not mark.inside))
    for at in field_of(run.job, web_of(run.job), edges, NOTHING).places_mm + move:
        canvas.dot(*at, px=CANDIDATE_PX)
    for mark in frame.marks:
        _mark(canvas, run, mark.number, np.array([mark.x_mm, mark.y_mm]) + move)
    _key(canvas, AROUND_MM + length + KEY_MM / 2)
    return canvas.png()


def fit_page(run: Run) -> bytes:
    """The page of a fit of the run's first frame, printed not quite as planned."""
    frame, rng = run.marks.frames[0], np.random.default_rng(run.seed)
    marks = np.array([(mark.x_mm, mark.y_mm - frame.y0_mm) for mark in frame.marks])
    printed = marks + marks[:, 1:] * (SKEW, STRETCH) + rng.normal(scale=NOISE_MM, size=marks.shape)
    a = np.radians(TURN_DEG)
    on_table = printed @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + 900.0
    rows = [
        f"{frame.index},{mark.number},{x:.2f},{y:.2f}"
        for mark, (x, y) in zip(frame.marks, on_table, strict=True)
    ]
    with TemporaryDirectory() as held:
        plan, measured = Path(held, "plan"), Path(held, "marks.csv")
        write_together(plan, run_files(run))
        measured.write_text("\n".join(["frame,mark,x_mm,y_mm", *rows, ""]), encoding="utf-8")
        fit = fit_sheets(plan, measured, frame=None, version=run.version)
        page = Path(held, "fit")
        write_together(page, {"fit.pdf": fit_files(fit)["fit.pdf"]}, last="fit.pdf")
        return pictures_of(page)["fit-01.png"]


def _mark(canvas: Canvas, run: Run, number: int, at: Point) -> None:
    """A chosen mark with its clear zone; its number toward the film's middle."""
    clear = shapely.Point(at).buffer(run.marks.size_mm / 2 + run.marks.clear_mm)
    canvas.area(clear, fill=PAPER, line=INK, px=1.4)
    canvas.dot(*at, px=MARK_PX)
    side = 1 if at[0] - AROUND_MM < run.job.roll.width_mm / 2 else -1
    x, y = at[0] + side * canvas.px_mm(NUMBER_PX + 14.0), at[1]
    plate = shapely.Point(x, y).buffer(canvas.px_mm(NUMBER_PX))
    canvas.area(plate, fill=PAPER, line=GREY, px=0.8)
    canvas.words(x, y - canvas.px_mm(5.0), str(number), anchor="middle", bold=True)


def _key(canvas: Canvas, above_mm: float) -> None:
    """What is drawn how, in two lines above the film."""
    wide = 12.0
    for column, entries in enumerate(KEY):
        x = AROUND_MM + column * KEY_COLUMN_MM
        for line, (look, words) in enumerate(entries):
            y = above_mm + (1 - line) * KEY_MM
            box = shapely.box(x, y, x + wide, y + 8.0)
            middle = x + wide / 2, y + 4.0
            if look == "mark":
                canvas.area(shapely.Point(middle).buffer(7.0), fill=PAPER, line=INK, px=1.4)
                canvas.dot(*middle, px=MARK_PX)
            elif look == "candidate":
                canvas.area(box, fill=ZONE)
                for step in (-4.0, 0.0, 4.0):
                    canvas.dot(middle[0] + step, middle[1], px=CANDIDATE_PX)
            else:
                canvas.area(box, **LOOKS[look])
            canvas.words(x + wide + 4.0, y + 1.2, words)


DRAWINGS: dict[str, Callable[[Run], bytes]] = {"mark-places": places, "fit-page": fit_page}
