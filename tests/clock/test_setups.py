"""Setups compared: what overlaps, what does not, and who cannot do the run."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.clock import time_run
from nestplan.clock.setups import runs_within, setup_times
from nestplan.cut import plan_cut
from nestplan.job import Setup, ShopFile
from tests.files.handmade import PAGE_WIDTH_MM, a_run

RUN = a_run()
CUT = plan_cut(RUN.artwork.decals, RUN.nest, RUN.marks)


def setup(printer="printer", cutter="cutter", *, hands=(120.0, 180.0), lag_s=0.0, name="other"):
    return Setup.model_validate(
        {
            "name": name,
            "stages": [
                {"machine": printer, "does": "print", "handling_s": hands[0]},
                {"machine": cutter, "does": "cut", "handling_s": hands[1], "lag_s": lag_s},
            ],
        }
    )


def machine(name, *does):
    return SimpleNamespace(name=name, does=list(does), time_sd_percent={})


SHOP = SimpleNamespace(
    machine=[
        machine("printer", "print"),
        machine("cutter", "cut"),
        machine("both", "print", "cut"),
        machine("laminator", "laminate"),
    ]
)


def laminating(printer, cutter, **more):
    stages = [
        {"machine": printer, "does": "print", "handling_s": 100.0},
        {"machine": "laminator", "lag_s": 7200.0, "handling_s": 200.0},
        {"machine": cutter, "does": "cut", "lag_s": 60.0, "handling_s": 300.0},
    ]
    return Setup.model_validate({"name": "laminating", "stages": stages, **more})


def test_a_laminated_run_waits_and_goes_through_the_laminator():
    """100 + 600 printing, 7200 drying, 200 + 400 laminating, 60, 300 + 500 cutting."""
    each = {"print_s": 600.0, "cut_s": 500.0, "shift_s": 28_800.0, "shop": SHOP}
    pair = setup_times(laminating("printer", "cutter"), laminate_s=400.0, **each)
    one = setup_times(laminating("both", "both", load_again_s=90.0), laminate_s=400.0, **each)
    plain = setup_times(laminating("both", "both", load_again_s=90.0), **each)

    assert pair.one_run_s == 9360.0
    assert one.one_run_s == 9360.0 + 90.0  # unloaded, laminated and loaded again
    assert plain.one_run_s == 100 + 600 + 60 + 300 + 500  # the laminator is left out
    # the pair's slowest machine is the cutter, 800 s a run: 1 + floor((28800 - 2100) / 800)
    assert pair.runs_per_shift == 34
    # the device has 100 + 600 + 300 + 90 + 500 = 1590 s of work with each run
    assert one.runs_per_shift == 1 + (28_800 - 2190) // 1590


def test_spreads_of_stages_add_up_as_squares():
    """3 % of 1000 s and 4 % of 1000 s: 50 s, times 1.645 for 90 %."""
    both = machine("both", "print", "cut")
    both.time_sd_percent = {"print": 3.0, "cut": 4.0}
    each = {"print_s": 1000.0, "cut_s": 1000.0, "shift_s": 28_800.0}
    found = setup_times(setup("both", "both"), shop=SimpleNamespace(machine=[both]), **each)

    assert found.half_s == pytest.approx(82.243, abs=0.01)
    assert setup_times(setup(), shop=SHOP, **each).half_s is None


def shop_with(machines=(), setups=()):
    """The job in a shop that also has these machines (as changes to its own) and setups."""
    shop = RUN.job.shop
    tables = shop.model_dump()
    for of, changes in machines:
        own = next(m.model_dump() for m in shop.machine if m.name == of)
        sensor = (own.get("sensor") or {}) | changes.pop("sensor", {})
        tables["machine"].append(own | changes | ({"sensor": sensor} if sensor else {}))
    tables["setup"] += [each.model_dump() for each in setups]
    return replace(RUN.job, shop=ShopFile.model_validate(tables))


def times(job):
    return time_run(job, RUN.marks, CUT, PAGE_WIDTH_MM)


def test_the_jobs_own_setup_comes_first_and_its_times_are_the_runs():
    job = shop_with(setups=[setup(name="a")])
    job = replace(job, setup=job.shop.setup[1])

    found = times(job)

    assert [each.name for each in found.setups] == ["a", "pair"]
    assert (found.print_s, found.cut_s) == (found.setups[0].print_s, found.setups[0].cut_s)
    assert found.print_mode == "fine"
    assert found.without == ()


def test_one_run_from_door_to_door_by_hand():
    """Printer 120 + 600 s, an hour of drying, cutter 180 + 300 s."""
    found = setup_times(
        setup(lag_s=3600.0), print_s=600.0, cut_s=300.0, shift_s=28_800.0, shop=SHOP
    )

    assert found.one_run_s == 120 + 600 + 3600 + 180 + 300
    assert (found.handling_s, found.lag_s) == (300.0, 3600.0)
    # the first after 1200 s at the machines, then one every 720 s: 1 + floor(27600 / 720)
    assert found.runs_per_shift == 39


def test_a_combined_device_does_one_thing_at_a_time():
    """The same figures on one machine: a run every 4800 s, the drying too. 28800 / 4800 = 6."""
    found = setup_times(
        setup("both", "both", lag_s=3600.0),
        print_s=600.0,
        cut_s=300.0,
        shift_s=8 * 3600.0,
        shop=SHOP,
    )

    assert found.one_run_s == 4800.0
    assert found.runs_per_shift == 6


def test_a_run_longer_than_the_shift_is_not_done_in_it():
    found = setup_times(setup(), print_s=20_000.0, cut_s=10_000.0, shift_s=28_800.0, shop=SHOP)

    assert found.runs_per_shift == 0


seconds = st.integers(1, 2000).map(float)


@given(seconds, seconds, st.integers(0, 3000).map(float), st.integers(0, 40_000).map(float))
def test_a_pair_is_what_running_it_run_by_run_gives(a_s, b_s, lag_s, shift_s):
    """Every print starts when the printer is free, every cut when film and cutter are."""
    done, printer_free, cutter_free = 0, 0.0, 0.0
    while True:
        printer_free += a_s
        cutter_free = max(cutter_free, printer_free + lag_s) + b_s
        if cutter_free > shift_s:
            break
        done += 1

    assert done == runs_within(shift_s, first_s=a_s + lag_s + b_s, next_s=max(a_s, b_s))


@given(seconds, seconds, seconds, st.integers(2, 30))
def test_equal_runs_take_the_least_makespan_of_johnson(a_s, b_s, spare_s, n):
    """S. M. Johnson, Naval Research Logistics Quarterly 1 (1954) 61-68: of n jobs on two
    machines no order is shorter than max(sum a + least b, least a + sum b), and for equal
    jobs that is a + (n - 1) max(a, b) + b. So n fit into such a shift, and n - 1 into less."""
    bound_s = max(n * a_s + b_s, a_s + n * b_s)
    next_s = max(a_s, b_s)

    assert runs_within(bound_s, first_s=a_s + b_s, next_s=next_s) == n
    shorter = bound_s - min(next_s, spare_s) / 2
    assert runs_within(shorter, first_s=a_s + b_s, next_s=next_s) == n - 1


def test_drying_overnight_delays_a_run_and_costs_a_pair_no_output():
    """What is printed today is cut tomorrow, and yesterday's today. A combined device waits."""
    dry, wet, waiting = (
        setup_times(each, print_s=600.0, cut_s=300.0, shift_s=28_800.0, shop=SHOP)
        for each in (setup(), setup(lag_s=43_200.0), setup("both", "both", lag_s=43_200.0))
    )

    assert wet.one_run_s - dry.one_run_s == 43_200.0
    assert wet.runs_per_shift == dry.runs_per_shift > 0
    assert waiting.runs_per_shift == 0


