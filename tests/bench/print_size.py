"""How large a print PDF of 2000 copies of one decal is, beyond its art.

    python -m tests.bench.print_size [--copies 2000] [--json FILE]

The bar: under 2 MB plus the art. Places are made by hand in rows: nothing is nested.
"""

import argparse
import dataclasses
import io
import json
import time
from pathlib import Path

import numpy as np
import pikepdf

from nestplan.files.print_pdf import print_pdf
from nestplan.nest import Placements
from tests.files.handmade import a_run


def run_of(copies: int):
    """One frame with so many copies of the plate, at angles that are no quarter turns."""
    run = a_run()
    strip, frame = run.nest.strips[0], run.marks.frames[0]
    k = np.arange(copies)
    places = np.column_stack([60.0 + 95.123 * (k % 20), 40.0 + 95.321 * (k // 20)])
    placements = Placements(
        shape=np.zeros(copies, dtype=np.intp), centre_mm=places, angle_deg=(k * 7.3) % 360
    )
    copy = tuple(range(1, copies + 1))
    strip = dataclasses.replace(strip, placements=placements, copy=copy)
    nest = dataclasses.replace(run.nest, strips=(strip,))
    marks = dataclasses.replace(run.marks, frames=(frame,))
    errors = run.errors.frames[0]
    p95 = np.full(copies, float(errors.p95_mm[0]))
    frames = (dataclasses.replace(errors, p95_mm=p95),)
    return dataclasses.replace(
        run, nest=nest, marks=marks, errors=dataclasses.replace(run.errors, frames=frames)
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--copies", type=int, default=2000)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    run = run_of(given.copies)
    start = time.perf_counter()
    data = print_pdf(run)
    took = time.perf_counter() - start
    with pikepdf.open(io.BytesIO(data)) as pdf:
        page = len(pdf.pages[0].obj.Contents.read_raw_bytes())
        profile = len(pdf.Root.OutputIntents[0].DestOutputProfile.read_raw_bytes())
    said = {
        "copies": given.copies,
        "print_bytes": len(data),
        "page_bytes": page,
        "profile_bytes": profile,
        "art_bytes": len(run.artwork.decals[0].picture.pdf),
        "same_bytes": print_pdf(run) == data,
        "time_s": round(took, 2),
    }
    print(json.dumps(said, indent=1))
    if given.json:
        given.json.write_text(json.dumps(said, indent=1) + "\n")


if __name__ == "__main__":
    main()
