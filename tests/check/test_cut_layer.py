"""The cut layer read by itself: size, layers, paths, marks, distances."""

import json
import re

import pytest

from nestplan.check import Kind, check_folder
from nestplan.check.cut_layer import read_cut_layer
from nestplan.check.said import read_said
from tests.check.edit import bend, edit, kinds, swap


@pytest.fixture
def read(folder):
    """Read the folder's cut layer after a change to its text: the layer."""
    said, _ = read_said((folder / "summary.json").read_bytes(), "summary.json")

    def change(old: str = "", new: str = ""):
        text = (folder / "cut-01.svg").read_text()
        assert old in text
        data = text.replace(old, new, 1).encode()
        return read_cut_layer(data, "cut-01.svg", said, said.frames[0])

    return change


def test_a_good_layer_is_read_in_run_coordinates(read):
    """Copy 1 of the plate: centre (80, 50 + 90), upright, 90 by 60 mm; its hole 20 mm square."""
    layer = read()
    ring = next(p.ring for p in layer.paths if p.label == (1, 1) and len(p.ring) == 4)
    outer = max((p.ring for p in layer.paths if p.label == (1, 1)), key=lambda r: r[:, 0].max())

    assert layer.against == ()
    assert len(ring) == 4
    assert outer.min(axis=0) == pytest.approx([35, 110])
    assert outer.max(axis=0) == pytest.approx([125, 170])


def test_one_inch_is_25_4_mm_whatever_the_unit(read, folder):
    """CSS Values: 1 in = 96 px = 25.4 mm; 600 px are 158.75 mm."""
    width = json.loads((folder / "summary.json").read_bytes())["roll"]["width_mm"]
    inches, pixels = width / 25.4, width / 25.4 * 96

    assert read(f'width="{width:g}mm"', f'width="{inches!r}in"').against == ()
    assert read(f'width="{width:g}mm"', f'width="{pixels!r}px"').against == ()
    assert read(f'width="{width:g}mm"', f'width="{pixels!r}"').against == ()
    assert 600 * 25.4 / 96 == 158.75


def test_a_layer_without_a_unit_is_too_small_by_96_to_the_inch(read, folder):
    width = json.loads((folder / "summary.json").read_bytes())["roll"]["width_mm"]

    layer = read(f'width="{width:g}mm"', f'width="{width:g}"')

    unit = next(f for f in layer.against if f.where == "cut-01.svg, viewBox, across")
    assert unit.found == "one unit is 0.264583 mm"  # 25.4 / 96


FIRST, SECOND = 'data-copy="1" data-decal="1"', 'data-copy="2" data-decal="1"'
WRONG = [
    ("viewBox=", "data-box=", Kind.SHEET_SIZE, "viewBox"),
    ('viewBox="0 0', 'viewBox="5 0', Kind.SHEET_SIZE, "viewBox"),
    ('id="kiss"', 'id="kiss" transform="scale(1)"', Kind.SHEET_TURNED, "layer kiss"),
    (FIRST, FIRST + ' transform="rotate(1)"', Kind.SHEET_TURNED, "berth plate, copy 1"),
    (FIRST, FIRST + ' display="none"', Kind.SHEET_EXTRA, "berth plate, copy 1"),
    (f'Z" {SECOND}', f'" {SECOND}', Kind.PATH_OPEN, "berth plate, copy 2"),
    ("<defs />", '<rect width="5" height="5" />', Kind.SHEET_EXTRA, "<rect>"),
    ("<defs />", '<g id="more"><path d="M0 0Z"/></g>', Kind.SHEET_EXTRA, '<g id="more">'),
    ('data-decal="1"', 'data-decal="7"', Kind.CUT_EXTRA, "decal 7, copy 1"),
    ('data-mark="2"', 'data-mark="two"', Kind.MARK_EXTRA, "mark two"),
    ("<path d=", '<circle r="4" /><path d=', Kind.SHEET_EXTRA, "layer kiss"),
    (" L", " C", Kind.PATH_OPEN, "berth plate, copy 1"),
]


