"""A job with backings, through all rooms: two cuts a copy, in every file, and in the check."""

import json
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from lxml import etree

from nestplan.check import Kind, check_folder
from nestplan.cli import main
from nestplan.faults import Fault, Faults
from nestplan.job import read_job
from tests.check.edit import bend, edit, swap
from tests.small_job import changed, write_small_job

SVG = "{http://www.w3.org/2000/svg}"
OFFSET_MM, BLEED_MM, GUTTER_MM = 3.0, 2.0, 4.0


def plan(job: Path, out: Path) -> dict:
    result = CliRunner().invoke(
        main, ["plan", str(job), "--out", str(out), "--steps", "60", "--json"]
    )
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


@pytest.fixture(scope="module")
def backed(tmp_path_factory) -> tuple[Path, Path, dict]:
    """The small job, its plates on an even backing, its burgees on rectangles off their middle."""
    folder = tmp_path_factory.mktemp("backed")
    job = write_small_job(folder / "job")
    changed(job, "quantity = 8", f'quantity = 8\nbacking = "offset:{OFFSET_MM:g}"')
    changed(job, "quantity = 6", 'quantity = 6\nbacking = "circle:1"')
    return job, folder / "out", plan(job, folder / "out")


def cut_rings(out: Path, layer: str) -> dict[tuple[int, int], list[np.ndarray]]:
    """Rings of a layer by decal and copy, y up from the frame's lower edge."""
    root = etree.fromstring((out / "cut-01.svg").read_bytes())
    long = float(root.get("viewBox").split()[3])
    found: dict[tuple[int, int], list[np.ndarray]] = {}
    for path in root.find(f"{SVG}g[@id='{layer}']"):
        numbers = [float(n) for n in path.get("d").translate(str.maketrans("MLZ", "   ")).split()]
        ring = np.array(numbers).reshape(-1, 2) * (1, -1) + (0, long)
        found.setdefault((int(path.get("data-decal")), int(path.get("data-copy"))), []).append(ring)
    return found


def test_the_check_finds_nothing(backed):
    _, out, _ = backed

    assert not check_folder(out).found


def test_every_copy_is_cut_twice_and_the_backing_lies_as_far_out_as_asked(backed):
    _, out, said = backed
    kiss, through = cut_rings(out, "kiss"), cut_rings(out, "through")

    assert len(kiss) == 14
    assert kiss.keys() == through.keys()
    for key, (ring,) in kiss.items():
        inner, outer = shapely.Polygon(ring), shapely.Polygon(through[key][0])
        away = inner.exterior.distance(outer.exterior)
        assert outer.contains_properly(inner)
        assert away == pytest.approx(OFFSET_MM if key[0] == 1 else 1.0, abs=0.02)
    assert said["cut"]["contours"] == 14
    lines = [ring for layer in (kiss, through) for rings in layer.values() for ring in rings]
    assert said["cut"]["length_mm"] == pytest.approx(
        sum(shapely.LinearRing(ring).length for ring in lines), abs=0.05
    )


def test_kiss_cuts_come_before_through_cuts(backed):
    _, out, _ = backed
    root = etree.fromstring((out / "cut-01.svg").read_bytes())

    assert [group.get("id") for group in root.findall(f"{SVG}g")] == ["kiss", "through", "marks"]


def test_backings_stand_a_gutter_apart_and_no_ink_comes_near_another(backed):
    _, out, said = backed
    kiss, through = cut_rings(out, "kiss"), cut_rings(out, "through")
    backings = {key: shapely.Polygon(rings[0]) for key, rings in through.items()}
    inks = {
        key: shapely.Polygon(rings[0]).buffer(said["decals"][key[0] - 1]["bleed_mm"])
        for key, rings in kiss.items()
    }
    for one in backings:
        for other in backings:
            if one != other:
                assert backings[one].distance(backings[other]) >= GUTTER_MM - 1e-3
                assert not inks[one].intersects(backings[other])


def test_the_summary_places_the_contour_and_its_backing_by_the_contours_middle(backed):
    _, out, said = backed
    kiss, through = cut_rings(out, "kiss"), cut_rings(out, "through")
    (frame,) = said["frames"]
    for place in frame["placements"]:
        decal, angle = said["decals"][place["decal"] - 1], np.radians(place["angle_deg"])
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        for rings, layer in ((decal["contour"], kiss), (decal["backing"], through)):
            meant = np.array(rings[0]) @ turn + (place["x_mm"], place["y_mm"] - frame["y0_mm"])
            (ring,) = layer[place["decal"], place["copy"]]
            assert shapely.hausdorff_distance(
                shapely.LinearRing(meant), shapely.LinearRing(ring)
            ) == pytest.approx(0, abs=1e-3)
        low, high = np.array(decal["contour"][0]).min(axis=0), np.max(decal["contour"][0], axis=0)
        assert low + high == pytest.approx((0, 0), abs=1e-5)


