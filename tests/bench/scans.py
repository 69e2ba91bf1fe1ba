"""Benchmark of reading scans: `python -m tests.bench.scans [--json FILE]`.

For each shape of mark, sheets of 8 marks under decals, 2 degrees askew, are scanned by
tests/fit/scanner.py at 300 dpi: blur, noise, uneven light, JPEG, ink spread by 10 % of the mark
(for lines: 30 % of the stroke). The bar: all centres within 0.02 mm, 95 % within 0.01 mm. Then
photographs of a few degrees of keystone with a barrel lens, which have no bar.
"""

import argparse
import json
import tempfile
from pathlib import Path

import numpy as np

from nestplan.fit.scan import marks_in_image
from tests.fit.scanner import Device, mark_area, picture, save
from tests.fit.test_scan import DECALS, MARKS, OTHER, SHEET, SIZES, off_mm, true_mm

SCANS = 12


def one(folder: Path, shape: str, seed: int, *, photograph: bool) -> np.ndarray:
    """(8,) how far the centres are off, mm."""
    rng = np.random.default_rng(seed)
    device = Device(
        seed=seed,
        tilt_deg=float(rng.uniform(-2, 2)),
        blur_px=float(rng.uniform(0.7, 1.6)),
        noise=float(rng.uniform(2, 8)),
        shadow=float(rng.uniform(0, 0.4)),
        extra=DECALS,
    )
    if photograph:
        device.dpi, device.distance_mm = 110.0, 400.0
        device.keystone_deg = tuple(rng.uniform(-5, 5, 2))
        device.barrel = float(rng.uniform(0, 0.03))
    gain = 0.3 if shape in {"disc", "square"} else 0.15
    marks = MARKS + rng.uniform(-0.5, 0.5, MARKS.shape) * (not photograph)
    levels, px = picture(marks, mark_area(shape, 6.0, 1.0, gain), SHEET, device)
    path = folder / "scan.jpg"
    save(levels, path, None if photograph else 300, quality=int(rng.integers(60, 95)))
    expected = [MARKS, OTHER] if photograph else []
    seen = marks_in_image(path, shape=shape, **SIZES, expected_mm=expected)
    return off_mm(seen, MARKS if photograph else true_mm(px, levels, 300))


def main() -> None:
    """Print a line a case and write all of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = []
    for photograph in (False, True):
        for shape in ("disc", "square", "corner", "cross"):
            with tempfile.TemporaryDirectory() as folder:
                off = np.concatenate(
                    [one(Path(folder), shape, k, photograph=photograph) for k in range(SCANS)]
                )
            row = {
                "picture": "photograph" if photograph else "scan",
                "shape": shape,
                "marks": len(off),
                "median_mm": round(float(np.median(off)), 4),
                "p95_mm": round(float(np.percentile(off, 95)), 4),
                "greatest_mm": round(float(off.max()), 4),
            }
            if not photograph:
                row["holds"] = bool(off.max() < 0.02 and np.percentile(off, 95) < 0.01)
            rows.append(row)
            print(*(f"{key} {value}" for key, value in row.items()), sep="   ", flush=True)
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n")


if __name__ == "__main__":
    main()