def test_a_faster_cutter_in_another_setup_is_timed_by_its_own_figures():
    job = shop_with([("cutter", {"name": "swift", "lift_s": 0.0})], [setup(cutter="swift")])

    own, other = times(job).setups

    rings = sum(len(frame.strokes) for frame in CUT.frames)
    assert own.cut_s - other.cut_s == pytest.approx(0.08 * rings)
    assert own.print_s == other.print_s


# what the handmade run needs: film of 600 mm, frames of 400 and 300 mm, discs of 6 mm with
# 5 mm clear at x = 24 and 576, up to 376 mm apart along the feed, contours from x = 65
CANNOT = [
    ("printer", {"width_mm": 599.0}, "takes film up to 599 mm, this is 600 mm wide"),
    ("printer", {"margin_left_mm": 22.0}, "can print from 22 mm to 588 mm across the film, this"),
    ("printer", {"margin_right_mm": 21.5}, "reaches from 21 mm to 579 mm"),
    ("cutter", {"width_mm": 500.0}, "takes film up to 500 mm, this is 600 mm wide"),
    ("cutter", {"margin_left_mm": 66.0}, "can cut from 66 mm to 600 mm across the film, this"),
    ("cutter", {"frame_greatest_mm": 399.0}, "takes frames up to 399 mm, frame 1 is 400 mm long"),
    ("cutter", {"frame_least_mm": 301.0}, "takes frames from 301 mm, frame 2 is 300 mm long"),
    ("cutter", {"roller_lanes_mm": [[576.0, 590.0]]}, "a roller of new runs over marks from 576"),
    ("cutter", {"sensor": {"shape": "square"}}, "reads a square of 6 mm, the marks are a disc of"),
    ("cutter", {"sensor": {"size_mm": 5.0}}, "reads a disc of 5 mm, the marks are a disc of 6 mm"),
    ("cutter", {"sensor": {"clear_mm": 5.5}}, "needs 5.5 mm clear round a mark, these have 5 mm"),
    ("cutter", {"sensor": {"spacing_mm": 375.0}}, "every 375 mm, these stand up to 376 mm apart"),
    ("cutter", {"sensor": {"reach_left_mm": 25.0}}, "finds marks from 25 mm to 600 mm across the"),
]