def test_used_film_is_what_lies_inside_the_backings(backed):
    _, _, said = backed
    areas = [shapely.Polygon(decal["backing"][0]).area for decal in said["decals"]]
    inside = 8 * areas[0] + 6 * areas[1]

    assert said["nest"]["used_percent"] == pytest.approx(
        100 * inside / (said["roll"]["area_used_m2"] * 1e6), abs=1e-3
    )


def test_copies_keep_their_places_from_a_former_plan(backed, tmp_path):
    job, out, said = backed
    again = copytree(job.parent, tmp_path / "job") / job.name
    changed(again, "gutter_mm", f'from_plan = "{out}"\ngutter_mm')

    kept = plan(again, tmp_path / "out")

    assert kept["nest"]["from_plan"]["stayed"] == 14
    for before, after in zip(said["frames"], kept["frames"], strict=True):
        for one, other in zip(before["placements"], after["placements"], strict=True):
            assert (one["decal"], one["copy"]) == (other["decal"], other["copy"])
            assert one["x_mm"] == pytest.approx(other["x_mm"], abs=1e-4)


def without_backing_of(svg: bytes, decal: int, copy: int) -> bytes:
    root = etree.fromstring(svg)
    group = root.find(f"{SVG}g[@id='through']")
    (path,) = (
        path
        for path in group
        if (path.get("data-decal"), path.get("data-copy")) == (str(decal), str(copy))
    )
    group.remove(path)
    return etree.tostring(root)


def onto_kiss(svg: bytes, decal: int, copy: int) -> bytes:
    root = etree.fromstring(svg)
    (path,) = (
        path
        for path in root.find(f"{SVG}g[@id='through']")
        if (path.get("data-decal"), path.get("data-copy")) == (str(decal), str(copy))
    )
    root.find(f"{SVG}g[@id='kiss']").append(path)
    return etree.tostring(root)


def test_the_check_names_a_backing_that_is_lost_moved_or_on_the_wrong_layer(backed, tmp_path):
    _, out, _ = backed

    lost = copytree(out, tmp_path / "lost")
    edit(lost, "cut-01.svg", lambda svg: without_backing_of(svg, 1, 3))
    found = check_folder(lost).found
    assert [(each.kind, each.where) for each in found if each.kind is Kind.RING_LOST] == [
        (Kind.RING_LOST, "cut-01.svg, berth plate, copy 3")
    ]

    layered = copytree(out, tmp_path / "layered")
    edit(layered, "cut-01.svg", lambda svg: onto_kiss(svg, 2, 1))
    (only,) = (each for each in check_folder(layered).found if each.where.startswith("cut-01.svg"))
    assert only.kind is Kind.CUT_LAYER
    assert only.where == "cut-01.svg, club burgee, copy 1"

    near = copytree(out, tmp_path / "near")
    bend(
        near,
        lambda said: said["decals"][0].update(
            backing=[[[1.02 * x, 1.02 * y] for x, y in said["decals"][0]["backing"][0]]]
        ),
    )
    assert {each.kind for each in check_folder(near).found} >= {Kind.CUT_SHAPE}


def test_a_backing_that_cuts_into_a_neighbour_is_found(backed, tmp_path):
    _, out, _ = backed
    folder = copytree(out, tmp_path / "gutter")
    swap(folder, "summary.json", '"gutter_mm": 4.0', '"gutter_mm": 4.6')

    assert Kind.TOO_NEAR in {each.kind for each in check_folder(folder).found}


def test_print_beyond_the_backing_keeps_neighbours_away(tmp_path):
    job = write_small_job(tmp_path / "job")
    changed(job, "bleed_mm = 2.0", 'bleed_mm = 4.0\nbacking = "offset:1"')
    changed(job, "quantity = 6", "quantity = 1")

    said = plan(job, tmp_path / "out")

    through = cut_rings(tmp_path / "out", "through")
    rings = [shapely.Polygon(rings[0]) for rings in through.values()]
    least = min(a.distance(b) for k, a in enumerate(rings) for b in rings[:k])
    assert least >= 6 - 1e-3, "twice the 3 mm of print beyond the backing"
    assert not check_folder(tmp_path / "out").found
    assert said["marks"]["chance_outside_bleed"] < 0.05


def test_a_backing_needs_a_kiss_cut_and_a_tool(tmp_path):
    job = write_small_job(tmp_path / "job")
    changed(job, "bleed_mm = 2.0", 'bleed_mm = 2.0\ncut = "through"\nbacking = "offset:3"')

    result = CliRunner().invoke(main, ["plan", str(job), "--out", str(tmp_path / "out")])

    assert result.exit_code == 2
    assert "a backing goes round a kiss cut" in result.output


def test_a_backing_inside_its_contour_is_refused_with_what_offset_takes(tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(
        'name = "n"\nshop = "shop.toml"\nroll = "r"\nsetup = "s"\n[[decal]]\nname = "d"\n'
        'artwork = "a.svg"\nquantity = 1\nbacking = "offset:-5"\n'
    )
    with pytest.raises((Fault, Faults), match="a number of mm from 0 to 999, outside") as refused:
        read_job(job)
    assert refused.value.code == 2
