"""Setups side by side: where the better one changes, and what a rush run costs."""

import json
from dataclasses import replace
from decimal import Decimal

import pytest

from nestplan.compare import OnSetup, compare, compare_files, on_setup
from nestplan.compare.comparison import crossings, overtakes
from nestplan.compare.on_setup import _rush_s
from tests.files.handmade import a_run

ONE = OnSetup(
    setup="pair",
    machines=("printer", "cutter"),
    copies=100,
    frames=1,
    first_s=5000.0,
    one_run_s=6000.0,
    spread_s=None,
    hands_s=600.0,
    runs_per_shift=10,
    rush_s=7000.0,
    rush_delay_s=500.0,
    film_mm=1000.0,
    film=Decimal("5.00"),
    ink=Decimal("1.00"),
    labour=Decimal("10.00"),
    machine=Decimal("2.00"),
    total=Decimal("18.00"),
    per_decal=Decimal("0.1800"),
    floor_m2=16.0,
)


def one(setup, copies, **figures):
    return replace(ONE, setup=setup, copies=copies, **figures)


BY_COPIES = [
    (one("pair", 100, one_run_s=6000.0), one("device", 100, one_run_s=4000.0)),
    (one("pair", 300, one_run_s=7000.0), one("device", 300, one_run_s=9000.0)),
]


def test_two_lines_meet_where_they_are_equal():
    """6000 + 5 n against 4000 + 25 n from 100 copies on: 100 more, so at 200."""
    (found,) = crossings(BY_COPIES, "one_run_s")

    assert (found.before, found.after, found.copies) == ("device", "pair", 200)
    assert (found.from_copies, found.to_copies) == (100, 300)
    assert found.low is found.high is None


def test_what_is_not_known_exactly_gives_a_range():
    """Each time is good to 300 s: their difference to 424, at 20 s a copy about 21 copies."""
    spread = [tuple(replace(each, spread_s=300.0) for each in row) for row in BY_COPIES]
    (found,) = crossings(spread, "one_run_s")

    assert sorted((found.low, found.high)) == [179, 221]


def test_no_crossing_where_one_is_better_throughout():
    assert crossings(BY_COPIES, "first_s") == []


def test_a_pair_overtakes_a_device_after_some_runs():
    """6000 + 500 (n - 1) against 4000 n: equal never before 2; 6500 < 8000."""
    device = one("device", 100, one_run_s=4000.0, rush_delay_s=4000.0)
    (found,) = overtakes([ONE, device])

    assert (found.runs, found.before, found.after) == (2, "device", "pair")


@pytest.mark.parametrize(
    ("busy_s", "rush_s"),
    [({"device": 1000.0}, 1500.0), ({"printer": 600.0, "cutter": 400.0}, 1500.0)],
)
def test_a_rush_run_finds_machines_half_way(busy_s, rush_s):
    assert _rush_s(1000.0, busy_s) == rush_s


def test_the_first_decal_is_done_before_the_run_is():
    run = a_run()
    found = on_setup(run)

    assert found.one_run_s - run.times.cut_s < found.first_s < found.one_run_s
    assert found.total == found.film + found.ink + found.labour + found.machine


def test_the_files_are_the_same_bytes_and_say_the_figures():
    made = compare(
        BY_COPIES,
        job="regatta",
        currency="EUR",
        shift_h=8.0,
        ordered=0,
        version="1",
        seed=1,
        steps=10,
    )
    files = compare_files(made)

    assert files == compare_files(made)
    said = json.loads(files["compare.json"])
    assert said["ordered_copies"] == 100
    assert said["quantities"][1]["setups"][0]["total"] == "18.00"
    assert said["crossings"][0]["copies"] == 200
