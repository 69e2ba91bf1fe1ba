"""Plans that aim at film, time or money: weighed against narrower prints and finer modes."""

import json
from dataclasses import replace

import pytest

from nestplan import plan
from nestplan.artwork import load_artwork
from nestplan.check import check_folder
from nestplan.faults import Fault, Faults
from nestplan.files import run_files, trade_rows, write_together
from nestplan.job import read_job
from nestplan.nest import Budget
from nestplan.plan import plan_at, plan_job
from tests.small_job import SHOP_TOML, changed, write_small_job

STEPS = 60
FINE = """
[[machine.mode]]
name = "banner"
resolution_dpi = 360
passes = 4
swath_mm = 54
carriage_mm_s = 1200
turnaround_s = 0.4
[[machine.mode]]
name = "map"
resolution_dpi = 1200
passes = 12
swath_mm = 54
carriage_mm_s = 700
turnaround_s = 0.4

[[machine]]
name = "cutter"
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    """Few copies on a wide roll: the film's far side stays empty. Three print modes."""
    path = write_small_job(tmp_path_factory.mktemp("aim") / "job")
    changed(path.parent / "shop.toml", '\n[[machine]]\nname = "cutter"\n', FINE)
    changed(path.parent / "shop.toml", "width_mm = 600", "width_mm = 1000")
    return path


@pytest.fixture(scope="module")
def once():
    """No width is searched or planned twice for these tests: modes and aims do not change it."""
    nests, plans = {}, {}
    real_nest, real_plan = plan.short_nest, plan.plan_at

    def planned(job, *others, **how):
        key = job.shop_path, job.print_width_mm
        if key not in plans:
            plans[key] = real_plan(job, *others, **how)
        return plans[key]

    def nested(job, *others):
        key = job.shop_path, job.print_width_mm
        if key not in nests:
            nests[key] = real_nest(job, *others)
        return nests[key]

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(plan, "short_nest", nested)
        patched.setattr(plan, "plan_at", planned)
        yield lambda job, artwork, budget: plan.plan_run(job, artwork, budget)


@pytest.fixture(scope="module")
def weigh_up(job, once):
    """A plan with an aim; keys: of the job."""

    def weighed(aim, **keys):
        asked = replace(read_job(job, aim=aim), **keys)
        return once(asked, load_artwork(asked), Budget(steps=STEPS, seed=1))

    return weighed


@pytest.fixture(scope="module")
def film(job):
    return plan_job(job, steps=STEPS)


@pytest.fixture(scope="module")
def quick(job, once):
    return plan_job(job, steps=STEPS, aim="time")


def test_without_an_aim_nothing_is_weighed(film):
    assert film.trade is None
    assert "aim" not in json.loads(run_files(film)["summary.json"])


@pytest.mark.parametrize("aim", ["film", "time", "money"])
def test_an_aimed_plan_is_never_worse_in_its_aim(film, weigh_up, aim):
    aimed = weigh_up(aim)

    def taken(run):
        return {
            "film": run.marks.length_used_mm,
            "time": run.times.setups[0].one_run_s,
            "money": run.estimate.total,
        }[aim]

    assert taken(aimed) <= taken(film)
    for one in aimed.trade.options:
        assert one.taken("film") >= aimed.trade.least.film_mm
        assert one.taken("time") >= aimed.trade.least.run_s
        assert one.taken("money") >= aimed.trade.least.total
        assert one.taken(aim) >= taken(aimed)


def test_the_quickest_print_is_narrower_than_the_film(film, quick):
    assert quick.page_width_mm < film.page_width_mm
    assert quick.times.print_s < film.times.print_s
    edge_mm = quick.page_x0_mm + quick.page_width_mm
    assert all(m.x_mm < edge_mm for frame in quick.marks.frames for m in frame.marks)


def test_every_row_can_be_planned_and_gives_the_figures_said(job, quick):
    for one in quick.trade.options:
        keys = f'print_width_mm = {one.width_mm}\nmode = "{one.mode}"\ngutter_mm'
        text = job.read_text()
        other = job.with_name("row.toml")
        other.write_text(text.replace("gutter_mm", keys, 1))
        row = read_job(other)
        run = plan_at(row, load_artwork(row), Budget(steps=STEPS, seed=1))

        assert run.marks.length_used_mm == one.film_mm
        assert run.times.setups[0].one_run_s == one.run_s
        assert run.estimate.total == one.total
        assert len(run.marks.frames) == one.frames


