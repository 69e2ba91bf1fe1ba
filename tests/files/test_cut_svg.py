"""The cut layer, read back with libraries that did not write it."""

import dataclasses
import io
import re

import numpy as np
import pytest
import resvg_py
from lxml import etree
from PIL import Image

from nestplan.cut import FrameCut
from nestplan.files.cut_svg import KISS, MARKS, THROUGH, cut_svg, cut_svg_name
from nestplan.geometry.outline import signed_area_mm2
from tests.files.handmade import AREAS_MM2, a_run
from tests.files.handmade import MARKS as MARK_PLACES

SVG = "{http://www.w3.org/2000/svg}"
RUN = a_run()
PIXELS_PER_MM = 5
TREES = [etree.fromstring(cut_svg(RUN, frame)) for frame in RUN.marks.frames]


def group(tree, name: str) -> list:
    """The paths of a group, in order."""
    (found,) = tree.findall(f"{SVG}g[@id='{name}']")
    assert all(child.tag == f"{SVG}path" for child in found)
    return list(found)


def rings_of(path) -> list[np.ndarray]:
    """Points of a path of straight lines (SVG 1.1, section 8.3), each ring closed by Z."""
    words = re.findall(r"[A-Za-z]|-?\d+(?:\.\d+)?", path.get("d"))
    rings, at = [], 0
    while at < len(words):
        assert words[at] == "M"
        points = []
        while words[at] in "ML":
            points.append((float(words[at + 1]), float(words[at + 2])))
            at += 3
        assert words[at] == "Z"
        at += 1
        rings.append(np.array(points))
    return rings


def picture(tree) -> np.ndarray:
    """The SVG as resvg draws it at PIXELS_PER_MM, (rows, columns, 3)."""
    png = resvg_py.svg_to_bytes(
        svg_string=etree.tostring(tree).decode(), dpi=25.4 * PIXELS_PER_MM, background="white"
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGB")).astype(int)


def test_a_unit_of_the_svg_is_a_millimetre_and_nothing_is_transformed():
    """SVG 1.1, section 7.7: width over the width of the view box is the size of a unit."""
    for tree, frame in zip(TREES, RUN.marks.frames, strict=True):
        assert tree.get("width") == "600mm"
        assert tree.get("height") == f"{frame.length_mm:g}mm"
        assert tree.get("viewBox") == f"0 0 600 {frame.length_mm:g}"
        assert not [e for e in tree.iter() if "transform" in e.attrib or "style" in e.attrib]


def test_rings_stand_in_their_groups_in_cutting_order():
    for tree, cut in zip(TREES, RUN.cut.frames, strict=True):
        for kind in ("kiss", "through"):
            wanted = [(str(r.decal + 1), str(r.copy)) for r in cut.strokes if r.kind == kind]
            found = [(p.get("data-decal"), p.get("data-copy")) for p in group(tree, kind)]
            assert found == wanted


def test_a_plate_is_cut_where_pencil_and_paper_say():
    """Plate 1 lies at (110, 140), upright, in a frame from y 50 to 450."""
    hole, outer = group(TREES[0], "kiss")[:2]

    assert sorted(map(tuple, rings_of(outer)[0])) == [(65, 280), (65, 340), (155, 280), (155, 340)]
    assert sorted(map(tuple, rings_of(hole)[0])) == [(75, 290), (75, 310), (95, 290), (95, 310)]


def test_every_ring_starts_where_the_knife_starts_and_keeps_its_points():
    for tree, frame, cut in zip(TREES, RUN.marks.frames, RUN.cut.frames, strict=True):
        paths = group(tree, "kiss") + group(tree, "through")
        for path, ring in zip(paths, cut.strokes, strict=True):
            (found,) = rings_of(path)
            np.testing.assert_allclose(found[:, 0], ring.points_mm[:, 0], atol=5.1e-5)
            far_end = frame.y0_mm + frame.length_mm
            np.testing.assert_allclose(found[:, 1], far_end - ring.points_mm[:, 1], atol=5.1e-5)


def test_the_rings_of_a_copy_enclose_the_area_of_its_decal():
    for tree in TREES:
        for kind, area in (("kiss", AREAS_MM2[0]), ("through", AREAS_MM2[1])):
            copies = {}
            for path in group(tree, kind):
                (ring,) = rings_of(path)
                copies.setdefault(path.get("data-copy"), []).append(-signed_area_mm2(ring))
            for rings in copies.values():
                assert sum(rings) == pytest.approx(area, abs=0.05)


def test_marks_are_numbered_and_stand_where_they_are_printed():
    for tree, frame, places in zip(TREES, RUN.marks.frames, MARK_PLACES, strict=True):
        paths = group(tree, "marks")
        assert [path.get("data-mark") for path in paths] == [str(n + 1) for n in range(len(places))]
        for path, (x, y) in zip(paths, places, strict=True):
            (ring,) = rings_of(path)
            centre = (ring.min(axis=0) + ring.max(axis=0)) / 2
            np.testing.assert_allclose(centre, (x, 450 - y if frame.index == 1 else 780 - y))


def test_both_cut_groups_are_there_when_a_frame_has_only_one_kind():
    only = tuple(ring for ring in RUN.cut.frames[1].strokes if ring.kind == "kiss")
    frames = (RUN.cut.frames[0], FrameCut(index=2, strokes=only))
    run = dataclasses.replace(RUN, cut=dataclasses.replace(RUN.cut, frames=frames))

    tree = etree.fromstring(cut_svg(run, run.marks.frames[1]))

    assert len(group(tree, "kiss")) == 2
    assert group(tree, "through") == []


def test_a_strangers_renderer_draws_the_lines_to_a_tenth_of_a_millimetre():
    """Blue is the plate at (110, 600), turned by 270 degrees: 60 wide, 90 high."""
    image = picture(TREES[1])
    blue = (image[:, :, 2] - image[:, :, 0]) > 60
    rows, columns = np.nonzero(blue)

    assert image.shape == (300 * PIXELS_PER_MM, 600 * PIXELS_PER_MM, 3)
    line = 0.5 * (0.2 + 1 / PIXELS_PER_MM)
    found = [
        columns.min() / PIXELS_PER_MM,
        (columns.max() + 1) / PIXELS_PER_MM,
        rows.min() / PIXELS_PER_MM,
        (rows.max() + 1) / PIXELS_PER_MM,
    ]
    np.testing.assert_allclose(found, [80, 140, 780 - 645, 780 - 555], atol=0.1 + line)


def test_nothing_is_filled_and_the_colours_differ():
    for tree in TREES:
        colours = [(g.get("fill"), g.get("stroke")) for g in tree.findall(f"{SVG}g")]
        assert colours == [("none", KISS), ("none", THROUGH), ("none", MARKS)]


def test_a_job_name_that_is_no_xml_does_not_break_the_file():
    order = RUN.job.order.model_copy(update={"name": "a <b> & \x01\x0b \ufffe 'c' \U0001f3c1"})
    run = dataclasses.replace(RUN, job=dataclasses.replace(RUN.job, order=order))

    tree = etree.fromstring(cut_svg(run, run.marks.frames[0]))

    assert tree.find(f"{SVG}title").text.startswith("a <b> & 'c' \U0001f3c1, frame 1 of 2")


def test_file_names_sort_as_the_frames_do():
    assert [cut_svg_name(n) for n in (1, 12, 120)] == ["cut-01.svg", "cut-12.svg", "cut-120.svg"]


def test_the_same_frame_gives_the_same_bytes():
    assert cut_svg(a_run(), a_run().marks.frames[0]) == cut_svg(RUN, RUN.marks.frames[0])
