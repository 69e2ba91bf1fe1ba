"""A print that broke off: every copy is good, spoiled or was never printed."""

from pathlib import Path

import hypothesis.strategies as st
import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given

from nestplan.again.broken import broken_off
from nestplan.again.loss import losses
from nestplan.again.printed import Copy, Printed, read_printed
from nestplan.again.spoiled import Spoiled
from nestplan.faults import Fault

FOLDER = Path("out")


def copy(number: int, low: float, high: float, marks: float, *, extra: bool = False) -> Copy:
    return Copy(
        decal="gull", number=number, frame=1, low_mm=low, high_mm=high, marks_mm=marks,
        area_mm2=100.0, extra=extra,
    )  # fmt: skip


def printed(*copies: Copy, used_mm: float = 1000.0) -> Printed:
    return Printed(
        folder=FOLDER, said={}, job="j", plan="0" * 12, used_mm=used_mm, decals=(),
        copies=copies, art={},
    )  # fmt: skip


THREE = (copy(1, 100, 190, 400), copy(2, 200, 290, 400), copy(3, 300, 390, 400))


def numbers(each) -> list[int]:
    return [getattr(one, "copy", one).number for one in each]


def test_what_lies_across_the_end_is_spoiled_what_lies_behind_it_is_not_there():
    found = broken_off(printed(*THREE), 250.0, keep_printed=True)

    assert (numbers(found.spoiled), numbers(found.unprinted)) == ([2], [3])
    assert found.unreadable == 0


def test_whole_copies_of_a_frame_without_its_last_mark_cannot_be_cut():
    found = broken_off(printed(*THREE), 250.0)

    assert (numbers(found.spoiled), numbers(found.unprinted)) == ([1, 2], [3])
    assert found.unreadable == 1
    assert found.spoiled[0].reason.endswith("before the marks of its frame")


def test_frames_before_the_end_are_good():
    first = copy(1, 10, 40, 60)
    found = broken_off(printed(first, *THREE[1:]), 250.0)

    assert numbers(found.spoiled) == [2]


@given(
    st.lists(st.tuples(st.floats(0, 900), st.floats(1, 99), st.floats(0, 999)), min_size=1),
    st.floats(0, 999.9),
    st.booleans(),
)
def test_every_copy_is_just_one_of_good_spoiled_and_unprinted(spans, at_mm, keep):
    copies = [copy(k, low, low + long, marks) for k, (low, long, marks) in enumerate(spans, 1)]
    try:
        found = broken_off(printed(*copies), at_mm, keep_printed=keep)
    except Fault:
        assert all(c.high_mm <= at_mm and (keep or c.marks_mm <= at_mm) for c in copies)
        return
    spoiled, unprinted = set(numbers(found.spoiled)), set(numbers(found.unprinted))
    good = {c.number for c in copies} - spoiled - unprinted

    assert spoiled & unprinted == set()
    assert all(copies[k - 1].low_mm >= at_mm for k in unprinted)
    assert all(copies[k - 1].low_mm < at_mm for k in spoiled)
    assert all(copies[k - 1].high_mm <= at_mm for k in good)


@pytest.mark.parametrize("at_mm", [-1.0, 1000.0, 5000.0, float("nan")])
def test_a_place_beyond_the_run_is_refused(at_mm):
    with pytest.raises(Fault, match="cannot have broken off"):
        broken_off(printed(*THREE), at_mm)


def test_a_print_that_had_everything_did_not_break_off():
    with pytest.raises(Fault, match="all copies had been printed"):
        broken_off(printed(*THREE), 500.0)


@given(st.lists(st.floats(1, 1e5), min_size=1, max_size=30), st.floats(100, 50_000))
def test_all_copies_together_lose_the_whole_run(areas, used_mm):
    """Waste counted in; by whole micrometres, so up to half of one a copy."""
    copies = [
        Copy(
            decal="gull", number=k, frame=1, low_mm=0, high_mm=1, marks_mm=2, area_mm2=area,
            extra=False,
        )
        for k, area in enumerate(areas, start=1)
    ]  # fmt: skip
    spoiled = [Spoiled(copy=each, reason="wet") for each in copies]
    lost = losses(printed(*copies, used_mm=used_mm), spoiled, used_mm, used_mm)

    assert sum(each.share_um for each in lost) == pytest.approx(
        1000 * used_mm, abs=0.5 * len(areas) + 0.5
    )


@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=3, max_size=9, unique=True
    ),
    st.floats(0, 360),
    st.booleans(),
    st.integers(0, 500).map(lambda each: each / 100),
)
def test_ink_reaches_as_far_along_the_film_as_the_grown_contour(points, angle, mirrored, bleed):
    """Against another library's turning and growing."""
    hull = shapely.MultiPoint(points).convex_hull
    if hull.area < 1:
        return
    ring = np.array(hull.exterior.coords)[:-1].tolist()
    said = {
        "schema": 1, "job": "j", "plan": "0" * 12, "inputs": {"art": {}},
        "roll": {"name": "r", "length_used_mm": 1000.0}, "marks": {"size_mm": 6.0},
        "decals": [
            {"name": "d", "ordered": 1, "area_mm2": 10.0, "bleed_mm": bleed, "contour": [ring]}
        ],
        "frames": [
            {
                "index": 1, "y0_mm": 0.0, "length_mm": 500.0, "marks": [{"y_mm": 480.0}],
                "placements": [
                    {"decal": 1, "copy": 1, "y_mm": 200.0, "angle_deg": angle,
                     "mirrored": mirrored}
                ],
            }
        ],
    }  # fmt: skip
    (found,) = _read(said).copies
    shape = shapely.affinity.scale(hull, -1 if mirrored else 1, 1, origin=(0, 0))
    shape = shapely.affinity.rotate(shape, angle, origin=(0, 0)).buffer(bleed, 256)

    assert (found.low_mm - 200, found.high_mm - 200) == pytest.approx(
        (shape.bounds[1], shape.bounds[3]), abs=1e-3
    )
    assert found.marks_mm == 483.0


def _read(said):
    import json
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "summary.json").write_text(json.dumps(said))
        return read_printed(Path(name))
