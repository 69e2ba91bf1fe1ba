"""From planned jobs to a day in order: hours, routes, what must be said, a day that is running."""

from dataclasses import replace
from datetime import date, time
from pathlib import Path
from types import SimpleNamespace

import icalendar
import numpy as np
import pytest

from nestplan.clock import SetupTimes
from nestplan.faults import Fault
from nestplan.shift import Day, Place, Route, Step, Task, shift_files
from nestplan.shift.hours import Hours, day_of
from nestplan.shift.plan_day import plan_day
from nestplan.shift.shift_json import SHIFT, read_running, running_tasks
from nestplan.shift.tasks import Planned, Way, tasks_of
from tests.shift.days import five_machines, in_a_row

HOURS = Hours(day=date(2026, 6, 12), begins=time(8), hours=8.0)
QUICK = {"evaluations": 500, "effort": 0.5, "shop": "shop.toml", "version": "1"}


def machine(name, *does):
    return SimpleNamespace(name=name, does=list(does), roll_change_s=0.0, loaded=None)


def stage(name, does, hands_s=0.0, lag_s=0.0):
    return SimpleNamespace(machine=name, does=does, handling_s=hands_s, lag_s=lag_s)


SHOP = SimpleNamespace(
    machine=[
        machine("printer", "print"),
        machine("laminator", "laminate"),
        machine("cutter", "cut"),
        machine("device", "print", "cut"),
    ],
    setup=[
        SimpleNamespace(
            name="pair",
            load_again_s=0.0,
            stages=[
                stage("printer", "print", 100),
                stage("laminator", "laminate", 50, 3600),
                stage("cutter", "cut", 200, 600),
            ],
        ),
        SimpleNamespace(
            name="device",
            load_again_s=90.0,
            stages=[
                stage("device", "print", 100),
                stage("laminator", "laminate", 50, 3600),
                stage("device", "cut", 30, 600),
            ],
        ),
    ],
)


def planned(name="job", *, due=None, laminate=None, setups=("pair", "device"), without=()):
    order = SimpleNamespace(name=name, due=due, laminate=laminate)
    roll = SimpleNamespace(name="gloss")
    job = SimpleNamespace(order=order, roll=roll, path=Path("job.toml"), laminate=laminate)
    ways = [
        Way(
            times=SetupTimes(
                name=setup,
                print_s=1000.0,
                handling_s=0.0,
                lag_s=0.0,
                cut_s=400.2,
                one_run_s=0.0,
                runs_per_shift=1,
                laminate_s=70.0,
            ),
            film_mm=1000.0,
        )
        for setup in setups
    ]
    return Planned(job=job, ways=tuple(ways), without=tuple(without))


def routes(job):
    return {route.setup: route.steps for route in tasks_of([job], SHOP, HOURS)[0].routes}


def test_a_pair_takes_two_machines_and_the_wait_is_on_none():
    printing, cutting = routes(planned())["pair"]

    assert (printing.machine, printing.hands_s, printing.busy_s, printing.film) == (
        0,
        100,
        1100,
        "gloss",
    )
    assert (cutting.machine, cutting.wait_s, cutting.busy_s) == (2, 600, 601)


def test_a_combined_device_is_taken_from_the_first_hand_to_the_last():
    """100 + 1000 printing, 600 drying, 30 of hands, 401 cutting."""
    (only,) = routes(planned())["device"]

    assert only.busy_s == 100 + 1000 + 600 + 30 + 401
    assert only.again_s == (1700, 30)


def test_a_laminated_print_leaves_the_device_and_is_loaded_again():
    printing, laminating, cutting = routes(planned(laminate="clear"))["device"]

    assert [step.machine for step in (printing, laminating, cutting)] == [3, 1, 3]
    assert (laminating.wait_s, laminating.busy_s, laminating.film) == (3600, 120, "clear")
    assert cutting.hands_s == 30 + 90


def test_hours_as_people_write_them():
    assert HOURS.seconds("09:30", "x") == 5400
    assert HOURS.seconds("2026-06-13 08:00", "x") == 86_400
    assert HOURS.clock(6 * 3600 + 29) == "14:00"
    assert HOURS.clock(17 * 3600) == "01:00 +1"
    with pytest.raises(Fault, match="is not a date"):
        day_of("12.6.2026")
    with pytest.raises(Fault, match="has a date"):
        replace(HOURS, day=None).seconds("2026-06-13 08:00", "x")


