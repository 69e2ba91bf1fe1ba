"""Sheets that moved as a whole, marks, and shapes that are another's: what each is called."""

import numpy as np
import pytest

from nestplan.check import Kind, check_folder
from nestplan.check.moved_together import UNMOVED, moved_together
from tests.check.damage import damage, points, write_points
from tests.check.edit import bend, edit


def of(folder, hundred):
    """Findings of one reading: kind, element without its file, figure found."""
    return [
        (each.kind, each.where.split(", ", 1)[1], each.found)
        for each in check_folder(folder).found
        if each.kind.number // 100 == hundred
    ]


def test_a_cut_with_the_shape_of_another_decal_is_said_to_have_it(folder):
    damage(folder, "swapped", "svg", bend=True, seed=2)

    found = [each for each in of(folder, 2) if each[0] is Kind.CUT_SHAPE]

    assert sorted(each[2] for each in found) == [
        "the outline of berth plate",
        "the outline of club burgee",
    ]


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        (lambda xy: xy + (3, 4), Kind.CUT_MOVED, "all together moved by 5.00 mm"),
        (
            lambda xy: xy @ np.array([[0.999962, -0.008727], [0.008727, 0.999962]]),
            Kind.CUT_TURNED,
            "all together turned by 0.50° counter-clockwise",
        ),
        (lambda xy: xy * (1.002, 1), Kind.CUT_SIZE, "all together 0.20 % too large across"),
    ],
)
def test_a_layer_that_is_off_as_a_whole_is_said_once(folder, change, kind, words):
    from lxml import etree

    def moved(data: bytes) -> bytes:
        root = etree.fromstring(data)
        for path in root.iter("{http://www.w3.org/2000/svg}path"):
            write_points(path, change(points(path)))
        return etree.tostring(root)

    edit(folder, "cut-01.svg", moved)
    found = of(folder, 2)

    assert found[0][:2] == (kind, "the whole layer")
    assert found[0][2].startswith(words)
    assert {each[1] for each in found} <= {"the whole layer"}


def test_a_gap_in_the_numbers_of_marks_is_a_mark_taken_out(folder):
    bend(folder, lambda said: said["frames"][0]["marks"].pop(1))

    found = of(folder, 2)

    assert (Kind.MARK_MISSING, "frame 1, mark 2", "3 marks, the last is number 4") in found


def test_a_mark_that_was_moved_is_named(folder):
    bend(folder, lambda said: said["frames"][0]["marks"][2].update(x_mm=25.0))

    assert of(folder, 2) == [
        (Kind.MARK_MOVED, "mark 3", "moved by 3.00 mm, to x 22.00, y 368.00 mm")
    ]


def test_four_places_or_fewer_never_move_together():
    """Any four are fitted by an affine map and one of them may be the wrong one."""
    before = np.array([[0.0, 0], [100, 0], [0, 100], [100, 100]])

    assert moved_together(before, before * 1.005) is UNMOVED


def test_one_wrong_place_does_not_hide_that_all_moved():
    before = np.array([[x, y] for x in (0.0, 100, 200) for y in (0.0, 100, 200)])
    after = before * 1.005 + (1, 2)
    after[4] += (7, 0)
    together = moved_together(before, after)

    assert together.sizes == pytest.approx((1.005, 1.005))
    assert np.delete(together.back(after), 4, axis=0) == pytest.approx(
        np.delete(before, 4, axis=0), abs=1e-6
    )
