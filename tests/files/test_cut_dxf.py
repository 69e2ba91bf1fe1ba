"""The cut layer as DXF, read back from its group codes by a reader that did not write it."""

import subprocess
import sys

import numpy as np
import pytest
import shapely

from nestplan.check.dxf_file import read_dxf
from nestplan.files.cut_dxf import DxfRing, cut_dxf, cut_dxf_name, dxf_bytes
from tests.files.handmade import MARKS, a_run

RUN = a_run()
FRAME = RUN.marks.frames[1]  # begins at 480 mm
DATA = cut_dxf(RUN, FRAME)
FILE = read_dxf(DATA)


def disc(radius: float, chords: int) -> np.ndarray:
    """A flattened circle about the origin."""
    turns = np.linspace(0, 2 * np.pi, chords, endpoint=False)
    return radius * np.column_stack([np.cos(turns), np.sin(turns)])


def test_millimetres_are_declared():
    """DXF reference, HEADER: $INSUNITS 4 is millimetres, $MEASUREMENT 1 is metric."""
    assert FILE.header["$INSUNITS"] == 4
    assert FILE.header["$MEASUREMENT"] == 1


def test_every_ring_stands_in_cutting_order_with_its_copy():
    rings = RUN.cut.frames[1].strokes
    lines = [line for line in FILE.lines if line.layer != "marks"]

    assert [line.layer for line in lines] == [ring.kind for ring in rings]
    assert [line.numbers for line in lines] == [(ring.decal + 1, ring.copy) for ring in rings]
    assert all(line.closed for line in FILE.lines)
    assert FILE.others == ()
    for line, ring in zip(lines, rings, strict=True):
        wanted = shapely.LinearRing(ring.points_mm - (0, 480))  # y counts from the frame's start
        assert shapely.hausdorff_distance(shapely.LinearRing(line.points), wanted) < 0.001


def test_marks_are_circles_where_the_frame_has_them():
    marks = [line for line in FILE.lines if line.layer == "marks"]

    assert [mark.numbers for mark in marks] == [(n,) for n in range(1, 6)]
    assert DATA.count(b"\nCIRCLE\n") == 5
    for mark, (x, y) in zip(marks, MARKS[1], strict=True):
        middle = (mark.points.min(axis=0) + mark.points.max(axis=0)) / 2
        assert middle == pytest.approx((x, y - 480), abs=0.003)
        assert np.ptp(mark.points, axis=0) == pytest.approx((6, 6), abs=0.006)


def test_a_half_round_end_is_an_arc_as_the_reader_follows_it():
    """A stadium: 40 mm between the middles of two half circles of 10 mm."""
    outline = shapely.buffer(shapely.LineString([(0, 0), (40, 0)]), 10, quad_segs=40)
    ring = np.asarray(outline.exterior.coords)[:-1]
    data = dxf_bytes([DxfRing(layer="kiss", label=(1, 1), points_mm=ring)], 100, 100)

    (line,) = read_dxf(data).lines
    exact = 40 * 20 + np.pi * 100
    assert shapely.Polygon(line.points).area == pytest.approx(exact, rel=1e-4)
    assert data.count(b"\n 42\n") >= 2
    assert data.count(b"\n 10\n") < 40  # arcs, not 160 chords


def test_equal_rings_are_arcs_wherever_they_are_turned():
    """What was found on one is used on the next."""
    ring = disc(12, 90)[:60]  # two thirds of a disc, and a chord
    rings = []
    for n, angle in enumerate(np.radians([0, 37.5, 90, 211])):
        c, s = np.cos(angle), np.sin(angle)
        points = ring @ np.array([[c, s], [-s, c]]) + (n * 30, 0)
        rings.append(DxfRing(layer="kiss", label=(1, n + 1), points_mm=points))
    rings.append(DxfRing(layer="kiss", label=(1, 9), points_mm=ring * (-1, 1)))  # mirrored
    lines = read_dxf(dxf_bytes(rings, 200, 100)).lines

    for line, meant in zip(lines, rings, strict=True):
        wanted = shapely.LinearRing(meant.points_mm)
        assert shapely.hausdorff_distance(shapely.LinearRing(line.points), wanted) < 0.023


def test_the_same_frame_gives_the_same_bytes_in_another_process():
    """No date, no identity made up while writing."""
    code = (
        "import sys; from tests.files.handmade import a_run; "
        "from nestplan.files.cut_dxf import cut_dxf; run = a_run(); "
        "sys.stdout.buffer.write(cut_dxf(run, run.marks.frames[1]))"
    )
    again = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout

    assert again == DATA


def test_names_follow_the_frames():
    assert [cut_dxf_name(n) for n in (1, 12, 120)] == ["cut-01.dxf", "cut-12.dxf", "cut-120.dxf"]
