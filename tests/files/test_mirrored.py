"""Reverse print: the art as it is seen through the film, and the cut that matches it."""

import dataclasses
import json

import numpy as np

from nestplan.check import Kind, check_folder
from nestplan.files.print_pdf import print_pdf
from nestplan.files.summary import summary
from nestplan.job import starter_files
from nestplan.plan import plan_job
from tests.check.conftest import write
from tests.check.grid import grid_run
from tests.files.test_print_pdf import drawn


def turned_over(run):
    """The same places, every decal mirrored, the cut too."""
    decals = tuple(decal.turned_over() for decal in run.artwork.decals)
    order = run.job.order.model_copy(update={"mirrored": True})
    return dataclasses.replace(
        run,
        job=dataclasses.replace(run.job, order=order),
        artwork=dataclasses.replace(run.artwork, decals=decals),
    )


def test_twice_turned_over_is_as_it_was():
    for decal in grid_run(1, 1).artwork.decals:
        again = decal.turned_over().turned_over()
        assert not again.mirrored
        for one, other in zip(decal.contour.rings, again.contour.rings, strict=True):
            np.testing.assert_array_equal(one, other)


def test_the_summary_says_upright_contours_and_mirrored_copies():
    run = grid_run(1, 1)
    plain, told = (json.loads(summary(each, {})) for each in (run, turned_over(run)))

    assert [d["contour"] for d in told["decals"]] == [d["contour"] for d in plain["decals"]]
    places = told["frames"][0]["placements"]
    assert all(place["mirrored"] for place in places)


def test_each_copy_is_printed_as_in_a_mirror():
    """A copy at angle 0 is the picture of the plain one with its columns exchanged."""
    run = grid_run(1, 1)
    frame, strip = run.marks.frames[0], run.nest.strips[0]
    (x, y), *_ = strip.placements.moved(
        run.nest.x0_mm - run.page_x0_mm, frame.strip_y0_mm - frame.y0_mm
    ).centre_mm.tolist()
    plain, over = (drawn(print_pdf(each), 0) for each in (run, turned_over(run)))

    def window(picture):
        rows, columns = (
            slice(round((at - reach) * 6), round((at + reach) * 6))
            for at, reach in ((y, 28), (x, 44))
        )
        return picture[rows, columns]

    assert float(strip.placements.angle_deg[0]) == 0.0
    same = np.abs(window(plain)[:, ::-1] - window(over)).mean()
    other = np.abs(window(plain) - window(over)).mean()
    assert same < 2.0 < other


def test_a_mirrored_run_has_nothing_against_it_and_a_job_that_asks_otherwise_has(tmp_path):
    for name, data in starter_files().items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(data)
    (job,) = (path for path in tmp_path.glob("*.toml") if "[[decal]]" in path.read_text())
    job.write_text("mirrored = true\n" + job.read_text())
    folder = write(plan_job(job, steps=20), tmp_path / "plan")
    assert check_folder(folder).found == ()

    path = folder / "summary.json"
    said = json.loads(path.read_text())
    said["inputs"]["job"]["mirrored"] = False
    path.write_text(json.dumps(said))

    kinds = {each.kind for each in check_folder(folder).found}
    assert kinds == {Kind.MIRROR_WRONG, Kind.JOB_CHANGED}
