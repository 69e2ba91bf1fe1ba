"""Rows of equal plates on the hand-made job's film: nests whose free places are known by hand."""

from dataclasses import replace

import numpy as np

from nestplan.artwork import Decal
from nestplan.geometry.outline import Outline
from nestplan.job import Job, Sensor
from nestplan.marks import Lanes, strip_range_mm, web_of
from nestplan.nest import Nest, Placements, Shape, Strip, Task
from tests.files.handmade import a_job, a_run


def job_with(*, sensor: dict[str, object] | None = None, **cutter: object) -> Job:
    """The hand-made job with other sensor or cutter figures."""
    job = a_job()
    assert job.cutter.sensor is not None
    seen = Sensor.model_validate(job.cutter.sensor.model_dump() | (sensor or {}))
    changed = job.cutter.model_copy(update={"sensor": seen, "frame_greatest_mm": 5000.0, **cutter})
    return replace(job, cutter=changed)


def box(width_mm: float, height_mm: float) -> Outline:
    """An upright box about its centre."""
    w, h = width_mm / 2, height_mm / 2
    return Outline(rings=(np.array([[-w, -h], [w, -h], [w, h], [-w, h]]),))


def plate(width_mm: float, height_mm: float, bleed_mm: float = 2.0) -> Decal:
    """One plate; its picture is of no interest here."""
    return replace(a_run().artwork.decals[0], contour=box(width_mm, height_mm), bleed_mm=bleed_mm)


def rows(
    job: Job,
    decal: Decal,
    *,
    across: int,
    along: int,
    pitch_mm: tuple[float, float],
    lanes: Lanes | None = None,
) -> Nest:
    """across x along plates at a pitch, the row centred on the film that the lanes leave."""
    left, right = strip_range_mm(job, web_of(job), lanes or Lanes())
    width, height = decal.contour.width_mm, decal.contour.height_mm
    start = (right - left - (across - 1) * pitch_mm[0]) / 2
    centre = np.array(
        [
            (start + i * pitch_mm[0], height / 2 + k * pitch_mm[1])
            for k in range(along)
            for i in range(across)
        ]
    )
    n = len(centre)
    assert start >= width / 2 + decal.bleed_mm - 1e-9, "the row fits the film"
    shape = Shape(name=decal.name, outline=decal.contour, copies=n, angles_deg=(0.0,))
    length = (along - 1) * pitch_mm[1] + height
    strip = Strip(
        placements=Placements(
            shape=np.zeros(n, dtype=np.intp), centre_mm=centre, angle_deg=np.zeros(n)
        ),
        copy=tuple(range(1, n + 1)),
        length_mm=length,
    )
    return Nest(
        task=Task(shapes=(shape,), width_mm=right - left, apart_mm=((4.0,),)),
        strips=(strip,),
        x0_mm=left,
        bound_mm=length,
        bound_reason="by hand",
        engine="by hand",
        tried=(),
    )
