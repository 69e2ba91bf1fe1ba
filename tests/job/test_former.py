"""A former plan is read from its summary alone; what is damaged is one fault with its place."""

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nestplan.faults import Fault
from nestplan.job.former import read_former

SUMMARY = {
    "schema": 1,
    "job": "harbour regatta",
    "decals": [
        {"name": "berth plate", "contour": [[[-45, -30], [45, -30], [45, 30], [-45, 30]]]},
    ],
    "frames": [
        {
            "index": 1,
            "y0_mm": 40.0,
            "length_mm": 200.0,
            "marks": [{"mark": 1, "x_mm": 10.0, "y_mm": 50.0}],
            "placements": [
                {"decal": 1, "copy": 1, "x_mm": 60.0, "y_mm": 90.0, "angle_deg": 0.0},
            ],
        }
    ],
    "marks": {"size_mm": 6.0, "clear_mm": 4.0},
}


def read(folder: Path, summary: object):
    text = summary if isinstance(summary, str) else json.dumps(summary)
    (folder / "summary.json").write_text(text, encoding="utf-8")
    return read_former(folder, "../former", "regatta.toml, from_plan")


def test_a_summary_says_where_copies_and_marks_lie(tmp_path):
    former = read(tmp_path, SUMMARY)

    assert former.job == "harbour regatta"
    assert former.decals[0].rings[0].shape == (4, 2)
    assert former.frames[0].placements[0].x_mm == 60.0
    assert former.frames[0].marks[0].y_mm == 50.0


@pytest.mark.parametrize(
    ("keys", "value", "says"),
    [
        (("schema",), 2, "schema"),
        (("frames",), [], "frames"),
        (("decals", 0, "contour"), [[[0, 0], [1, 1]]], "decals 1, contour 1: "),
        (("frames", 0, "placements", 0, "x_mm"), 1e300, "frames 1, placements 1, x_mm: "),
        (("frames", 0, "placements", 0, "y_mm"), "90", "frames 1, placements 1, y_mm: "),
        (("frames", 0, "placements", 0, "decal"), 2, "frame 1 has a copy of decal 2"),
        (("frames", 0, "placements", 0, "copy"), 0, "frames 1, placements 1, copy: "),
        (("marks", "size_mm"), -1, "marks, size_mm: "),
        (("job",), None, "job"),
    ],
)
def test_what_is_damaged_is_named(tmp_path, keys, value, says):
    summary = json.loads(json.dumps(SUMMARY))
    part = summary
    for key in keys[:-1]:
        part = part[key]
    part[keys[-1]] = value

    with pytest.raises(Fault, match=says) as caught:
        read(tmp_path, summary)
    assert caught.value.where == "regatta.toml, from_plan"
    assert caught.value.do == "plan the former job again, or leave out from_plan"


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(at=st.integers(0, 600), junk=st.text(max_size=4))
def test_whatever_stands_in_it_it_is_read_or_answered(tmp_path, at, junk):
    text = json.dumps(SUMMARY)
    spoiled = text[:at] + junk + text[at + len(junk) + 1 :]
    try:
        read(tmp_path, spoiled)
    except Fault as fault:
        assert "cannot be used" in fault.what


def test_numbers_without_end_are_refused(tmp_path):
    text = json.dumps(SUMMARY).replace("60.0", "NaN", 1)
    with pytest.raises(Fault):
        read(tmp_path, text)
