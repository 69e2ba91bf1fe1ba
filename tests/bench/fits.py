"""Benchmark of fits: `python -m tests.bench.fits --plan DIR --json FILE`.

DIR: a plan with several frames. Good prints (stretch up to 0.5 %, skew up to 3 mm over a metre,
any turn, the noise of the plan's own figures, and once more with waves from splines on top) go
through print, measurement, fit and cut for each kind of cutter: the share of copies cut within
the predicted 95 % radius, how well the prints drawn tell that share (copies of one print share
its marks), and the share of prints refused. A third time with a film that wanders sideways, a
sheet loaded askew and a blade that lands off its place, all as the shop's figures say. Then
sabotaged sheets: wrong sheet, wrong frame, mirrored, turned by half, swapped, misread by 5 mm:
none may be accepted.
"""

import argparse
import json
import shutil
import tempfile
import time
from pathlib import Path

import numpy as np

from nestplan.fit import FrameFit
from nestplan.fit.fit_sheets import fit_plan
from nestplan.fit.plan_folder import read_plan_folder
from tests.fit.printer import (
    Printer,
    cut,
    laid_by,
    measured,
    read_cut,
    rows_of,
    set_model,
    table,
    turned,
)

CUTTERS = ("none", "turn", "similarity", "affine", "strips")
PRINTS, SABOTAGED, SEED = 1000, 204, 11
QUIET = {"tracking_mm_m": 0.0, "askew_sd_mm_m": 0.0, "offset_x_mm": 0.0, "offset_y_mm": 0.0}
ROUGH = {"tracking_mm_m": 0.14, "askew_sd_mm_m": 0.1, "offset_x_mm": 0.06, "offset_y_mm": -0.04}
CASES = {
    "noise": {**QUIET, "distortion_mm": 0.0},
    "waves": {**QUIET, "distortion_mm": 0.08},
    "waves, wandering film, loaded askew, blade off its place": {**ROUGH, "distortion_mm": 0.08},
}


class Bench:
    """A plan's frames, and a folder for tables."""

    def __init__(self, folder: Path, work: Path) -> None:
        self.folder, self.work = folder, work
        self.plan = read_plan_folder(folder)  # once: a thousand sheets are held against it
        said = json.loads((folder / "summary.json").read_text())
        self.model = said["marks"]["model"]
        self.cuts = [
            read_cut((folder / f"cut-{frame['index']:02d}.svg").read_bytes())
            for frame in said["frames"]
        ]
        self.sizes = [(said["roll"]["width_mm"], frame["length_mm"]) for frame in said["frames"]]
        self.y0 = [frame["y0_mm"] for frame in said["frames"]]

    def printer(self, rng: np.random.Generator, frame: int, waves_mm: float) -> Printer:
        across, along = rng.uniform(-0.005, 0.005, 2)
        return Printer(
            size_mm=self.sizes[frame],
            across=across,
            along=along,
            skew=rng.uniform(-0.003, 0.003),
            waves_mm=waves_mm,
            walk_mm_m=self.model["tracking_mm_m"],
            noise_mm=self.model["print_noise_mm"],
            seed=int(rng.integers(2**31)),
        )

    def fit(self, text: str):
        path = self.work / "marks.csv"
        path.write_text(text)
        return fit_plan(self.plan, path, frame=None, version="bench")

    def seen(self, rng: np.random.Generator, printed: dict) -> dict:
        return measured(
            printed,
            rng,
            noise_mm=self.model["sensor_noise_mm"],
            angle_deg=rng.uniform(0, 360),
            shift_mm=rng.uniform(-2000, 2000, 2),
        )


def cut_within(
    bench: Bench,
    corrects: str,
    frame: int,
    each: FrameFit,
    printer: Printer,
    marks: dict,
    rng: np.random.Generator,
) -> list[bool]:
    """Of each copy, cut by the fit's own file: whether it lands inside its 95 % radius.

    frame: from 0. marks: as printed, in the frame's own coordinates.
    """
    model, plan = bench.model, bench.cuts[frame]
    file, sensor = read_cut(each.cut), model["sensor_noise_mm"]
    way = laid_by(file, marks, rng, sensor) if corrects == "none" else 1.0
    way *= np.exp(1j * model["askew_sd_mm_m"] / 1000 * rng.standard_normal())
    there = {n: turned(place, way) for n, place in marks.items()}
    read = {n: place + sensor * rng.standard_normal(2) for n, place in there.items()}
    blade = cut(corrects, file, read)
    offset = model["offset_sd_mm"] * rng.standard_normal(2)
    offset = offset + (model["offset_x_mm"], model["offset_y_mm"])
    hits = []
    for row, label in enumerate(each.frame.labels):
        ring = next(k for k, (key, _) in enumerate(plan.rings) if key == label)
        planned = plan.rings[ring][1]
        worst = each.odds.worst_mm[row] - (0.0, bench.y0[frame])
        point = int(np.hypot(*(planned - worst).T).argmin())
        own = np.hypot(model["print_noise_mm"], model["cut_noise_mm"])
        off = blade[ring][point] - turned(printer.at(planned[point][None])[0], way)
        off = off + offset + own * rng.standard_normal(2)
        hits.append(bool(np.hypot(*off) <= each.odds.p95_mm[row]))
    return hits