@pytest.mark.parametrize(
    ("job", "hours", "what"),
    [
        (planned(due="07:30"), HOURS, "due is 07:30, and the shift begins at 08:00"),
        (
            planned(setups=(), without=[("pair", "too wide")]),
            HOURS,
            "no setup of the shop can do job",
        ),
        (planned(laminate="clear"), replace(HOURS, hours=1.0), "longer than the shift"),
    ],
)
def test_a_job_that_cannot_be_done_is_named(job, hours, what):
    with pytest.raises(Fault, match=what):
        tasks_of([job], SHOP, hours)


def test_an_empty_day_is_refused():
    with pytest.raises(Fault, match="no job is to be done"):
        plan_day(Day(places=(Place(name="a"),), tasks=()), HOURS, **QUICK)


def test_a_job_that_cannot_be_in_time_is_named_with_the_earliest():
    day = in_a_row([(3600, 600), (1800, 600)], due=(3600, None))
    plan = plan_day(day, HOURS, **QUICK)

    (note,) = plan.notes
    assert (note.level, note.where) == ("stop", "job 1")
    assert "the earliest it can be done, before all else, is 09:30" in note.text


def test_a_rush_job_does_the_least_harm():
    """Printing goes on since 08:00. The rush job goes before the one that has all day."""
    day = in_a_row([(3600, 3600, 3600), (600, 600, 600)], due=(None, 10_000, None))
    first = plan_day(day, HOURS, **QUICK)
    data = shift_files(first)[SHIFT]
    now_s = 1800
    running = read_of(data)
    before, promised = running_tasks(running, now_s)
    rush = Task(
        name="rush",
        routes=(
            Route(
                setup="row",
                steps=(
                    Step(machine=0, does="print", work_s=900),
                    Step(machine=1, does="cut", work_s=300),
                ),
            ),
        ),
        due_s=9_000,
    )
    later = plan_day(
        Day(places=running.places(), tasks=(*before, rush), now_s=now_s),
        HOURS,
        promised_s=[*promised, None],
        **QUICK,
    )
    ends = [later.schedule.end_s(k) for k in range(4)]

    begun = [k for k in range(3) if first.schedule.start_s[k][0] < now_s]
    assert len(begun) == 1
    assert later.schedule.start_s[begun[0]][0] == first.schedule.start_s[begun[0]][0]
    assert ends[3] <= 9_000
    assert ends[1] <= 10_000
    assert sum("later than planned before" in note.text for note in later.notes) >= 1


def read_of(data):
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / SHIFT
        path.write_bytes(data)
        return read_running(path)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"schema": 1}', "\x00", '{"schema": 9}'])
def test_a_running_day_that_is_none_is_refused(tmp_path, text):
    (tmp_path / SHIFT).write_text(text)

    with pytest.raises(Fault, match="not a shift"):
        read_running(tmp_path)


def test_the_files_say_the_same_and_are_the_same_bytes():
    plan = plan_day(five_machines(6, 2, due=True, hands=2), HOURS, **QUICK)
    files = shift_files(plan)

    assert files == shift_files(plan)
    assert files["shift.pdf"].startswith(b"%PDF")
    events = icalendar.Calendar.from_ical(files["shift.ics"]).walk("VEVENT")
    stays = sum(len(starts) for starts in plan.schedule.start_s)
    assert len(events) == stays
    first = min(event.decoded("dtstart") for event in events)
    assert first == HOURS.moment(min(min(starts) for starts in plan.schedule.start_s))
    ends = max(event.decoded("dtend") for event in events)
    assert ends == HOURS.moment(plan.schedule.worth.end_s)


def test_mounting_ends_when_the_film_is_needed():
    plan = plan_day(five_machines(9, 4, hands=0), HOURS, **QUICK)
    found = plan.mountings()

    assert len(found) == plan.schedule.worth.changes
    for each in found:
        assert each.start_s >= 0
        for start, task, k in plan.on(each.machine):
            end = start + plan.schedule.steps(task)[k].busy_s
            assert end <= each.start_s or start >= each.end_s


def test_every_bar_of_the_picture_lies_on_the_page():
    from lxml import etree

    plan = plan_day(five_machines(8, 7, due=True), HOURS, **QUICK)
    root = etree.fromstring(shift_files(plan)["shift.svg"])
    wide, tall = (float(value) for value in root.get("viewBox").split()[2:])
    boxes = [
        [float(each.get(key)) for key in ("x", "y", "width", "height")]
        for each in root.iter("{*}rect")
    ]
    corners = np.array([[x, y, x + w, y + h] for x, y, w, h in boxes])

    assert (corners[:, :2] >= -0.01).all()
    assert (corners[:, 2] <= wide + 0.01).all()
    assert (corners[:, 3] <= tall + 0.01).all()
