"""Benchmark of drawings by strangers: `python -m tests.bench.artwork --folder ICONS --json FILE`.

Every SVG of a folder is read as the artwork of a decal that is cut along its outer edge. The
contour is held against a rendering of the same file by resvg, which parses, styles and
paints it with code of its own: the edge runs where a pixel is half covered, and the greatest
distance between the two edges is told, both ways. Edges that nestplan itself takes from a
rendering (masks, effects) are counted apart: there resvg is no stranger.

The faults that are found in the art are counted, and bleed is made for each icon: the share of
its ring that has ink is told.

The folder of the figures in `docs/benchmarks.md` is `icons` of the npm package
`@mapbox/maki` 8.2.0 (CC0, 215 files); it is not part of the project.
"""

import argparse
import io
import json
import time
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import contourpy
import numpy as np
import resvg_py
import shapely
from PIL import Image

from nestplan.faults import Fault, Faults
from tests.artwork.handmade import loaded
from tests.artwork.test_made_bleed import in_ring, rendered
from tests.artwork.test_silhouette import page_contour

WIDTH_MM = 40.0
RENDERED_PX = 2000
FINE_PX = 8000
BAR_MM = 0.1
FRAME_PX = 3
PALE = 245  # of 255: paler is no ink
SPECK_MM2 = 1.0  # smaller areas and holes are no contour, by rule


def area_of(alpha: np.ndarray, pixel_mm: float) -> shapely.Geometry:
    """Where a rendering is half covered, page mm, y up; specks as the contour's rule has them."""
    framed = np.pad(alpha.astype(float), FRAME_PX)
    lines = contourpy.contour_generator(z=framed).lines(127.5)
    rings = [(line + 0.5 - FRAME_PX) * (pixel_mm, -pixel_mm) for line in lines if len(line) > 3]
    kept = [ring for ring in rings if shapely.Polygon(ring).area >= SPECK_MM2]
    return shapely.build_area(
        shapely.multilinestrings([shapely.linestrings(ring) for ring in kept])
    )


def measured(path: Path) -> dict[str, Any]:
    """A contour against a rendering. raises: Fault, Faults.

    apart_mm: their greatest distance. closed_mm: the same once gaps and necks below two pixels
    are closed in both: at a point where shapes touch, a rendering cannot tell where they part.
    """
    with TemporaryDirectory() as folder:
        art = loaded(Path(folder), path.read_bytes(), contour="outline", width_mm=WIDTH_MM)
    (decal,) = art.decals
    left, _, right, _ = decal.picture.box_mm
    return {
        **held_against(path, page_contour(art), float(right - left)),
        "rendered": any("rendering" in note.text for note in art.notes),
        "faults": sorted({fault.kind for fault in decal.faults}),
        **made_bleed(path),
    }


def held_against(path: Path, ours: shapely.Geometry, page_mm: float) -> dict[str, float]:
    """Distances of a contour from a rendering; where it is over the bar, from a finer one too.

    fine_apart_mm, fine_closed_mm: from pixels a quarter as large, with which a tip or a wedge
    is followed four times as far.
    """
    found: dict[str, float] = {}
    for across_px, word in ((RENDERED_PX, ""), (FINE_PX, "fine_")):
        png = resvg_py.svg_to_bytes(
            svg_string=path.read_text(), dpi=96, skip_system_fonts=True, width=across_px
        )
        alpha = np.asarray(Image.open(io.BytesIO(png)).getchannel("A"))
        pixel_mm = page_mm / alpha.shape[1]
        theirs = area_of(alpha, pixel_mm)
        found[f"{word}apart_mm"] = apart_mm(theirs, ours)
        found[f"{word}closed_mm"] = apart_mm(closed(theirs, pixel_mm), closed(ours, pixel_mm))
        found[f"{word}pixel_mm"] = pixel_mm
        if found["apart_mm"] <= BAR_MM:
            break
    return found


def made_bleed(path: Path) -> dict[str, float]:
    """Of the ring that made bleed must fill, the share with ink, and how long it took to make.

    Rendered by pdfium at 8 pixels a millimetre; a tenth of a millimetre at both edges of the
    ring is left out.
    """
    with TemporaryDirectory() as folder:
        start = time.perf_counter()
        art = loaded(
            Path(folder),
            path.read_bytes(),
            contour="outline",
            width_mm=WIDTH_MM,
            bleed_mm=2.0,
            make_bleed="edge",
        )
        took_s = time.perf_counter() - start
    (decal,) = art.decals
    seen, at = rendered(decal)
    inked = seen[in_ring(decal, at)].min(axis=1) < PALE
    return {"bled_share": float(inked.mean()), "bled_s": took_s}


def closed(area: shapely.Geometry, reach_mm: float) -> shapely.Geometry:
    """Gaps below twice the reach filled, then necks below it taken off."""
    for by_mm in (reach_mm, -2 * reach_mm, reach_mm):
        area = shapely.buffer(area, by_mm, join_style="mitre")
    return area


def apart_mm(one: shapely.Geometry, other: shapely.Geometry) -> float:
    """How far two edges stray from each other."""
    edges = shapely.boundary(one), shapely.boundary(other)
    far = []
    for line, goal in (edges, edges[::-1]):
        shapely.prepare(goal)
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(line, 0.05)))
        far.append(float(shapely.distance(goal, points).max()))
    return max(far)


def main() -> None:
    """Measure every file and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    found: dict[str, dict[str, Any]] = {}
    refused: dict[str, str] = {}
    start = time.perf_counter()
    for path in sorted(asked.folder.glob("*.svg")):
        try:
            found[path.name] = measured(path)
        except (Fault, Faults) as fault:
            refused[path.name] = str(fault)
    count = len(found) + len(refused)
    print(f"{count} files, {len(found)} planned, {time.perf_counter() - start:.1f} s")
    strange = [row for row in found.values() if not row["rendered"]]
    for key in ("apart_mm", "closed_mm"):
        far = np.array([row[key] for row in strange])
        finest = np.array([row.get(f"fine_{key}", row[key]) for row in strange])
        within = [np.count_nonzero(each <= BAR_MM) for each in (far, finest)]
        print(
            f"{key}: worst {far.max():.3f}, median {np.median(far):.3f}, {within[0]} within "
            f"{BAR_MM}; with finer pixels worst {finest.max():.3f}, {within[1]} within"
        )
    kinds = Counter(kind for row in found.values() for kind in row["faults"])
    print(f"faults: {', '.join(f'{kind} {number}' for kind, number in kinds.most_common())}")
    shares = np.array([row["bled_share"] for row in found.values()])
    whole = np.count_nonzero(shares > 0.999)
    print(f"bleed made: least {shares.min():.4f} of the ring, {whole} over 0.999")
    for name, row in found.items():
        if row["apart_mm"] > BAR_MM:
            print(f"  {name}: {row}")
    for name, why in refused.items():
        print(f"  {name} refused: {why}")
    if asked.json:
        asked.json.write_text(json.dumps({"planned": found, "refused": refused}, indent=1))


if __name__ == "__main__":
    main()