def test_the_files_say_what_was_weighed_and_the_check_finds_nothing(tmp_path, quick):
    files = run_files(quick)
    write_together(tmp_path, files)
    said = json.loads(files["summary.json"])["aim"]
    findings = check_folder(tmp_path)

    assert findings.found == ()
    assert said["least"] == "time"
    assert len(said["plans"]) == len(quick.trade.options) == len(trade_rows(quick.trade, "EUR")) - 1
    assert said["plans"][said["chosen"] - 1]["one_run_s"] == pytest.approx(
        quick.times.setups[0].one_run_s
    )


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda aim: aim["plans"][0].update(length_used_mm=1.0), "the bound"),
        (lambda aim: aim.update(chosen=9), "aim.chosen"),
        (lambda aim: aim["plans"][aim["chosen"] - 1].update(total="1.00"), "total"),
        (lambda aim: aim["plans"].append(aim["plans"][0] | {"one_run_s": 1e6}), "beaten"),
    ],
)
def test_the_check_names_what_is_wrong_with_the_plans_weighed(tmp_path, quick, change, what):
    files = run_files(quick)
    said = json.loads(files["summary.json"])
    change(said["aim"])
    write_together(tmp_path, files | {"summary.json": json.dumps(said).encode()})
    told = " ".join(f"{f.where} {f.found} {f.meant}" for f in check_folder(tmp_path).found)

    assert what in told


def test_a_least_resolution_leaves_the_mode_open(job, weigh_up):
    def modes(keys):
        other = job.with_name("modes.toml")
        other.write_text(job.read_text().replace("gutter_mm", f"{keys}\ngutter_mm", 1))
        return [mode.name for mode in read_job(other).modes]

    assert modes("") == ["sign"]
    assert modes('mode = "map"') == modes("resolution_least_dpi = 1000") == ["map"]
    assert modes("resolution_least_dpi = 300") == ["sign", "banner", "map"]
    quickest = weigh_up("time", modes=tuple(read_job(job).printer.mode))
    assert quickest.times.print_mode == "banner"
    assert {one.mode for one in quickest.trade.options} == {"banner", "sign", "map"}
    shortest = weigh_up("film", modes=tuple(read_job(job).printer.mode))
    assert shortest.times.print_mode == "sign"


@pytest.mark.parametrize(
    ("keys", "what", "code"),
    [
        ('mode = "mop"', 'has no print mode "mop"', 2),
        ("resolution_least_dpi = 2400", "2400 are asked for", 3),
        ('mode = "map"\nresolution_least_dpi = 300', "stand together", 2),
        ('aim = "tine"', "aim", 2),
        ("print_width_mm = 40", "room for", 3),
    ],
)
def test_wishes_that_cannot_be_are_named(job, keys, what, code):
    other = job.with_name("wrong.toml")
    other.write_text(job.read_text().replace("gutter_mm", f"{keys}\ngutter_mm", 1))
    with pytest.raises((Fault, Faults)) as found:
        plan_job(other, steps=STEPS)

    assert what in str(found.value)
    assert found.value.code == code


def test_on_another_setup_a_named_mode_stands_for_one_as_fine(job):
    shop = job.parent / "shop.toml"
    other = job.with_name("other.toml")
    second = SHOP_TOML[SHOP_TOML.index('[[machine]]\nname = "printer"') :]
    second = second[: second.index('[[machine]]\nname = "cutter"')]
    second = second.replace('"printer"', '"old printer"').replace('"sign"', '"flat"')
    setup = (
        '[[setup]]\nname = "old pair"\nstages = [{ machine = "old printer" }, '
        '{ machine = "cutter" }]\n\n[cost]'
    )
    (job.parent / "two.toml").write_text(shop.read_text().replace("[cost]", f"{second}{setup}"))
    text = job.read_text().replace("shop.toml", "two.toml")
    other.write_text(text.replace("gutter_mm", 'mode = "sign"\ngutter_mm', 1))
    fine = job.with_name("fine.toml")
    fine.write_text(text.replace("gutter_mm", 'mode = "map"\ngutter_mm', 1))

    assert read_job(other, setup="old pair").mode.name == "flat"
    with pytest.raises(Fault, match="1200 are asked for"):
        read_job(fine, setup="old pair")
    assert [name for name, _ in plan_job(fine, steps=STEPS).times.without] == ["old pair"]
