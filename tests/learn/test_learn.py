"""Stopwatch readings: how they are read, what they tell, and what must not pass."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from nestplan.cli import main
from nestplan.clock import cut_profile, print_profile
from nestplan.clock.cut_time import cut_s
from nestplan.clock.print_time import print_s
from nestplan.faults import Fault, Faults
from nestplan.job import read_shop
from nestplan.learn import Timing, learn, read_timings
from nestplan.learn.sense import refuse_contradictions
from nestplan.learn.timings import seconds_of
from tests.files.handmade import PAGE_WIDTH_MM
from tests.files.handmade import a_run as handmade_run
from tests.learn.shops import a_run, a_shop, a_study


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("33:47", 2027),
        ("1:02:10", 3730),
        ("52 min 24 s", 3144),
        ("52min24s", 3144),
        ("1 h 3 min", 3780),
        ("1.5 h", 5400),
        ("9,5 min", 570),
        ("45 s", 45),
        ("2 hours 5 minutes", 7500),
        ("0:07.5", 7.5),
    ],
)
def test_times_as_people_write_them(text, seconds):
    assert seconds_of(text) == pytest.approx(seconds)


@pytest.mark.parametrize("text", ["", "2027", "12:75", "5 s 3 min", "3 min 3 min", "soon", "-3 s"])
def test_what_is_no_time(text):
    assert seconds_of(text) is None


@given(st.integers(1, 359_999))
def test_every_whole_time_is_read_back(seconds):
    hours, rest = divmod(seconds, 3600)
    colons = f"{hours}:{rest // 60:02d}:{rest % 60:02d}"

    assert seconds_of(colons) == seconds
    assert seconds_of(f"{hours} h {rest // 60} min {rest % 60} s") == seconds


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "empty"),
        ("plan,time\nout,3:00\n", "lacks stage"),
        ("plan,stage,time\n", "no readings"),
        ("plan,stage,time\nout,cutt,3:00\n", "'cutt', which is not known"),
        ("plan,stage,time\nout,cut,300\n", "has no unit"),
        ("plan,stage,time\nout,cut,0:00\n", "time is '0:00'"),
        ("plan,stage,time\n,cut,3:00\n", "no plan"),
        ("plan,stage,time\nout,cut\n", "only 2 cells"),
        ("\0\0", "not a table"),
    ],
)
def test_a_table_that_cannot_be_read(tmp_path, text, what):
    path = tmp_path / "t.csv"
    path.write_text(text)

    with pytest.raises((Fault, Faults), match=what):
        read_timings(path)


def test_a_table_with_semicolons_and_a_byte_order_mark(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("\ufeffstage;plan;time;who\ncut;out;3:00;Mika\n", encoding="utf-8")

    assert read_timings(path) == [Timing(plan="out", stage="cut", seconds=180.0, line=2)]


RUN = handmade_run()


@pytest.mark.parametrize("speed_mm_s", [30.0, 100.0, 300.0, 1473.0])
@pytest.mark.parametrize("acceleration_mm_s2", [500.0, 5000.0, 30_000.0])
@pytest.mark.parametrize("web", [None, 0.6])
def test_the_profile_of_a_cut_times_it_at_any_speed(speed_mm_s, acceleration_mm_s2, web):
    """Against the model itself; a table of sixteen ratios is good to a few thousandths."""
    keys = {"speed_mm_s": speed_mm_s, "acceleration_mm_s2": acceleration_mm_s2}
    asked = RUN.job.cutter
    if web is not None:
        keys |= {"web_speed_mm_s": web * speed_mm_s}
        keys |= {"web_acceleration_mm_s2": web * acceleration_mm_s2}
        shares = {
            "web_speed_mm_s": web * asked.speed_mm_s,
            "web_acceleration_mm_s2": web * asked.acceleration_mm_s2,
        }
        asked = asked.model_copy(update=shares)
    machine = RUN.job.cutter.model_copy(update=keys)
    profile = cut_profile(asked, RUN.marks, RUN.cut)
    found = (
        profile.moving_s(speed_mm_s, acceleration_mm_s2)
        + profile.winds * machine.wind_back_s
        + profile.marks * machine.sensor.read_s
        + profile.lifts * machine.lift_s
        + profile.tool_changes * machine.tool_change_s
        + profile.windows * machine.window_s
    )

    assert found == pytest.approx(cut_s(machine, RUN.marks, RUN.cut), rel=0.004)


def test_the_profile_of_a_print_times_it():
    mode = RUN.job.printer.mode[0]
    lengths_mm = (500.0, 733.0)
    profile = print_profile(mode, width_mm=PAGE_WIDTH_MM, lengths_mm=lengths_mm)
    found = profile.time_s(
        warm_up_s=mode.warm_up_s,
        turnaround_s=mode.turnaround_s,
        carriage_mm_s=mode.carriage_mm_s,
    )

    assert found == pytest.approx(print_s(mode, width_mm=PAGE_WIDTH_MM, lengths_mm=lengths_mm))


def test_slopes_are_those_of_small_steps():
    model, runs, *_ = a_study(5)
    logs = model.start + 0.1
    for stage in ("print", "cut", "run"):
        run = runs["run 1"]
        slope = model.slope(logs, run, stage)
        for k in range(len(logs)):
            up, down = logs.copy(), logs.copy()
            up[k] += 1e-5
            down[k] -= 1e-5
            ratio = model.time_s(up, run, stage) / model.time_s(down, run, stage)
            assert slope[k] == pytest.approx(np.log(ratio) / 2e-5, abs=1e-3)


def test_readings_without_error_are_met():
    model, runs, timings, truth, others, _ = a_study(3, readings=40, noise=0.0, gross=False)
    found = learn(model, runs, timings)

    assert found.bad == ()
    for run in others[:10]:
        for stage in ("print", "cut"):
            assert found.time_s(run, stage) == pytest.approx(
                model.time_s(truth, run, stage), rel=0.02
            )


def test_a_gross_error_is_named_and_left_out():
    model, runs, timings, truth, others, wrong = a_study(1)
    found = learn(model, runs, timings)

    assert [each.line - 2 for each in found.bad] == [wrong]
    off = [
        abs(found.time_s(run, stage) / model.time_s(truth, run, stage) - 1)
        for run in others
        for stage in ("print", "cut")
    ]
    assert np.median(off) < 0.04


def test_what_was_not_timed_is_not_told():
    """Prints alone say nothing of the knife."""
    model, runs, timings, *_ = a_study(4, gross=False)
    found = learn(model, runs, [each for each in timings if each.stage == "print"])
    told = {each.figure.key for each in found.learned if each.told}
    cutting = [each for each in found.learned if each.figure.owner == "cutter"]

    assert "carriage_mm_s" in told
    assert not any(each.told for each in cutting)
    assert all(each.value == pytest.approx(each.figure.value, rel=1e-6) for each in cutting)
    assert found.best.stage in ("cut", "run")


def test_times_that_contradict_each_other_are_named():
    shop = a_shop()
    runs = {"a": a_run("a", shop, np.random.default_rng(1))}
    lag_s = sum(stage.lag_s for stage in runs["a"].setup.stages if stage.does != "laminate")
    for timings, what in (
        ([("cut", 100.0), ("cut", 1000.0)], "took 1:40 min and 16:40 min"),
        ([("laminate", 100.0)], "not laminated"),
        ([("run", 60.0)], "waits"),
        ([("run", lag_s + 20_000), ("cut", lag_s + 30_000)], "its whole run"),
    ):
        given_timings = [
            Timing(plan="a", stage=stage, seconds=seconds, line=k + 2)
            for k, (stage, seconds) in enumerate(timings)
        ]
        with pytest.raises((Fault, Faults), match=what):
            refuse_contradictions(given_timings, runs, Path("t.csv"))


def write_plan(folder, run):
    """A summary as far as learning reads it."""
    folder.mkdir()
    cut, printing = run.cutting, run.printing
    (folder / "summary.json").write_text(
        json.dumps(
            {
                "schema": 1,
                "inputs": {"job": {"setup": run.setup.name}},
                "roll": {"length_used_mm": run.film_mm},
                "print": {
                    "mode": run.mode,
                    "timing": {
                        "warm_ups": printing.warm_ups,
                        "turns": printing.turns,
                        "way_mm": printing.way_mm,
                    },
                },
                "cut": {
                    "timing": {
                        "winds": cut.winds,
                        "marks": cut.marks,
                        "lifts": cut.lifts,
                        "tool_changes": cut.tool_changes,
                        "windows": cut.windows,
                        "ratio": list(cut.ratio),
                        "way_mm": list(cut.way_mm),
                    }
                },
            }
        )
    )


def test_the_command_writes_a_new_shop_that_can_be_read(tmp_path):
    _, runs, timings, *_ = a_study(2, gross=False)
    old = (Path(__file__).parents[2] / "demo_jobs" / "shop.toml").read_text()
    (tmp_path / "shop.toml").write_text(old)
    for name, run in runs.items():
        write_plan(tmp_path / name, run)
    lines = [f"{each.plan},{each.stage},{each.seconds:.1f} s" for each in timings]
    (tmp_path / "t.csv").write_text("plan,stage,time\n" + "\n".join(lines))
    done = CliRunner().invoke(
        main, ["learn", str(tmp_path / "shop.toml"), str(tmp_path / "t.csv"), "--json"]
    )

    assert done.exit_code == 0, done.output
    said = json.loads(done.output)
    new = read_shop(Path(said["shop"]))
    assert (tmp_path / "shop.toml").read_text() == old
    told = {each["key"]: each["value"] for each in said["figures"] if each["told"]}
    printer = next(each for each in new.machine if each.name == "printer")
    cutter = next(each for each in new.machine if each.name == "cutter")
    assert printer.mode[0].carriage_mm_s == pytest.approx(told["carriage_mm_s"], rel=1e-3)
    assert cutter.speed_mm_s == pytest.approx(told["speed_mm_s"], rel=1e-3)
    assert 0 < cutter.time_sd_percent["cut"] < 10
    assert "# invented figures" not in old or "# invented" in Path(said["shop"]).read_text()


def test_a_plan_that_is_none_is_named(tmp_path):
    (tmp_path / "shop.toml").write_text(
        (Path(__file__).parents[2] / "demo_jobs" / "shop.toml").read_text()
    )
    (tmp_path / "t.csv").write_text("plan,stage,time\nnowhere,cut,3:00\n")
    done = CliRunner().invoke(main, ["learn", str(tmp_path / "shop.toml"), str(tmp_path / "t.csv")])

    assert done.exit_code == 2
    assert "nowhere holds no plan" in done.output


def test_hands_are_told_by_whole_runs():
    shop = a_shop()
    draw = np.random.default_rng(8)
    runs = {f"r{k}": a_run(f"r{k}", shop, draw) for k in range(8)}
    model = replace(a_study(8)[0])
    truth = model.start
    timings = [
        Timing(plan=name, stage=stage, seconds=model.time_s(truth, run, stage), line=2 + k)
        for k, (name, run) in enumerate(runs.items())
        for stage in ("print", "cut", "run")
    ]
    found = learn(model, runs, timings)
    hands = [each for each in found.learned if each.figure.key == "handling_s"]

    assert sum(each.value for each in hands) == pytest.approx(
        sum(each.figure.value for each in hands), rel=0.1
    )
