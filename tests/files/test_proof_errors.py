"""The page of predicted errors: its map agrees with the radii that the summary gives."""

import io
from dataclasses import replace

import numpy as np
import pypdfium2 as pdfium

from nestplan.files.proof_error_map import STEPS_MOST, error_map
from nestplan.files.proof_pdf import proof_pdf
from nestplan.marks import error_field
from tests.files.handmade import a_run

PAGE = 2  # after the whole run and its two decals


def words(data: bytes) -> str:
    with pdfium.PdfDocument(io.BytesIO(data)) as pdf:
        text: str = pdf[PAGE].get_textpage().get_text_range()
    return " ".join(text.split())


def test_the_page_names_the_worst_decal_and_its_error():
    run = a_run()
    frame, row = run.errors.worst
    strip = run.nest.strips[frame]
    name = run.artwork.decals[int(strip.placements.shape[row])].name

    said = words(proof_pdf(run))

    assert f"Worst: {name}, copy {strip.copy[row]}, frame {frame + 1}." in said
    assert f"worst decal {run.errors.worst_mm:.2f} mm" in said
    assert "reading a mark 0.08 mm" in said


def test_the_field_at_a_copys_worst_point_is_its_radius():
    run = a_run()
    for frame, errors in zip(run.marks.frames, run.errors.frames, strict=True):
        for (x, y), radius in zip(errors.worst_mm, errors.p95_mm, strict=True):
            here = error_field(run.errors.model, frame, np.array([x]), np.array([y]))
            assert abs(here[0, 0] - radius) < 1e-9


def test_every_error_lies_between_the_first_and_the_last_level():
    made = error_map(a_run())
    low = min(z.min() for _, _, z in made.fields)
    high = max(z.max() for _, _, z in made.fields)

    assert made.levels_mm[0] <= low
    assert high <= made.levels_mm[-1]
    assert 2 <= len(made.levels_mm) <= STEPS_MOST + 1
    assert np.ptp(np.diff(made.levels_mm)) < 1e-12


def test_an_error_that_is_the_same_everywhere_still_has_a_map():
    run = a_run()
    flat = replace(run.errors.model, corrects="none", sensor_noise_mm=0.1)
    errors = replace(run.errors, model=flat)

    assert "Predicted error" in words(proof_pdf(replace(run, errors=errors)))
