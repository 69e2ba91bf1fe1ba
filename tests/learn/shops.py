"""Shops whose true figures are known, runs drawn at random, and a stopwatch that is good to 2 %."""

import numpy as np

from nestplan.clock import CutProfile, PrintProfile
from nestplan.job import read_shop
from nestplan.learn import TimedRun, Timing
from nestplan.learn.figures import TimeModel, figures_of


def a_shop():
    """The shop of the demo jobs."""
    from pathlib import Path

    return read_shop(Path(__file__).parents[2] / "demo_jobs" / "shop.toml")


def a_run(name, shop, draw, setup="pair"):
    """Film of half a metre to six, some tens to some hundreds of contours, by hand-made moves.

    The knife's way is that of straight rests-to-rests of one length: v t = d + v²/a where the
    speed is reached, 2 v sqrt(d / a) where it is not (elementary).
    """
    own = next(each for each in shop.setup if each.name == setup)
    film_mm = float(draw.uniform(500, 6000))
    contours = int(draw.integers(20, 400))
    moves, move_mm = contours * int(draw.integers(4, 40)), float(draw.uniform(4, 80))
    ratio = np.geomspace(1e-4, 10, 16)
    reached = move_mm + 1 / ratio
    short = 2 * np.sqrt(move_mm / ratio)
    way_mm = moves * np.where(move_mm * ratio >= 1, reached, short)
    strokes = np.ceil(film_mm / 9) + 5
    names = {"pair": ("printer", "cutter"), "combined": ("combined device",) * 2}[setup]
    printer = next(each for each in shop.machine if each.name == names[0])
    return TimedRun(
        name=name,
        setup=own,
        machines={"print": names[0], "cut": names[1]},
        mode=printer.mode[0].name,
        printing=PrintProfile(
            warm_ups=1.0, turns=float(strokes), way_mm=float(strokes * draw.uniform(700, 1480))
        ),
        cutting=CutProfile(
            winds=1.0,
            marks=float(2 * np.ceil(film_mm / 400) + 2),
            lifts=float(contours),
            tool_changes=0.0,
            windows=0.0,
            ratio=tuple(ratio),
            way_mm=tuple(way_mm),
        ),
        film_mm=film_mm,
        laminated=False,
    )


def truth_of(model, draw, off=0.35):
    """True logarithms: each figure off by a factor, standard deviation `off`."""
    return model.start + draw.normal(0, off, len(model.figures))


def a_study(seed, readings=12, unseen=30, noise=0.02, gross=True):
    """A shop, the runs timed and not timed, the readings with one gross error, and the truth."""
    draw = np.random.default_rng(seed)
    shop = a_shop()
    runs = [a_run(f"run {k + 1}", shop, draw) for k in range(readings // 2)]
    others = [a_run(f"other {k + 1}", shop, draw) for k in range(unseen)]
    model = TimeModel(figures=figures_of(shop, runs))
    truth = truth_of(model, draw)
    timings = []
    for k in range(readings):
        run, stage = runs[k // 2], ("print", "cut")[k % 2]
        seconds = model.time_s(truth, run, stage) * float(np.exp(draw.normal(0, noise)))
        timings.append(Timing(plan=run.name, stage=stage, seconds=seconds, line=k + 2))
    wrong = None
    if gross:
        wrong = int(draw.integers(readings))
        factor = float(draw.choice([0.5, 0.7, 1.5, 2.0, 3.0]))
        timings[wrong] = Timing(
            plan=timings[wrong].plan,
            stage=timings[wrong].stage,
            seconds=timings[wrong].seconds * factor,
            line=timings[wrong].line,
        )
    return model, {run.name: run for run in runs}, timings, truth, others, wrong
