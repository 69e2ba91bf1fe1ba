"""The command `shift` on two small jobs of one roll: the day's files, its film, what is refused."""

import json
from itertools import product

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cli import main
from nestplan.plan_film import without_film
from tests.small_job import changed, write_small_job

STEPS = 30


def shift(folder, *words):
    asked = [
        "shift",
        str(folder / "shop.toml"),
        "--out",
        str(folder / "day"),
        "--steps",
        str(STEPS),
    ]
    return CliRunner().invoke(main, [*asked, *map(str, words)])


@pytest.fixture
def jobs(tmp_path):
    """Two jobs of one shop and roll."""
    first = write_small_job(tmp_path)
    second = tmp_path / "second.toml"
    second.write_text(first.read_text().replace("pier open day", "harbour lights"))
    return first, second


def test_a_day_with_too_little_film_says_who_has_none(jobs, tmp_path):
    changed(tmp_path / "shop.toml", "left_m = 20", "left_m = 0.4")

    result = shift(tmp_path, *jobs, "--apart", "--day", "2026-06-12")

    day = json.loads((tmp_path / "day" / "shift.json").read_text())
    texts = [note["text"] for note in day["notes"] if note["where"] == "white gloss 600"]
    assert result.exit_code == 1, result.output
    assert len(texts) == 1
    assert "and 0.40 m is free: no film is left for harbour lights" in texts[0]
    assert {path.name for path in (tmp_path / "day").iterdir()} == {
        "shift.ics",
        "shift.json",
        "shift.pdf",
        "shift.svg",
    }


def test_jobs_of_one_roll_are_one_run_and_there_is_film_for_both(jobs, tmp_path):
    result = shift(tmp_path, *jobs)

    day = json.loads((tmp_path / "day" / "shift.json").read_text())
    assert result.exit_code == 0, result.output
    assert [note["where"] for note in day["notes"]] == ["pier open day + harbour lights"]
    assert "of film saved" in day["notes"][0]["text"]


def refuse(result, folder, what):
    assert result.exit_code == 2, result.output
    assert what in result.output
    assert not (folder / "day").exists()


def test_an_empty_queue_two_of_a_name_and_times_that_lack_are_named(jobs, tmp_path):
    first, second = jobs
    refuse(shift(tmp_path), tmp_path, "no job is to be done")
    refuse(shift(tmp_path, first, "--now", "10:00"), tmp_path, "--running is missing")
    changed(second, "harbour lights", "pier open day")
    refuse(shift(tmp_path, first, second), tmp_path, "two jobs are called 'pier open day'")


def test_a_job_of_another_shop_is_named(jobs, tmp_path):
    (tmp_path / "other.toml").write_text((tmp_path / "shop.toml").read_text())
    changed(jobs[1], "shop.toml", "other.toml")

    refuse(shift(tmp_path, *jobs), tmp_path, "this job is for another shop")


takes = st.lists(st.integers(1, 30), min_size=1, max_size=5)


@given(takes, st.lists(st.integers(0, 40), min_size=1, max_size=3), st.data())
def test_whoever_is_not_named_has_film_on_a_piece_it_may_lie_on(takes_mm, free_mm, data):
    free = {f"piece {k}": float(mm) for k, mm in enumerate(free_mm)}
    own = [data.draw(st.sampled_from([None, *free])) for _ in takes_mm]  # a piece that is named
    pieces = [free if name is None else {name: free[name]} for name in own]

    lacking = without_film(takes_mm, pieces)

    def fits(some):
        return any(
            all(
                sum(takes_mm[k] for k, on in zip(some, places, strict=True) if on == piece) <= mm
                for piece, mm in free.items()
            )
            for places in product(*(pieces[k] for k in some))
        )

    everybody = range(len(takes_mm))
    assert fits([k for k in everybody if k not in lacking])
    if len(free) == 1 or len(takes_mm) == 1:  # one piece, one job: then nobody is named in vain
        assert bool(lacking) == (not fits(everybody))
    if sum(takes_mm) > sum(free.values()):
        assert lacking
