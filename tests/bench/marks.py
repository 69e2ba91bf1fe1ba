"""Benchmark of the predicted error: `python -m tests.bench.marks --json FILE`.

For 4, 6, 10 and 20 marks in pairs on the edges of 1300 x 1500 mm and every kind of fit, runs
are drawn by means that share no code with the product (a field by its Cholesky root, fits by
least squares) and counted: the share of errors within the predicted 95 % radius, the least
and the greatest of nine places. The same with the true noise 30 % greater and smaller. Then where
marks stand, against bounds and exact optima.
"""

import argparse
import json
from pathlib import Path

import numpy as np

from nestplan.marks.moments import moments
from nestplan.marks.radius import radius_within
from tests.bench.placement import placement_rows
from tests.marks.error_samples import CORRECTS, fitted_shifts, model, pairs

RUNS, SEED = 20_000, 4
NUMBERS = (4, 6, 10, 20)
NOISE_MM, FIELD_MM, LENGTH_MM = 0.1, 0.1, 300.0
BARS = {"noise": (0.94, 0.96), "field": (0.93, 0.97)}


def shares_within(corrects: str, number: int, *, field: bool, misjudged: float = 1.0) -> np.ndarray:
    """(9,) share of runs within the predicted radius of each place; misjudged: true noise over
    the one that the prediction knows.
    """
    marks = pairs(number)
    places = np.array([(x, y) for x in (60.0, 650.0, 1200.0) for y in (80.0, 700.0, 1350.0)])
    told = model(corrects, sensor_noise_mm=NOISE_MM, distortion_mm=FIELD_MM if field else 0.0)
    errors = moments(told, marks, places)
    radius = radius_within(errors.mean_mm, errors.covariance_mm2)
    rng = np.random.default_rng(SEED)
    film = np.zeros((RUNS, len(marks) + len(places), 2))
    if field:
        points = np.concatenate([marks, places])
        apart2 = ((points[:, None] - points) ** 2).sum(axis=2)
        agree = np.exp(-apart2 / (2 * LENGTH_MM**2)) + 1e-10 * np.eye(len(points))
        heights = rng.standard_normal(film.shape)
        film = FIELD_MM * np.einsum(
            "ij,djc->dic", np.linalg.cholesky(agree), heights, optimize=True
        )
    noise = misjudged * NOISE_MM * rng.standard_normal((RUNS, len(marks), 2))
    off = fitted_shifts(corrects, marks, film[:, : len(marks)] + noise, places)
    off -= film[:, len(marks) :]
    inside: np.ndarray = (np.hypot(off[:, :, 0], off[:, :, 1]) <= radius).mean(axis=0)
    return inside


def main() -> None:
    """Print a line a case and write all of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = []
    for number in NUMBERS:
        for corrects in CORRECTS:
            row: dict[str, object] = {"marks": number, "corrects": corrects}
            for kind in ("noise", "field"):
                inside = shares_within(corrects, number, field=kind == "field")
                low, high = BARS[kind]
                row[kind] = [round(float(each), 4) for each in (inside.min(), inside.max())]
                row[f"{kind}_kept"] = bool(low <= inside.min() and inside.max() <= high)
            for name, factor in (("greater", 1.3), ("smaller", 0.7)):
                inside = shares_within(corrects, number, field=True, misjudged=factor)
                row[f"noise_30_percent_{name}"] = round(float(inside.mean()), 4)
            rows.append(row)
            print(json.dumps(row), flush=True)
    kept = sum(bool(row["noise_kept"]) + bool(row["field_kept"]) for row in rows)
    print(f"{kept} of {2 * len(rows)} cases within their bars")
    placed = []
    for row in placement_rows():
        placed.append(row)
        print(json.dumps(row), flush=True)
    print(
        f"{sum(bool(row['kept']) for row in placed)} of {len(placed)} placements within their bars"
    )
    if asked.json:
        held = {"runs": RUNS, "rows": rows, "placement": placed}
        asked.json.write_text(json.dumps(held, indent=1) + "\n")


if __name__ == "__main__":
    main()
