"""Whether two renderers agree on the print PDF of the demo jobs, inside every decal's bleed.

    python -m tests.bench.renders [--steps 500] [--dpi 150] [--json FILE] [JOB.toml ...]

poppler (`pdftoppm`, a program of its own) and pdfium draw each page. Inside the contour grown
by its bleed the mean colour difference must stay under 2 of 255, for every copy. Edges: the
area that each renderer inks inside a copy is compared, and the difference spread along the
length of that area's edge: mean distance of the edges, under 0.1 mm.

The worst copy of each job is drawn again alone, `--finer` times as fine: what stems from how a
renderer lays its pixels falls with their size, what stems from the file does not.
"""

import argparse
import io
import json
import subprocess
import tempfile
from math import ceil, floor
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import shapely
import shapely.affinity
from PIL import Image, ImageDraw

from nestplan.files.art_form import printed_region
from nestplan.files.print_pdf import print_pdf
from nestplan.geometry.outline import polygons_of
from nestplan.plan import plan_job

JOBS = sorted(Path("demo_jobs").glob("[!s]*/*.toml")) + [Path("demo_jobs/sponsors/sponsors.toml")]
INK = 24  # of 255 darker than blank film
ROUNDING = (
    1e-4  # points: a page that is a hair longer than its pixels gets one more, and is stretched
)
Image.MAX_IMAGE_PIXELS = None  # a frame at 360 dots an inch is 300 million


def pages(data: bytes, dpi: int, folder: Path):
    """Each page from both renderers, (rows, columns, 3)."""
    path = folder / "print.pdf"
    data = whole_pixels(data, dpi)
    path.write_bytes(data)
    with pypdfium2.PdfDocument(io.BytesIO(data)) as document:
        for number, page in enumerate(document, 1):
            ours = page.render(scale=dpi / 72).to_pil().convert("RGB")
            head = folder / f"page-{number}"
            command = ["pdftoppm", "-r", str(dpi), "-f", str(number), "-l", str(number)]
            subprocess.run([*command, "-singlefile", str(path), str(head)], check=True)
            theirs = Image.open(head.with_suffix(".ppm")).convert("RGB")
            if theirs.size != ours.size:
                theirs = theirs.crop((0, 0, *ours.size))
            yield np.asarray(ours).astype(np.int16), np.asarray(theirs).astype(np.int16)


def whole_pixels(data: bytes, dpi: int) -> bytes:
    """The print with pages of whole pixels: a renderer that rounds would stretch them.

    The output profile is left out: poppler proofs what it will look like on that device (dark
    blue 11 37 69 becomes 22 36 58), pdfium does not. Without it both show the art's own colours.
    """
    with pikepdf.open(io.BytesIO(data)) as pdf:
        for page in pdf.pages:
            left, low, right, high = (float(value) for value in page.mediabox)
            wide, tall = (
                ceil(side * dpi / 72 - 1e-6) * 72 / dpi - ROUNDING
                for side in (right - left, high - low)
            )
            page.mediabox = [left, low, left + wide, low + tall]
        if "/OutputIntents" in pdf.Root:
            del pdf.Root.OutputIntents
        held = io.BytesIO()
        pdf.save(held)
    return held.getvalue()


def alone(data: bytes, number: int, region, dpi: int):
    """A page cut down to the surroundings of one copy, and the region on it, in mm."""
    left, bottom, right, top = region.buffer(3).bounds
    pixel = 25.4 / dpi
    x, y = floor(left / pixel) * pixel, floor(bottom / pixel) * pixel
    with pikepdf.open(io.BytesIO(data)) as pdf:
        while len(pdf.pages) > number:
            del pdf.pages[-1]
        for _ in range(number - 1):
            del pdf.pages[0]
        page = pdf.pages[0]
        x0, y0 = (float(value) for value in page.mediabox[:2])
        sides = [ceil((right - x) / pixel) * pixel, ceil((top - y) / pixel) * pixel]
        box = [x, y, x + sides[0], y + sides[1]]
        for key in ("/CropBox", "/TrimBox", "/BleedBox", "/ArtBox"):
            if key in page.obj:
                del page.obj[key]
        page.mediabox = [
            origin + mm * 72 / 25.4 for mm, origin in zip(box, [x0, y0] * 2, strict=True)
        ]
        held = io.BytesIO()
        pdf.save(held)
    return held.getvalue(), shapely.affinity.translate(region, -x, -y)


