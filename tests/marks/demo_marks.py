"""The demo jobs planned with few steps, and the candidates of their frames."""

from dataclasses import asdict
from functools import cache
from pathlib import Path

import numpy as np
import shapely

from nestplan.files import Run
from nestplan.marks import web_of
from nestplan.marks.candidates import field_of
from nestplan.marks.contour_points import copy_points
from nestplan.plan import plan_job

DEMO = Path(__file__).parents[2] / "demo_jobs"
JOBS = ("berths", "sponsors")  # the regatta is looked at by `tests.bench.marks`


@cache
def planned(name: str, steps: int = 300) -> Run:
    """One demo job."""
    return plan_job(DEMO / name / f"{name}.toml", steps=steps)


def frames_of(run: Run):
    """For every frame: its candidates, the rows of its marks, its contour points; run
    coordinates."""
    model = asdict(run.errors.model)
    for frame in run.marks.frames:
        field = field_of(run.job, web_of(run.job), frame, shapely.Polygon())
        marks = np.array([(mark.x_mm, mark.y_mm) for mark in frame.marks])
        rows = [int(np.hypot(*(field.places_mm - mark).T).argmin()) for mark in marks]
        assert np.abs(field.places_mm[rows] - marks).max() < 1e-6
        points = copy_points(run.artwork.decals, run.nest, frame, model["distortion_length_mm"])
        yield model, field, rows, np.concatenate(points)
