"""Equal frames that only the rule of frames apart makes differ: planned, printed, measured
without a word which sheet it is, fitted and cut."""

import numpy as np
import pytest

from nestplan.files import Run, run_files, write_together
from nestplan.plan import plan_job
from tests.bench.fits import Bench, cut_within
from tests.fit.printer import measured
from tests.small_job import changed, write_small_job

PRINTS = 8  # of each frame, half of them loaded back to front
ACROSS, ALONG, SKEW = -0.003, 0.004, 0.003


@pytest.fixture(scope="module")
def run(tmp_path_factory) -> Run:
    """Three frames of six plates each, all nested alike."""
    job = write_small_job(tmp_path_factory.mktemp("apart"))
    text = job.read_text()
    job.write_text(text[: text.rindex("[[decal]]")])
    changed(job, "quantity = 8", 'quantity = 18\nwidth_mm = 174\nrotate = "none"')
    changed(job.parent / "shop.toml", "frame_greatest_mm = 1200", "frame_greatest_mm = 330")
    return plan_job(job, steps=60)


@pytest.fixture(scope="module")
def bench(run, tmp_path_factory) -> Bench:
    work = tmp_path_factory.mktemp("fits")
    write_together(work / "plan", run_files(run, proof=lambda run: b"%PDF-1.4 none"))
    return Bench(work / "plan", work)


def unnamed(seen: dict[int, np.ndarray], rng: np.random.Generator) -> str:
    """A table of places alone, in any order."""
    places = rng.permutation(list(seen.values()))
    return "y=up\nx_mm,y_mm\n" + "".join(f"{x:.3f},{y:.3f}\n" for x, y in places)


def test_frames_nested_alike_have_different_marks(run):
    assert len({strip.placements.key for strip in run.nest.strips}) == 1
    frames = [
        {(round(mark.x_mm, 3), round(mark.y_mm - frame.y0_mm, 3)) for mark in frame.marks}
        for frame in run.marks.frames
    ]

    assert len(frames) == 3
    assert len({frozenset(marks) for marks in frames}) == 3


def test_each_sheet_is_known_and_its_corrected_cut_lands_inside_the_radius(bench):
    """95 % of the copies, give or take what so few prints can tell."""
    rng = np.random.default_rng(5)
    hits: list[bool] = []
    for number in range(3 * PRINTS):
        frame, back_to_front = number % 3, number // 3 % 2
        printer = bench.printer(rng, frame, 0.0)
        printer.across, printer.along, printer.skew = ACROSS, ALONG, SKEW
        marks = printer.marks(bench.cuts[frame].marks)
        angle = rng.uniform(-20, 20) + 180 * back_to_front
        seen = measured(
            marks,
            rng,
            noise_mm=bench.model["sensor_noise_mm"],
            angle_deg=angle,
            shift_mm=(700, 90),
        )

        each = bench.fit(unnamed(seen, rng)).frames[0]

        assert each.frame is not None, each.judged
        assert each.frame.index == frame + 1
        assert abs((each.fitted.turn.angle_deg - angle + 180) % 360 - 180) < 1
        assert each.verdict == "cut it corrected"
        hits += cut_within(bench, "similarity", frame, each, printer, marks, rng)

    assert len(hits) == 3 * PRINTS * 6
    assert np.mean(hits) > 0.9