@pytest.mark.parametrize(("old", "new", "kind", "where"), WRONG)
def test_what_is_wrong_with_a_layer_is_named(read, old, new, kind, where):
    assert (kind, f"cut-01.svg, {where}") in [(f.kind, f.where) for f in read(old, new).against]


def test_an_entity_is_not_followed(read, folder):
    (folder / "secret.txt").write_text("secret")
    layer = read(
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x SYSTEM "secret.txt">]>',
    )

    assert layer.against == ()


def test_a_layer_that_is_no_xml_is_broken(folder):
    edit(folder, "cut-01.svg", lambda data: data[: len(data) // 2])

    found = check_folder(folder).found

    assert (Kind.FILE_BROKEN, "cut-01.svg") in [(each.kind, each.where) for each in found]


def test_a_cut_on_the_other_layer_is_found(folder):
    """Kiss cuts moved through the liner: the decals would fall off the roll."""
    edit(
        folder,
        "cut-01.svg",
        lambda data: (
            data.replace(b'"kiss"', b'"x"')
            .replace(b'"through"', b'"kiss"')
            .replace(b'"x"', b'"through"')
        ),
    )

    found = [each for each in check_folder(folder).found if each.kind is Kind.CUT_LAYER]

    assert len(found) == 4
    assert {(each.found, each.meant) for each in found} == {
        ("through", "kiss"),
        ("kiss", "through"),
    }


def test_an_outline_before_its_hole_is_found(folder):
    """What is cut out moves: a hole cut afterwards lands elsewhere."""

    def exchanged(data: bytes) -> bytes:
        paths = re.findall(rb'<path [^>]*data-copy="1" data-decal="1" />', data)
        assert len(paths) == 2
        return data.replace(paths[0], b"@@").replace(paths[1], paths[0]).replace(b"@@", paths[1])

    edit(folder, "cut-01.svg", exchanged)

    assert [(f.kind, f.where) for f in check_folder(folder).found] == [
        (Kind.CUT_ORDER, "cut-01.svg, berth plate, copy 1")
    ]


def test_a_ring_too_many_is_found(folder):
    swap(
        folder,
        "cut-01.svg",
        "<path d=",
        '<path d="M70 60 L72 60 L72 62 Z" data-copy="1" data-decal="1" /><path d=',
    )

    found = [f for f in check_folder(folder).found if f.kind is Kind.RING_EXTRA]

    assert [f.where for f in found] == ["cut-01.svg, berth plate, copy 1"]


def test_a_mark_of_another_size_is_found(folder):
    bend(folder, lambda said: said["marks"].update(size_mm=5.0))

    found = [f for f in check_folder(folder).found if f.kind is Kind.MARK_SHAPE]

    assert [f.where for f in found] == [f"cut-01.svg, mark {n}" for n in (1, 2, 3, 4)]


def test_a_disc_that_should_be_a_square_is_found(folder):
    bend(folder, lambda said: said["marks"].update(shape="square"))

    assert Kind.MARK_SHAPE.number in kinds(check_folder(folder))


def test_marks_farther_apart_than_the_sensor_may_go_are_found(folder):
    bend(folder, lambda said: said["marks"].update(spacing_mm=200.0))

    found = [f for f in check_folder(folder).found if f.kind is Kind.MARKS_APART]

    assert [f.found for f in found] == [
        "306.00 mm from mark 1 to mark 3",
        "306.00 mm from mark 2 to mark 4",
    ]


def test_contours_nearer_than_the_gutter_are_found(folder):
    """Rows are 110 mm apart: a plate 60 mm tall below one 90 mm tall leaves 35 mm."""
    bend(folder, lambda said: said["inputs"]["job"].update(gutter_mm=40.0))

    found = [f for f in check_folder(folder).found if f.kind is Kind.TOO_NEAR]

    assert ("35.000 mm apart", "at least 40.000 mm apart") in [(f.found, f.meant) for f in found]
    assert any("berth plate, copy 1 and berth plate, copy 2" in f.where for f in found)


def test_contours_nearer_than_both_bleeds_are_found(folder):
    """Twice 20 mm of bleed are more than the 35 mm between the plates."""
    bend(folder, lambda said: said["decals"][0].update(bleed_mm=20.0))

    assert Kind.TOO_NEAR.number in kinds(check_folder(folder))


def test_overlapping_contours_are_found_with_their_common_area(folder):
    """The second plate, turned, moved 60 mm down onto the first: 60 mm wide, 25 mm deep.

    Less what is open: 15 x 15 of one hole, 20 x 15 of the other, 5 x 5 of them counted twice.
    """

    def down(said):
        place = next(
            p for p in said["frames"][0]["placements"] if (p["decal"], p["copy"]) == (1, 2)
        )
        place["y_mm"] -= 60.0

    bend(folder, down)

    def lower(data: bytes) -> bytes:
        def moved(match: re.Match) -> bytes:
            d = re.sub(rb" (-?[\d.]+)(?= L| Z)", lambda m: b" %.4f" % (float(m[1]) + 60), match[1])
            return b'd="' + d + match[2]

        return re.sub(rb'd="([^"]*)(" data-copy="2" data-decal="1")', moved, data)

    edit(folder, "cut-01.svg", lower)

    found = [f for f in check_folder(folder).found if f.kind is Kind.OVERLAP]

    assert [(each.where, each.found) for each in found] == [
        ("cut-01.svg, berth plate, copy 1 and berth plate, copy 2", "1000.00 mm² in common")
    ]


def test_bleed_beyond_the_printable_width_is_found(folder):
    """The left plates end at x = 35: 26 mm of bleed would begin left of the page at x = 10."""
    bend(folder, lambda said: said["decals"][0].update(bleed_mm=26.0))

    found = [f for f in check_folder(folder).found if f.kind is Kind.OFF_FILM]

    assert "cut-01.svg, berth plate, copy 1" in [f.where for f in found]
    assert "its bleed ends 1.000 mm beyond the printable area" in [f.found for f in found]


def test_a_decal_in_a_clear_zone_is_found(folder):
    bend(folder, lambda said: said["marks"].update(clear_mm=60.0))

    assert Kind.CLEAR_ZONE.number in kinds(check_folder(folder))


def test_a_ring_that_crosses_itself_is_found(folder):
    """The last two corners of the first burgee exchanged make lines that cross."""

    def tied(data: bytes) -> bytes:
        path = re.search(rb'd="(M[^"]*)" data-copy="1" data-decal="2"', data)[1]
        points = path[1:-2].split(b" L")
        points[3], points[4] = points[4], points[3]
        return data.replace(path, b"M" + b" L".join(points) + b" Z")

    edit(folder, "cut-01.svg", tied)

    found = [f for f in check_folder(folder).found if f.kind is Kind.RING_CROSSES]

    assert [f.where for f in found] == ["cut-01.svg, club burgee, copy 1"]


def test_a_ring_may_start_between_two_corners(folder):
    """The knife starts where it likes; the line is the same."""

    def started(data: bytes) -> bytes:
        path = re.search(rb'd="(M[^"]*)" data-copy="2" data-decal="1"', data)[1]
        points = [tuple(map(float, p.split())) for p in path[1:-2].split(b" L")]
        (x0, y0), (x1, y1) = points[-1], points[0]
        start = b"M%.4f %.4f L" % ((x0 + x1) / 2, (y0 + y1) / 2)
        return data.replace(path, start + path[1:])

    edit(folder, "cut-01.svg", started)

    assert check_folder(folder).found == ()
