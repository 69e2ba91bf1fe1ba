"""The day as a picture: a row a machine, time to the right; drawn alike on paper and as SVG."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Protocol

from nestplan.figures import count, duration
from nestplan.files.one_line import one_line
from nestplan.files.proof_style import (
    ACCENT,
    BODY_PT,
    CUT,
    FAINT,
    GREY,
    INK,
    PAPER,
    RULE,
    SAFE,
    SMALL_PT,
    TITLE_PT,
    Stroke,
)
from nestplan.files.proof_text import fitted, width_mm
from nestplan.shift.plan_day import ShiftPlan

NAMES_MM = 34.0  # the machines' names, left of the rows
ROW_MM, BAR_MM = 15.0, 9.0
NAME_LEAST_MM = 9.0  # in less no name can be told
WAIT_MM = 1.7  # a line of the drying rack
TICKS_MOST = 13
LATE = Stroke(colour=CUT, width_pt=1.2)
BAR_EDGE = Stroke(colour=INK, width_pt=0.5)
GRID = Stroke(colour=FAINT, width_pt=0.5)
END_OF_SHIFT = Stroke(colour=INK, width_pt=0.8, dash_pt=(4, 2))
NOW = Stroke(colour=ACCENT, width_pt=0.9)
MOUNT = Stroke(colour=GREY, width_pt=0.5, dash_pt=(1.5, 1.2))
DUE = Stroke(colour=CUT, width_pt=0.9)
ROW = Stroke(colour=RULE, width_pt=0.4)

Box = tuple[float, float, float, float]
Point = tuple[float, float]


class Surface(Protocol):
    """What is drawn on: mm from the lower left corner."""

    def text(
        self,
        x_mm: float,
        y_mm: float,
        words: str,
        *,
        size_pt: float = ...,
        bold: bool = ...,
        colour: str = ...,
    ) -> None:
        """A line of words."""

    def line(self, points: Sequence[Point], stroke: Stroke) -> None:
        """A polyline."""

    def box(self, box: Box, fill: str | None, stroke: Stroke | None = None) -> None:
        """A rectangle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Where the rows lie and how long a second is."""

    left_mm: float
    right_mm: float
    top_mm: float
    to_s: int

    def x(self, seconds: float) -> float:
        """Seconds to mm."""
        return self.left_mm + (self.right_mm - self.left_mm) * seconds / self.to_s


def numbers(plan: ShiftPlan) -> list[int]:
    """Each job's number on the picture and the lists: by when it starts, from 1."""
    starts = [(each[0], k) for k, each in enumerate(plan.schedule.start_s)]
    order = [k for _, k in sorted(starts)]
    found = [0] * len(order)
    for place, task in enumerate(order, start=1):
        found[task] = place
    return found


def waits(plan: ShiftPlan) -> list[tuple[int, int, int]]:
    """Prints between two stages: from, until, task; in order."""
    found = []
    for task in range(len(plan.day.tasks)):
        steps, starts = plan.schedule.steps(task), plan.schedule.start_s[task]
        for k in range(1, len(steps)):
            end = starts[k - 1] + steps[k - 1].busy_s
            if starts[k] - end >= 60:
                found.append((end, starts[k], task))
    return sorted(found)


def picture_height_mm(plan: ShiftPlan) -> float:
    """Title, rows, drying rack, time and key."""
    return 22 + ROW_MM * len(_rows(plan)) + _rack_mm(plan) + 18


def draw_day(surface: Surface, plan: ShiftPlan, box: Box) -> None:
    """Draw the day into a box, from its top."""
    left, _, right, top = box
    schedule = plan.schedule
    end_s = max(schedule.worth.end_s, plan.hours.end_s)
    frame = Frame(left_mm=left + NAMES_MM, right_mm=right, top_mm=top - 20, to_s=ceil(end_s * 1.02))
    surface.text(left, top - 5, one_line(f"The day at {plan.shop}"), size_pt=TITLE_PT, bold=True)
    surface.text(left, top - 11, _words(plan), colour=GREY)
    bottom = frame.top_mm - ROW_MM * len(_rows(plan)) - _rack_mm(plan)
    _grid(surface, plan, frame, bottom)
    called = numbers(plan)
    y = frame.top_mm
    for machine in _rows(plan):
        _row(surface, plan, frame, machine, y, called)
        y -= ROW_MM
    _rack(surface, plan, frame, y, called)
    _key(surface, left, bottom - 10)


def _words(plan: ShiftPlan) -> str:
    worth, people = plan.schedule.worth, plan.day.hands
    done = sum(plan.schedule.end_s(k) <= plan.hours.end_s for k in range(len(plan.day.tasks)))
    day = f"{plan.hours.day.isoformat()}, " if plan.hours.day else ""
    late = f"{count(worth.late, 'job')} late" if worth.late else "none late"
    staff = f"; {count(people, 'person', 'people')}" if people else ""
    return (
        f"{day}{plan.hours.words()}{staff}. {done} of {count(len(plan.day.tasks), 'job')} leave by "
        f"the end of the shift, {late}; the last is done at {plan.hours.clock(worth.end_s)}. "
        f"{bound_words(plan)}"
    )


