"""The whole loop: plan, print, distort, measure, fit, corrected cut, for every kind of cutter."""

import json
from collections.abc import Iterator

import numpy as np
import pytest
import shapely

from nestplan.fit import fit_sheets
from tests.bench.fits import QUIET, Bench, good_prints, sabotaged
from tests.fit.handmade import write_plan
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
QUIETLY = {"print_noise_mm": 0.01, "sensor_noise_mm": 0.01, "offset_sd_mm": 0.0}


def landed(corrects: str, folder, work, printer: Printer) -> Iterator[tuple[str, float]]:
    """Verdict of each frame, and the farthest that a cut lies from its print; no noise at all."""
    rng = np.random.default_rng(1)
    for frame in (1, 2):
        plan = read_cut((folder / f"cut-{frame:02d}.svg").read_bytes())
        marks = printer.marks(plan.marks)
        seen = measured(marks, rng, noise_mm=0.0, angle_deg=77.0 + frame, shift_mm=(900, -50))
        csv = work / "marks.csv"
        csv.write_text(table(rows_of(frame, seen)))
        each = fit_sheets(folder, csv, frame=None, version="test").frames[0]
        assert each.cut is not None, each.judged
        file = read_cut(each.cut)
        way = laid_by(file, marks, rng, 0.0) if corrects == "none" else 1.0
        read = {n: turned(place, way) for n, place in marks.items()}
        blades = cut(corrects, file, read)
        far = 0.0
        for blade, (_, ring) in zip(blades, plan.rings, strict=True):
            print_ = np.array([turned(place, way) for place in printer.at(ring)])
            far = max(far, shapely.Polygon(blade).hausdorff_distance(shapely.Polygon(print_)))
        yield each.verdict, far


@pytest.mark.parametrize("corrects", CUTTERS)
def test_a_stretched_and_skewed_print_is_cut_where_it_lies(tmp_path, corrects):
    """Whatever the cutter takes up by itself, the two together land on the print: nothing is
    left out and nothing corrected twice."""
    folder = write_plan(tmp_path / "plan", corrects, **QUIETLY)
    printer = Printer(size_mm=(600, 400), across=0.004, along=-0.003, skew=0.003)

    for verdict, far in landed(corrects, folder, tmp_path, printer):
        assert far < 0.003
        assert verdict == ("cut it" if corrects in ("affine", "strips") else "cut it corrected")


@pytest.mark.parametrize("corrects", ["none", "similarity", "affine"])
def test_a_film_that_bends_is_followed_by_strips(tmp_path, corrects):
    """Straight between the rows of marks: strips take it up wholly, also for a cutter whose own
    fit cannot."""
    folder = write_plan(tmp_path / "plan", corrects, **QUIETLY)

    class Bent(Printer):
        def at(self, points):
            knots = [62.0, 180.0, 317.5, 438.0]
            by = np.interp(points[:, 1] % 420, np.array(knots) - 50, (0.0, 0.9, -0.4, 0.0))
            return points + np.column_stack([by, 0 * by])

    verdict, far = next(landed(corrects, folder, tmp_path, Bent(size_mm=(600, 420))))

    assert verdict == "cut it corrected"
    assert far < 0.06  # rows lean: the two marks of a pair stand up to 20 mm apart along the feed


def test_a_print_as_planned_gets_the_plans_own_file(tmp_path, plan):
    """Byte for byte."""
    for verdict, far in landed("similarity", plan, tmp_path, Printer(size_mm=(600, 400))):
        assert (verdict, far) == ("cut it", pytest.approx(0.0, abs=1e-3))


def test_good_prints_are_cut_within_the_predicted_radius(tmp_path):
    """A small helping of `tests.bench.fits`: 80 prints, stretch to 0.5 %, skew to 3 mm/m, any
    turn; 95 % of the copies, give or take what 80 prints can tell; at most 3 % refused."""
    folder = write_plan(tmp_path / "plan", "similarity")
    set_model(folder, **QUIET)
    row = good_prints(Bench(folder, tmp_path), "similarity", 80, 0.0)

    assert row["within_percent"] >= 92.5
    assert row["refused_percent"] <= 3


def test_waves_from_splines_do_not_break_the_radius(tmp_path):
    """Smooth distortion that is no draw from the model's own covariance, of the size it says."""
    folder = write_plan(tmp_path / "plan", "affine", distortion_mm=0.1, distortion_length_mm=110.0)
    set_model(folder, **QUIET)
    row = good_prints(Bench(folder, tmp_path), "affine", 40, 0.1)

    assert row["within_percent"] >= 90
    assert row["refused_percent"] <= 5


def test_no_sabotaged_sheet_is_accepted(tmp_path):
    """Wrong sheet, wrong frame, mirrored, turned by half, swapped, misread by 5 mm."""
    folder = write_plan(tmp_path / "plan", "affine")
    set_model(folder, **QUIET)
    row = sabotaged(Bench(folder, tmp_path), 48)

    assert row["accepted"] == 0, json.dumps(row)


def test_the_chance_of_a_white_edge_is_that_of_simulated_cuts(tmp_path):
    """A blade that scatters by 0.5 mm: how often any of the six copies runs out of its bleed,
    counted over prints that are made, measured, fitted and cut anew."""
    noise = {"print_noise_mm": 0.05, "sensor_noise_mm": 0.05, "cut_noise_mm": 0.5}
    folder = write_plan(tmp_path / "plan", "similarity", offset_sd_mm=0.0, **noise)
    plan = read_cut((folder / "cut-01.svg").read_bytes())
    rng, said, out, prints = np.random.default_rng(8), [], 0, 100
    for seed in range(prints):
        printer = Printer(size_mm=(600, 400), noise_mm=0.05, seed=seed)
        marks = printer.marks(plan.marks)
        seen = measured(marks, rng, noise_mm=0.05, angle_deg=40.0)
        (tmp_path / "marks.csv").write_text(table(rows_of(1, seen)))
        each = fit_sheets(folder, tmp_path / "marks.csv", frame=None, version="test").frames[0]
        said.append(each.judged.chance)
        file = read_cut(each.cut or (folder / "cut-01.svg").read_bytes())
        read = {n: place + 0.05 * rng.standard_normal(2) for n, place in marks.items()}
        moved: dict[tuple[int, int], np.ndarray] = {}
        for blade, (key, ring) in zip(cut("similarity", file, read), plan.rings, strict=True):
            own = moved.setdefault(key, np.hypot(0.5, 0.05) * rng.standard_normal(2))
            off = np.hypot(*(blade - printer.at(ring) + own).T).max()
            bleed = (2.0, 1.5)[key[0] - 1]
            if off > bleed:
                out += 1
                break

    assert np.mean(said) == pytest.approx(out / prints, abs=3 * np.sqrt(0.05 * 0.95 / prints))
    assert 0.01 < out / prints < 0.2
