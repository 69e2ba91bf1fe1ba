"""Benchmark of reading scans: `python -m tests.bench.scans [--json FILE]`.

For each shape of mark, sheets of 8 marks under decals, 2 degrees askew, are scanned by
tests/fit/scanner.py at 300 dpi: blur, noise, uneven light, JPEG, ink spread by 10 % of the mark
(for lines: 30 % of the stroke). The bar: all centres within 0.02 mm, 95 % within 0.01 mm. Then
photographs of a few degrees of keystone with a barrel lens, which have no bar.

Last a whole frame, 1370 mm wide and a metre long, as a grey TIFF of 300 dpi (0.2 gigapixels), read
by a process of its own: seconds, and the most memory it ever held. `--whole` does that alone.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from nestplan.fit.scan import marks_in_image
from tests.fit.scanner import Device, mark_area, picture, save
from tests.fit.test_scan import DECALS, MARKS, OTHER, SHEET, SIZES, off_mm, true_mm

SCANS = 12
WHOLE_MM = (1370.0, 1000.0)
WHOLE_DPI, WHOLE_TILT_DEG = 300.0, 0.4
BLOCK_MM, BLOCK_STEP_MM, BLOCK_EDGE_MM = 60.0, 72.0, 60.0  # printed areas, in rows


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


def whole_marks() -> np.ndarray:
    """(14, 2): seven along each edge, not alike."""
    along = np.linspace(15.0, WHOLE_MM[1] - 15.0, 7)
    left = np.column_stack([np.full(7, 20.0), along])
    right = np.column_stack([np.full(7, WHOLE_MM[0] - 20.0), along])
    right[1:-1, 1] += (12.0, -9.0, 20.0, -15.0, 7.0)
    return np.concatenate([left, right])


def whole() -> dict:
    """A whole frame, scanned and read."""
    device = Device(seed=3, dpi=WHOLE_DPI, tilt_deg=WHOLE_TILT_DEG)
    levels, px = picture(whole_marks(), mark_area("disc", 6.0, 1.0, 0.3), WHOLE_MM, device)
    scale = WHOLE_DPI / 25.4
    side, step, edge = (round(mm * scale) for mm in (BLOCK_MM, BLOCK_STEP_MM, BLOCK_EDGE_MM))
    for top in range(edge, levels.shape[0] - edge - side, step):
        for left in range(edge, levels.shape[1] - edge - side, step):
            levels[top : top + side, left : left + side] //= 3
    true = true_mm(px, levels, WHOLE_DPI)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "whole.tif"
        save(levels, path, WHOLE_DPI)
        made = {"megapixels": round(levels.size / 1e6), "file_mb": path.stat().st_size // 10**6}
        del levels
        asked = [sys.executable, "-m", "tests.bench.scans", "--read", str(path)]
        told = json.loads(subprocess.run(asked, check=True, capture_output=True).stdout)
    places = np.array(told.pop("places_mm"))
    off = np.hypot(*(places[:, None] - true[None]).transpose(2, 0, 1)).min(axis=0)
    more = {"marks": len(true), "seen": len(places), "greatest_mm": round(float(off.max()), 4)}
    return {"picture": "whole frame", "shape": "disc", **made, **more, **told}


def held_mb() -> int:
    """The most memory this process ever held; `getrusage` would count the one it came from."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line.split()[1] for line in lines if line.startswith("VmHWM"))) // 1024


def read_alone(path: Path) -> dict:
    """What reading a scan takes: seconds, and the process's greatest memory before and after."""
    before = held_mb()
    start = time.perf_counter()
    seen = marks_in_image(path, shape="disc", **SIZES)
    return {
        "seconds": round(time.perf_counter() - start, 1),
        "programs_mb": before,
        "peak_mb": held_mb(),
        "places_mm": seen.places_mm.tolist(),
    }


def main() -> None:
    """Print a line a case and write all of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--whole", action="store_true", help="the whole frame only")
    parser.add_argument("--read", type=Path, help="read this scan and say what that took")
    asked = parser.parse_args()
    if asked.read:
        print(json.dumps(read_alone(asked.read)))
        return
    rows = [] if asked.whole else small()
    rows.append(whole())
    _told(rows[-1])
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n")


def small() -> list[dict]:
    """Scans and photographs of small sheets."""
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
            _told(row)
    return rows


def _told(row: dict) -> None:
    print(*(f"{key} {value}" for key, value in row.items()), sep="   ", flush=True)


if __name__ == "__main__":
    main()