def bound_words(plan: ShiftPlan) -> str:
    """How far the day may be from the best possible, in words."""
    worth, bound, hours = plan.schedule.worth, plan.schedule.bound, plan.hours
    if plan.schedule.proven >= 3:
        return "No order is better: proven."
    if plan.schedule.proven >= 2:
        gap_s = worth.end_s - bound.end_s
        return (
            f"No order ends before {hours.clock(bound.end_s)}, {duration(gap_s)} earlier, with as "
            "little lateness."
        )
    if plan.schedule.proven == 1:
        return f"No order has fewer late; lateness in all is at least {duration(bound.late_s)}."
    if bound.late:
        return f"At least {count(bound.late, 'job')} must be late."
    return "Whether fewer could be late is not proven."


def _rows(plan: ShiftPlan) -> list[int]:
    """Machines with something to do."""
    return [machine for machine in range(len(plan.day.places)) if plan.on(machine)]


def _rack_mm(plan: ShiftPlan) -> float:
    lines = _stacked(waits(plan))
    return 6 + WAIT_MM * (1 + max(line for *_, line in lines)) if lines else 0.0


def _stacked(spans: list[tuple[int, int, int]]) -> list[tuple[int, int, int, int]]:
    """Each span on the first line where it does not touch another."""
    free: list[int] = []
    found = []
    for start, end, task in spans:
        line = next((k for k, until in enumerate(free) if until <= start), len(free))
        if line == len(free):
            free.append(0)
        free[line] = end + 60
        found.append((start, end, task, line))
    return found


def _grid(surface: Surface, plan: ShiftPlan, frame: Frame, bottom: float) -> None:
    """Hours, the end of the shift, and now."""
    step_s = next(
        step
        for step in (900, 1800, 3600, 7200, 14_400, 21_600, 43_200, 86_400, 10**9)
        if frame.to_s / step <= TICKS_MOST
    )
    first = -(plan.hours.begins.hour * 3600 + plan.hours.begins.minute * 60) % step_s
    for seconds in range(first, frame.to_s + 1, step_s):
        x = frame.x(seconds)
        surface.line([(x, bottom), (x, frame.top_mm)], GRID)
        words = plan.hours.clock(seconds)
        wide = width_mm(words, SMALL_PT, False)
        surface.text(x - wide / 2, bottom - 3.4, words, size_pt=SMALL_PT, colour=GREY)
    x = frame.x(plan.hours.end_s)
    surface.line([(x, bottom), (x, frame.top_mm + 2)], END_OF_SHIFT)
    words = f"shift ends {plan.hours.clock(plan.hours.end_s)}"
    wide = width_mm(words, SMALL_PT, False)
    surface.text(x - wide - 0.8, frame.top_mm + 0.9, words, size_pt=SMALL_PT)
    if plan.day.now_s:
        x = frame.x(plan.day.now_s)
        surface.line([(x, bottom), (x, frame.top_mm + 2)], NOW)
        words = f"now {plan.hours.clock(plan.day.now_s)}"
        surface.text(x + 0.8, frame.top_mm + 0.9, words, size_pt=SMALL_PT, colour=ACCENT)


def _row(
    surface: Surface, plan: ShiftPlan, frame: Frame, machine: int, top: float, called: list[int]
) -> None:
    """A machine's stays: hands dark, work light, a red edge where the job is late."""
    day, schedule = plan.day, plan.schedule
    surface.line([(frame.left_mm - NAMES_MM, top), (frame.right_mm, top)], ROW)
    name = fitted(one_line(day.places[machine].name), BODY_PT, NAMES_MM - 3, bold=True)
    surface.text(frame.left_mm - NAMES_MM, top - 7, name, bold=True)
    busy_s = sum(schedule.steps(task)[k].busy_s for _, task, k in plan.on(machine))
    share = f"{100 * busy_s / max(plan.hours.end_s, 1):.0f} % of the shift"
    surface.text(frame.left_mm - NAMES_MM, top - 10.4, share, size_pt=SMALL_PT, colour=GREY)
    low, high = top - ROW_MM + 2.2, top - ROW_MM + 2.2 + BAR_MM
    here = [each for each in plan.mountings() if each.machine == machine]
    ends = [*(each.end_s for each in here), frame.to_s]
    for each, after in zip(here, ends[1:], strict=True):
        box = (frame.x(each.start_s), low, frame.x(each.end_s), high)
        surface.box(box, PAPER, MOUNT)
        _film(surface, frame, each.end_s, after, high, each.film)
    stays = sorted(plan.on(machine))
    begin = sorted([each.start_s for each in here] + [start for start, *_ in stays])
    for start, task, k in stays:
        step = schedule.steps(task)[k]
        late = day.tasks[task].due_s is not None and schedule.end_s(task) > (
            day.tasks[task].due_s or 0
        )
        x0, x1 = frame.x(start), frame.x(start + step.busy_s)
        surface.box((x0, low, x1, high), SAFE)
        surface.box((x0, low, frame.x(start + step.hands_s), low + 2.0), INK)
        if step.again_s is not None:
            again = start + step.again_s[0]
            surface.box((frame.x(again), low, frame.x(again + step.again_s[1]), low + 2.0), INK)
        surface.box((x0, low, x1, high), None, LATE if late else BAR_EDGE)
        free_s = next((each for each in begin if each >= start + step.busy_s), frame.to_s)
        name = one_line(day.tasks[task].name)
        _label(surface, str(called[task]), name, (x0, x1, frame.x(free_s)), high)
    _dues(surface, plan, frame, machine, high, called)


