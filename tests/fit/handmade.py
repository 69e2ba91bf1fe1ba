"""A planned run on disk, made by hand, whose frames have eight marks each and differ.

600 mm of film, frames 400 and 300 mm long; in the second frame a middle pair is shifted, and
no frame looks the same when it is turned by half.
"""

from dataclasses import replace
from pathlib import Path

from nestplan.files import run_files, write_together
from nestplan.marks import Mark, predict
from tests.files.handmade import a_run
from tests.marks.error_samples import model

MARKS = (
    ((24, 62), (576, 62), (24, 170), (576, 190), (24, 310), (576, 325), (24, 438), (576, 438)),
    ((24, 492), (576, 492), (24, 588), (576, 575), (24, 668), (576, 672), (24, 768), (576, 768)),
)
FIGURES = {
    "print_noise_mm": 0.05,
    "sensor_noise_mm": 0.06,
    "cut_noise_mm": 0.03,
    "offset_sd_mm": 0.03,
}


def write_plan(folder: Path, corrects: str = "similarity", **figures: float) -> Path:
    """Write the run's files into a folder."""
    run = a_run()
    frames = tuple(
        replace(
            frame,
            marks=tuple(
                Mark(number=n, x_mm=float(x), y_mm=float(y))
                for n, (x, y) in enumerate(marks, start=1)
            ),
        )
        for frame, marks in zip(run.marks.frames, MARKS, strict=True)
    )
    told = model(corrects, **{**FIGURES, **figures})
    errors = predict(told, run.artwork.decals, run.nest, frames, 0.05)
    run = replace(run, marks=replace(run.marks, frames=frames), errors=errors)
    write_together(folder, run_files(run, proof=lambda run: b"%PDF-1.4 none"))
    return folder