def good_prints(bench: Bench, corrects: str, prints: int, waves_mm: float) -> dict:
    """Shares of copies within the radius and of prints refused."""
    rng = np.random.default_rng([SEED, CUTTERS.index(corrects)])
    shares: list[float] = []
    copies = refused = 0
    verdicts: dict[str, int] = {}
    for number in range(prints):
        frame = number % len(bench.cuts)
        plan = bench.cuts[frame]
        printer = bench.printer(rng, frame, waves_mm)
        marks = printer.marks(plan.marks)
        fit = bench.fit(table(rows_of(frame + 1, bench.seen(rng, marks))))
        each = fit.frames[0]
        verdicts[each.verdict] = verdicts.get(each.verdict, 0) + 1
        if each.cut is None:
            refused += 1
            continue
        hits = cut_within(bench, corrects, frame, each, printer, marks, rng)
        copies += len(hits)
        shares.append(float(np.mean(hits)))
    return {
        "corrects": corrects,
        "prints": prints,
        "copies": copies,
        "within_percent": round(100 * float(np.mean(shares)), 2) if shares else None,
        "good_to_percent": round(100 * float(np.std(shares)) / np.sqrt(len(shares)), 2)
        if shares
        else None,
        "refused_percent": round(100 * refused / prints, 2),
        "verdicts": verdicts,
    }


def sabotaged(bench: Bench, sheets: int) -> dict:
    """How each kind of sabotage was answered; exit code 0 would be an acceptance."""
    rng = np.random.default_rng([SEED, 99])
    answers: dict[str, dict[str, int]] = {}
    kinds = ("wrong sheet", "wrong frame", "mirrored", "turned by half", "swapped", "misread")
    for number in range(sheets):
        kind = kinds[number % len(kinds)]
        frame = int(rng.integers(len(bench.cuts)))
        printer = bench.printer(rng, frame, 0.0)
        planned = dict(bench.cuts[frame].marks)
        if kind == "wrong sheet":  # of this film, with marks at other heights
            shifts = rng.uniform(5, 60, len(planned)) * rng.choice((-1, 1), len(planned))
            planned = {n: p + (0, s) for (n, p), s in zip(planned.items(), shifts, strict=True)}
        seen = bench.seen(rng, printer.marks(planned))
        said = frame
        if kind == "wrong frame":
            said = (frame + 1) % len(bench.cuts)
        elif kind == "mirrored":
            seen = {n: p * (1, -1) for n, p in seen.items()}
        elif kind == "turned by half":
            seen = dict(zip(reversed(list(seen)), seen.values(), strict=True))
        elif kind == "swapped":
            a, b = rng.choice(list(seen), 2, replace=False)
            seen[a], seen[b] = seen[b], seen[a]
        elif kind == "misread":
            turn = rng.uniform(0, 2 * np.pi)
            bad = rng.choice(list(seen))
            seen[bad] = seen[bad] + 5 * np.array([np.cos(turn), np.sin(turn)])
        known = {n: p for n, p in seen.items() if n in bench.cuts[said].marks}
        fit = bench.fit(table(rows_of(said + 1, known)))
        words = f"{fit.exit_code} {fit.verdict}"
        answers.setdefault(kind, {})[words] = answers.setdefault(kind, {}).get(words, 0) + 1
    accepted = sum(n for each in answers.values() for words, n in each.items() if words[0] == "0")
    return {"sheets": sheets, "accepted": accepted, "answers": answers}


def main() -> None:
    """Print a line a case and write all of them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plan", type=Path, required=True)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--prints", type=int, default=PRINTS)
    asked = parser.parse_args()
    rows = []
    with tempfile.TemporaryDirectory() as held:
        folder = Path(held) / "plan"
        shutil.copytree(asked.plan, folder)
        for case, figures in CASES.items():
            for corrects in CUTTERS:
                set_model(folder, corrects=corrects, **figures)
                bench = Bench(folder, Path(held))
                start = time.perf_counter()
                each = asked.prints // len(CUTTERS)
                row = {"case": case}
                row |= good_prints(bench, corrects, each, float(figures["distortion_mm"]))
                print(json.dumps(row), f"{time.perf_counter() - start:.0f} s", flush=True)
                rows.append(row)
        set_model(folder, corrects="affine", **CASES["noise"])
        row = sabotaged(Bench(folder, Path(held)), SABOTAGED)
        print(json.dumps(row), flush=True)
        rows.append(row)
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n")


if __name__ == "__main__":
    main()
