"""Every figure of the summary that follows from others is worked out again."""

import shutil

import pytest

from nestplan.check import Kind, check_folder
from tests.check.edit import bend


def key(said, path):
    """The part of the summary that holds the last key of a path."""
    for step in path[:-1]:
        said = said[step]
    return said


@pytest.mark.parametrize(
    ("path", "change", "where"),
    [
        (("nest", "copies"), 1, "nest.copies"),
        (("nest", "frames"), 1, "nest.frames"),
        (("cut", "contours"), -1, "cut.contours"),
        (("decals", 0, "planned"), 1, "berth plate, copy 3"),
        (("decals", 0, "ordered"), 1, "berth plate, copy 3"),
        (("inputs", "job", "decal", 0, "quantity"), 1, "berth plate, copy 3"),
        (("decals", 1, "width_mm"), 0.1, "club burgee, width_mm"),
        (("decals", 1, "height_mm"), -0.1, "club burgee, height_mm"),
        (("decals", 1, "area_mm2"), 1.0, "club burgee, area_mm2"),
        (("roll", "area_used_m2"), 0.01, "roll.area_used_m2"),
        (("roll", "length_used_mm"), -150.0, "roll.length_used_mm"),
        (("nest", "used_percent"), 1.0, "nest.used_percent"),
        (("nest", "waste_percent"), 1.0, "nest.waste_percent"),
        (("nest", "length_mm"), 1.0, "nest.length_mm"),
        (("nest", "bound_mm"), 1000.0, "nest.bound_mm"),
        (("nest", "gap_percent"), 0.1, "nest.gap_percent"),
        (("cut", "length_mm"), 1.0, "cut.length_mm"),
    ],
)
def test_a_figure_that_does_not_follow_is_named(folder, path, change, where):
    def wrong(said):
        key(said, path)[path[-1]] += change

    bend(folder, wrong)
    found = check_folder(folder).found

    assert f"summary.json: {where}" in [each.where for each in found]
    assert {each.kind for each in found} <= {Kind.COUNT_WRONG, Kind.SUM_WRONG}


@pytest.mark.parametrize(
    ("name", "amount", "where"),
    [
        ("film", "7.40", "cost.total"),
        ("total", "20.01", "cost.total"),
        ("per_decal", "5.1000", "cost.per_decal"),
        ("ink", "much", "cost"),
        ("ink", "Infinity", "cost"),
        ("ink", "1e999999", "cost"),
    ],
)
def test_money_that_does_not_add_up_is_named(folder, name, amount, where):
    bend(folder, lambda said: said["cost"].update({name: amount}))

    found = check_folder(folder).found

    assert f"summary.json: {where}" in [each.where for each in found]


def test_prices_by_decal_that_do_not_make_the_total_are_named(folder):
    bend(folder, lambda said: said["cost"]["per_decal_by_name"].update({"berth plate": "9.0000"}))

    assert [each.where for each in check_folder(folder).found] == [
        "summary.json: cost.per_decal_by_name"
    ]


def test_frames_that_lie_on_each_other_are_found(two_frames, tmp_path):
    folder = shutil.copytree(two_frames, tmp_path / "plan")
    bend(folder, lambda said: said["frames"][1].update(y0_mm=400.0))

    assert "summary.json: frame 2" in [each.where for each in check_folder(folder).found]