@pytest.mark.parametrize(("of", "change", "reason"), CANNOT)
def test_a_setup_that_cannot_do_the_run_is_named_with_figures(of, change, reason):
    change = change | {"name": "new"}  # a fresh table: the shop is built from it
    other = setup(**{of: "new"})

    found = times(shop_with([(of, change)], [other]))

    assert [each.name for each in found.setups] == ["pair"]
    ((name, why),) = found.without
    assert name == "other"
    assert why.startswith("new") or why.startswith("a roller of new")
    assert reason in why
    assert "; " not in why


JUST = [
    ("printer", {"width_mm": 600.0}),
    ("printer", {"margin_left_mm": 21.0}),
    ("printer", {"margin_right_mm": 21.0}),
    ("cutter", {"margin_left_mm": 65.0}),
    ("cutter", {"frame_greatest_mm": 400.0}),
    ("cutter", {"frame_least_mm": 300.0}),
    ("cutter", {"roller_lanes_mm": [[579.0, 590.0], [27.0, 100.0]]}),
    ("cutter", {"sensor": {"clear_mm": 4.0}}),
    ("cutter", {"sensor": {"spacing_mm": 376.0}}),
    ("cutter", {"sensor": {"reach_left_mm": 24.0, "reach_right_mm": 24.0}}),
]


@pytest.mark.parametrize(("of", "change"), JUST)
def test_a_setup_that_just_can_is_timed(of, change):
    found = times(shop_with([(of, change | {"name": "new"})], [setup(**{of: "new"})]))

    assert [each.name for each in found.setups] == ["pair", "other"]
    assert found.without == ()


def test_several_reasons_are_all_given_and_a_combined_device_says_each_once():
    both = {
        "name": "new",
        "does": ["print", "cut"],
        "mode": RUN.job.printer.model_dump()["mode"],
        "width_mm": 500.0,
        "frame_greatest_mm": 300.0,
    }
    found = times(shop_with([("cutter", both)], [setup("new", "new")]))

    ((_, why),) = found.without
    assert why == (
        "new takes film up to 500 mm, this is 600 mm wide; "
        "new takes frames up to 300 mm, frame 1 is 400 mm long"
    )


@pytest.mark.parametrize(("margin_mm", "setups"), [(63.0, 2), (63.5, 1)])
def test_bleed_is_printed_too(margin_mm, setups):
    """The leftmost contour stands at 65 mm and has 2 mm of bleed; marks stand farther in."""
    inside = tuple(
        replace(frame, marks=tuple(replace(mark, x_mm=300.0) for mark in frame.marks))
        for frame in RUN.marks.frames
    )
    job = shop_with([("printer", {"name": "new", "margin_left_mm": margin_mm})], [setup("new")])

    found = time_run(job, replace(RUN.marks, frames=inside), CUT, PAGE_WIDTH_MM)

    assert len(found.setups) == setups