def _dues(
    surface: Surface, plan: ShiftPlan, frame: Frame, machine: int, high: float, called: list[int]
) -> None:
    """When the jobs that end here are due, those of one time together."""
    due: dict[int, list[int]] = {}
    for _, task, k in plan.on(machine):
        due_s = plan.day.tasks[task].due_s
        if due_s is not None and k + 1 == len(plan.schedule.steps(task)) and due_s <= frame.to_s:
            due.setdefault(due_s, []).append(called[task])
    for due_s, some in sorted(due.items()):
        x = frame.x(due_s)
        words = f"{', '.join(map(str, sorted(some)))} due"
        surface.line([(x, high), (x, high + 2.2)], DUE)
        wide = width_mm(words, SMALL_PT, False)
        left = x + 0.5 if x + 0.5 + wide <= frame.right_mm else x - 0.5 - wide
        surface.text(left, high + 0.6, words, size_pt=SMALL_PT, colour=CUT)


def _film(surface: Surface, frame: Frame, at_s: int, until_s: int, high: float, film: str) -> None:
    words = fitted(one_line(film), SMALL_PT, frame.x(until_s) - frame.x(at_s) - 1)
    if len(words) < 4 and words != film:
        return
    surface.text(frame.x(at_s), high + 0.5, words, size_pt=SMALL_PT, colour=GREY)


def _label(
    surface: Surface, number: str, name: str, x: tuple[float, float, float], high: float
) -> None:
    """Number and name in the bar, or behind it where the film is free. x: bar, end of the free."""
    room, behind = x[1] - x[0] - 1.2, x[2] - x[1] - 1.6
    wide = width_mm(number, BODY_PT, True)
    if wide <= room:
        surface.text(x[0] + 0.8, high - 3.2, number, bold=True)
    elif wide <= behind:
        surface.text(x[1] + 0.8, high - 3.2, number, bold=True)
    inside = width_mm(name, SMALL_PT) <= room or behind < max(room, NAME_LEAST_MM)
    if max(room, behind) < NAME_LEAST_MM:
        return
    words = fitted(name, SMALL_PT, room if inside else behind)
    surface.text((x[0] if inside else x[1]) + 0.8, high - 6.2, words, size_pt=SMALL_PT)


def _rack(surface: Surface, plan: ShiftPlan, frame: Frame, top: float, called: list[int]) -> None:
    """Prints that wait for their next stage, a line each."""
    lines = _stacked(waits(plan))
    if not lines:
        return
    surface.line([(frame.left_mm - NAMES_MM, top), (frame.right_mm, top)], ROW)
    surface.text(frame.left_mm - NAMES_MM, top - 4.4, "between stages", colour=GREY)
    for start, end, task, line in lines:
        y = top - 3 - WAIT_MM * line
        surface.line([(frame.x(start), y), (frame.x(end), y)], Stroke(colour=GREY, width_pt=0.9))
        number = str(called[task])
        surface.box(
            (
                frame.x(start) + 0.6,
                y - 0.8,
                frame.x(start) + 1.4 + width_mm(number, SMALL_PT, False),
                y + 0.8,
            ),
            PAPER,
        )
        surface.text(frame.x(start) + 1.0, y - 0.75, number, size_pt=SMALL_PT, colour=GREY)


def _key(surface: Surface, left: float, y: float) -> None:
    """What the boxes mean."""
    x = left + NAMES_MM
    for fill, stroke, words in (
        (INK, None, "hands on"),
        (SAFE, BAR_EDGE, "the machine works or waits"),
        (PAPER, MOUNT, "a film is mounted"),
        (SAFE, LATE, "of a job that is late"),
    ):
        surface.box((x, y, x + 5, y + 2.4), fill, stroke)
        surface.text(x + 6.2, y + 0.4, words, size_pt=SMALL_PT, colour=GREY)
        x += 11 + width_mm(words, SMALL_PT, False)