def judged(run, dpi: int, finer: int) -> dict[str, float]:
    """The worst copy of a run in each of both figures, and the means."""
    regions = [printed_region(decal) for decal in run.artwork.decals]
    colours, edges, places = [], [], []
    data = print_pdf(run)
    with tempfile.TemporaryDirectory() as folder:
        both = pages(data, dpi, Path(folder))
        for frame, (one, other) in zip(run.marks.frames, both, strict=True):
            strip = run.nest.strips[frame.index - 1].placements.moved(
                run.nest.x0_mm - run.page_x0_mm, frame.strip_y0_mm - frame.y0_mm
            )
            for decal, centre, angle in strip.each():
                turned = shapely.affinity.rotate(regions[decal], angle, origin=(0, 0))
                put = shapely.affinity.translate(turned, *centre)
                colour, edge = compared(one, other, put, len(one) * 25.4 / dpi, dpi)
                colours.append(colour)
                edges.append(edge)
                places.append((frame.index, put))
        again = {}
        for times in (1, finer):
            part, put = alone(data, *places[int(np.argmax(colours))], dpi)
            ((one, other),) = pages(part, dpi * times, Path(folder))
            tall = len(one) * 25.4 / dpi / times
            again[f"worst_alone_{dpi * times}_dpi"] = round(
                compared(one, other, put, tall, dpi * times)[0], 3
            )
    return {
        "copies": len(colours),
        "colour_worst": round(max(colours), 3),
        "colour_mean": round(float(np.mean(colours)), 3),
        "edge_worst_mm": round(float(max(edges)), 4),
        "edge_mean_mm": round(float(np.mean(edges)), 4),
        **again,
    }


def compared(one, other, region, length_mm: float, dpi: int) -> tuple[float, float]:
    """Mean colour difference inside a region, and how far its inked edges are apart."""
    k = dpi / 25.4
    left, bottom, right, top = region.bounds
    c0, c1 = floor(left * k), min(ceil(right * k), one.shape[1])
    r0, r1 = max(floor((length_mm - top) * k), 0), min(ceil((length_mm - bottom) * k), len(one))
    c0 = max(c0, 0)
    mask = Image.new("1", (c1 - c0, r1 - r0))
    draw = ImageDraw.Draw(mask)
    for part in polygons_of(region):
        for ring, fill in ((part.exterior, 1), *((hole, 0) for hole in part.interiors)):
            points = [(x * k - c0 - 0.5, (length_mm - y) * k - r0 - 0.5) for x, y in ring.coords]
            draw.polygon(points, fill=fill)
    inside = np.asarray(mask)
    first, second = one[r0:r1, c0:c1], other[r0:r1, c0:c1]
    colour = float(np.abs(first - second)[inside].mean())
    inked = [(255 - each.min(axis=2) > INK) & inside for each in (first, second)]
    unlike = np.abs(first - second).max(axis=2) > INK  # or a pale colour near the limit flips
    apart = float(((inked[0] ^ inked[1]) & unlike).sum()) / k**2
    edge = np.count_nonzero(inked[0][:, 1:] != inked[0][:, :-1])
    edge += np.count_nonzero(inked[0][1:] != inked[0][:-1])
    return colour, apart / max(edge / k * 0.785, 1.0)  # a slanted edge has more steps: pi / 4


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--steps", type=int, default=500)
    parser.add_argument("--dpi", type=int, default=150)
    parser.add_argument("--finer", type=int, default=4)
    parser.add_argument("--json", type=Path)
    parser.add_argument("jobs", nargs="*", type=Path, default=JOBS)
    given = parser.parse_args()
    said = {}
    for job in given.jobs:
        said[job.stem] = judged(plan_job(job, steps=given.steps), given.dpi, given.finer)
        print(job.stem, said[job.stem])
    if given.json:
        given.json.write_text(json.dumps(said, indent=1) + "\n")


if __name__ == "__main__":
    main()
