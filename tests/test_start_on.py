"""A run that starts on a remnant: nothing is cut or printed where there is no film."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from nestplan.check import Kind, check_folder
from nestplan.cli import main
from tests.check.edit import bend
from tests.small_job import changed, write_small_job

CORNER = "M0 0 H600 V180 L420 300 H0 Z"  # 180 by 120 mm are gone at the lower right
HOLE = "M140 200 a60 60 0 1 0 120 0 a60 60 0 1 0 -120 0 Z"  # 60 mm round (200, 100)
NARROW = "M0 0 H400 V300 H0 Z"


def with_remnant(folder: Path, lines: str, high_mm: float = 300.0) -> Path:
    """The small job, on film with this outline."""
    job = write_small_job(folder / "job")
    (folder / "job/corner.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="{high_mm}mm" '
        f'viewBox="0 0 600 {high_mm}"><path d="{lines}"/></svg>'
    )
    changed(job, "gutter_mm", 'start_on = "corner.svg"\ngutter_mm')
    return job


def plan(job: Path, out: Path, steps: int = 60) -> dict:
    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(out), "--steps", str(steps), "--json"]
    )
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def printed(said: dict) -> list[tuple[shapely.Geometry, float]]:
    """Contours and marks in run coordinates, and how far from the film's edge they must be."""
    areas = []
    clear_mm = said["marks"]["clear_mm"] + said["marks"]["size_mm"] / 2
    for frame in said["frames"]:
        for place in frame["placements"]:
            decal = said["decals"][place["decal"] - 1]
            turn = np.exp(1j * np.radians(place["angle_deg"]))
            points = [complex(x, y) * turn for x, y in decal["contour"][0]]
            moved = [(p.real + place["x_mm"], p.imag + place["y_mm"]) for p in points]
            areas.append((shapely.Polygon(moved), 4.0))  # the gutter, more than the bleed
        areas += [(shapely.Point(m["x_mm"], m["y_mm"]), clear_mm) for m in frame["marks"]]
    return areas


@pytest.fixture(scope="module")
def cornered(tmp_path_factory) -> tuple[Path, dict]:
    """Planned once: a corner and a disc are gone."""
    folder = tmp_path_factory.mktemp("cornered")
    job = with_remnant(folder, f"{CORNER} {HOLE}")
    return folder, plan(job, folder / "out")


def test_contours_and_marks_keep_off_what_is_gone(cornered):
    _, said = cornered
    gone = shapely.union(
        shapely.Polygon([(420, 0), (600, 0), (600, 120)]), shapely.Point(200, 100).buffer(60)
    )

    for area, apart_mm in printed(said):
        assert area.distance(gone) >= apart_mm - 0.03  # arcs are flattened to 0.02


def test_the_check_finds_nothing_and_says_that_all_stands_on_the_film(cornered):
    findings = check_folder(cornered[0] / "out")

    assert findings.found == ()
    assert any("stands on the film" in claim for claim in findings.holds)


def test_the_bound_stays_below_the_nest(cornered):
    nest = cornered[1]["nest"]

    assert 0 < nest["bound_mm"] <= nest["length_mm"]


@pytest.mark.parametrize("what", ["copy", "mark", "scale bar"])
def test_the_check_names_what_stands_where_there_is_no_film(cornered, tmp_path, what):
    """The summary is made to say that the film was gone just there."""
    shutil.copytree(cornered[0] / "out", tmp_path / "out")
    frame = cornered[1]["frames"][0]
    if what == "copy":
        x, y = frame["placements"][0]["x_mm"], frame["placements"][0]["y_mm"]
    else:
        x, y = frame["marks"][0]["x_mm"], frame["marks"][0]["y_mm"]
    hole = [[x - 1, y - 1], [x - 1, y + 1], [x + 1, y + 1], [x + 1, y - 1]]
    if what == "scale bar":
        end = frame["y0_mm"] + frame["length_mm"]
        hole = [[5, frame["y0_mm"]], [5, end], [595, end], [595, frame["y0_mm"]]]

    def wrong(said):
        said["start_on"]["outline"].append(hole)
        said["start_on"]["end_mm"] = max(said["start_on"]["end_mm"], hole[1][1])

    bend(tmp_path / "out", wrong)
    found = check_folder(tmp_path / "out").found

    assert {each.kind for each in found} == {Kind.OFF_REMNANT}
    assert any(what in each.where for each in found)


def test_a_narrow_remnant_has_its_marks_on_it_and_more_frames_lie_on_whole_film(tmp_path):
    job = with_remnant(tmp_path, NARROW)
    changed(tmp_path / "job/shop.toml", "frame_greatest_mm = 1200", "frame_greatest_mm = 260")
    changed(job, "quantity = 8", "quantity = 12")
    said = plan(job, tmp_path / "out", steps=30)

    assert len(said["frames"]) >= 2
    assert all(mark["x_mm"] <= 400 - 7 for mark in said["frames"][0]["marks"])
    assert all(frame["y0_mm"] >= 300 for frame in said["frames"][1:])
    assert check_folder(tmp_path / "out").found == ()


def test_spoiled_film_before_whole_film_is_left_behind(tmp_path):
    job = with_remnant(tmp_path, CORNER)
    changed(tmp_path / "job/shop.toml", "left_m = 20", "left_m = 20\navoid_m = [[0.05, 0.09]]")
    said = plan(job, tmp_path / "out", steps=30)

    assert said["frames"][0]["y0_mm"] >= 90.0
    assert check_folder(tmp_path / "out").found == ()


def test_a_remnant_that_is_whole_changes_nothing_but_the_notes(tmp_path):
    whole = plan(with_remnant(tmp_path / "whole", "M0 0 H600 V300 H0 Z"), tmp_path / "one")
    plain = plan(write_small_job(tmp_path / "plain/job"), tmp_path / "two")

    assert whole["frames"] == plain["frames"]


def test_a_remnant_on_which_no_marks_can_stand_is_out_of_reach(tmp_path):
    """Ten metres of a strip 18 mm wide: no mark with its clear zone has room beside another."""
    job = with_remnant(tmp_path, "M0 0 H18 V10000 H0 Z", high_mm=10_000.0)
    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(tmp_path / "out"), "--steps", "20"]
    )

    assert result.exit_code in (0, 3), result.output
    assert "Traceback" not in result.output
