"""How much of the travel more pieces prove, and what that takes.

python -m tests.bench.travel --job berths --pieces 8,16 --halvings 0,2 --json FILE
"""

import argparse
import json
import time
from pathlib import Path

import numpy as np

from nestplan.artwork import load_artwork
from nestplan.cut.plan_cut import KINDS, plan_cut
from nestplan.cut.proof import Proof
from nestplan.cut.travel_bound import travel_bound_mm
from nestplan.job import read_job
from nestplan.nest import Budget, never, unwatched
from nestplan.plan import lay_out

STEPS = 1_500


def proofs(name, pieces, halvings):
    """The first frame of a demo job: its travel and what is proven of it."""
    job = read_job(next((Path("demo_jobs") / name).glob("*.toml")))
    artwork = load_artwork(job)
    budget = Budget(steps=STEPS, seed=1, workers=2, stopped=never)
    nest, marks, _ = lay_out(job, artwork, budget, unwatched)
    frame = plan_cut(artwork.decals, nest, marks).frames[0]
    mark = marks.frames[0].marks[0]
    origin = np.array([mark.x_mm, mark.y_mm])
    stops = np.vstack([origin, *(stroke.points_mm[:1] for stroke in frame.strokes)])
    travel_mm = float(np.hypot(*np.diff(stops, axis=0).T).sum())
    phase = np.array([s.window * len(KINDS) + KINDS.index(s.kind) for s in frame.strokes])
    lines = [stroke.points_mm for stroke in frame.strokes]
    for many in pieces:
        for often in halvings:
            began = time.process_time()
            bound_mm = travel_bound_mm(
                origin, lines, phase, proof=Proof(pieces=many, halvings=often)
            )
            yield {
                "name": f"{name}, {many} pieces, halved {often} times",
                "value": round(travel_mm, 1),
                "bound": round(bound_mm, 1),
                "gap_percent": round(100 * (travel_mm / bound_mm - 1), 1) if bound_mm else None,
                "processor_seconds": round(time.process_time() - began, 1),
            }


def whole_numbers(text):
    return [int(part) for part in text.split(",")]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--job", default="berths")
    parser.add_argument("--pieces", type=whole_numbers, default=[16])
    parser.add_argument("--halvings", type=whole_numbers, default=[0])
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = []
    for each in proofs(asked.job, asked.pieces, asked.halvings):
        print(each, flush=True)
        rows.append(each)
    if asked.json:
        asked.json.write_text(json.dumps(rows, indent=1) + "\n")
