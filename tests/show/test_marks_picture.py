"""The pictures that explain marks, drawn from a small run."""

import io

import numpy as np
import pytest
from PIL import Image

from nestplan.plan import plan_job
from nestplan.show.demo import AROUND_MM
from nestplan.show.marks import fit_page, places
from tests.small_job import write_small_job


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    return plan_job(write_small_job(tmp_path_factory.mktemp("drawn")), steps=60)


def test_every_mark_is_drawn_dark_in_a_blank_ring_also_in_grey(run):
    grey = np.asarray(Image.open(io.BytesIO(places(run))).convert("L"))
    frame = run.marks.frames[0]
    scale = grey.shape[1] / (run.job.roll.width_mm + 2 * AROUND_MM)
    away = (run.marks.size_mm / 2 + run.marks.clear_mm) * scale - 3

    for mark in frame.marks:
        x = (AROUND_MM + mark.x_mm) * scale
        y = grey.shape[0] - (AROUND_MM + mark.y_mm - frame.y0_mm) * scale
        assert grey[round(y), round(x)] < 60
        assert grey[round(y - away), round(x)] > 240


def test_the_fit_page_is_a_page_and_the_same_again(run):
    first = fit_page(run)

    assert Image.open(io.BytesIO(first)).height > 1000
    assert fit_page(run) == first
