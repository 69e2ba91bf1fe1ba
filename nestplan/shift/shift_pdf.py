"""shift.pdf: the day as a picture, every job in a table, and a list to pin up at each machine."""

import io
from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from nestplan.figures import count, duration
from nestplan.files.fonts import BODY, register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_style import (
    BODY_PT,
    GREY,
    HEAD_LINE,
    INK,
    LANDSCAPE_MM,
    MARGIN_BOTTOM_MM,
    MARGIN_TOP_MM,
    MARGIN_X_MM,
    PORTRAIT_MM,
    PT_PER_MM,
    SMALL_PT,
    TITLE_PT,
    Stroke,
)
from nestplan.files.proof_table import Column, Table
from nestplan.files.proof_text import wrapped
from nestplan.files.proof_words import BLADES, CARRIAGE, FUMES, LAST_WORD, SHARE_IT
from nestplan.shift.day import Step
from nestplan.shift.picture import draw_day, numbers, picture_height_mm
from nestplan.shift.plan_day import ShiftPlan

JOBS_PER_PAGE = 42
STAYS_PER_PAGE = 24
STAY_MM = 8.2
JOB_MM, NOTE_MM, GAP_MM = 5.4, 2.7, 6.0
TICK = Stroke(colour=INK, width_pt=0.5)
CAUTIONS = f"{BLADES} {CARRIAGE} {FUMES} Heavy rolls: {SHARE_IT} {LAST_WORD}"


def shift_pdf(plan: ShiftPlan) -> bytes:
    """A4 pages; the same plan gives the same bytes."""
    register_fonts()
    held = io.BytesIO()
    canvas = Canvas(held, initialFontName=BODY, invariant=1)  # type: ignore[arg-type] # stub says float
    canvas.setTitle(one_line(f"The day at {plan.shop}"))
    canvas.setProducer(f"nestplan {plan.version}")
    if not _picture_page(canvas, plan):
        _job_pages(canvas, plan)
    for machine in range(len(plan.day.places)):
        if plan.on(machine):
            _machine_pages(canvas, plan, machine)
    canvas.save()
    return held.getvalue()


def _sheet(canvas: Canvas, wide_mm: float, tall_mm: float) -> Sheet:
    canvas.setPageSize((wide_mm * PT_PER_MM, tall_mm * PT_PER_MM))
    return Sheet(canvas=canvas, width_mm=wide_mm, height_mm=tall_mm)


def _picture_page(canvas: Canvas, plan: ShiftPlan) -> bool:
    """As tall as the day needs, A4 across at least; whether the jobs find room on it too."""
    wide, tall = LANDSCAPE_MM
    tall = max(tall, picture_height_mm(plan) + MARGIN_TOP_MM + MARGIN_BOTTOM_MM + 24)
    sheet = _sheet(canvas, wide, tall)
    box = (MARGIN_X_MM, MARGIN_BOTTOM_MM, wide - MARGIN_X_MM, tall - MARGIN_TOP_MM)
    draw_day(sheet, plan, box)
    y = tall - MARGIN_TOP_MM - picture_height_mm(plan) - 4
    jobs = _jobs(plan)
    notes = [
        line
        for note in plan.notes[:8]
        for line in wrapped(f"{note.level}: {note.where}: {note.text}", SMALL_PT, wide - 28)[:2]
    ]
    room = y - MARGIN_BOTTOM_MM - NOTE_MM * len(notes) - GAP_MM
    table, width = _jobs_table(jobs), wide - 2 * MARGIN_X_MM
    fits = table.height_mm(width) <= room
    if fits:
        table.draw(sheet, MARGIN_X_MM, y, width)
        y -= table.height_mm(width) + GAP_MM
    for line in notes:
        sheet.text(MARGIN_X_MM, y, line, size_pt=SMALL_PT)
        y -= NOTE_MM
    _foot(sheet, plan)
    canvas.showPage()
    return fits


def _foot(sheet: Sheet, plan: ShiftPlan) -> None:
    words = f"nestplan {plan.version}, seed {plan.seed}"
    sheet.text(MARGIN_X_MM, MARGIN_BOTTOM_MM - 6, words, size_pt=SMALL_PT, colour=GREY)


def _jobs(plan: ShiftPlan) -> list[tuple[str, ...]]:
    """A row a job: number, name, setup, when it begins, is done and is due, what is to spare."""
    called, day, schedule, hours = numbers(plan), plan.day, plan.schedule, plan.hours
    rows: list[tuple[str, ...]] = []
    for task in sorted(range(len(day.tasks)), key=lambda k: called[k]):
        due_s, end_s = day.tasks[task].due_s, schedule.end_s(task)
        if due_s is None:
            spare = ""
        else:
            spare = f"{duration(abs(due_s - end_s))} {'late' if end_s > due_s else 'to spare'}"
        rows.append(
            (
                str(called[task]),
                day.tasks[task].name,
                day.tasks[task].routes[schedule.route[task]].setup,
                hours.clock(schedule.start_s[task][0]),
                hours.clock(end_s),
                "" if due_s is None else hours.clock(due_s),
                spare,
            )
        )
    return rows


def _jobs_table(rows: Sequence[tuple[str, ...]], whole: int | None = None) -> Table:
    columns = (
        Column(align="right"),
        Column(name="job", stretch=True),
        Column(name="setup"),
        Column(name="begins", align="right"),
        Column(name="done", align="right"),
        Column(name="due", align="right"),
        Column(name="", align="right"),
    )
    title = count(len(rows) if whole is None else whole, "job")
    return Table(title=title, columns=columns, rows=tuple(rows), row_mm=JOB_MM)


def _job_pages(canvas: Canvas, plan: ShiftPlan) -> None:
    rows = _jobs(plan)
    for at in range(0, len(rows), JOBS_PER_PAGE):
        wide, tall = PORTRAIT_MM
        sheet = _sheet(canvas, wide, tall)
        _head(sheet, "Jobs of the day", plan.hours.words())
        table = _jobs_table(rows[at : at + JOBS_PER_PAGE], len(rows))
        table.draw(sheet, MARGIN_X_MM, tall - MARGIN_TOP_MM - 16, wide - 2 * MARGIN_X_MM)
        _foot(sheet, plan)
        canvas.showPage()


def _head(sheet: Sheet, title: str, under: str) -> None:
    top = sheet.height_mm - MARGIN_TOP_MM - 5
    sheet.text(MARGIN_X_MM, top, title, size_pt=TITLE_PT, bold=True)
    sheet.text(MARGIN_X_MM, top - 5.5, under, colour=GREY)
    line_mm = top - 8.5
    sheet.line([(MARGIN_X_MM, line_mm), (sheet.width_mm - MARGIN_X_MM, line_mm)], HEAD_LINE)


def _machine_pages(canvas: Canvas, plan: ShiftPlan, machine: int) -> None:
    stays = plan.on(machine)
    for at in range(0, len(stays), STAYS_PER_PAGE):
        wide, tall = PORTRAIT_MM
        sheet = _sheet(canvas, wide, tall)
        mounted = plan.day.places[machine].mounted
        on_it = f"; {mounted} is on it at first" if mounted else ""
        day = f"{plan.hours.day.isoformat()}, " if plan.hours.day else ""
        _head(sheet, one_line(plan.day.places[machine].name), f"{day}{plan.hours.words()}{on_it}")
        _stays(sheet, plan, machine, stays[at : at + STAYS_PER_PAGE])
        y = MARGIN_BOTTOM_MM + 10
        for line in wrapped(CAUTIONS, SMALL_PT, wide - 2 * MARGIN_X_MM):
            sheet.text(MARGIN_X_MM, y, line, size_pt=SMALL_PT, colour=GREY)
            y -= 2.7
        _foot(sheet, plan)
        canvas.showPage()


def _stays(
    sheet: Sheet, plan: ShiftPlan, machine: int, stays: Sequence[tuple[int, int, int]]
) -> None:
    """A line a stay: when, which job, what for, how long hands are needed, where it goes next."""
    called, hours = numbers(plan), plan.hours
    mounted = {each.end_s: each for each in plan.mountings() if each.machine == machine}
    right = sheet.width_mm - MARGIN_X_MM
    columns = (MARGIN_X_MM, MARGIN_X_MM + 15, MARGIN_X_MM + 34, MARGIN_X_MM + 44, right - 62)
    y = sheet.height_mm - MARGIN_TOP_MM - 18
    for x, words in zip(columns, ("", "begins, ends", "", "job", "hands and next"), strict=True):
        sheet.text(x, y, words, size_pt=SMALL_PT, colour=GREY)
    for start, task, k in stays:
        y -= STAY_MM
        step = plan.schedule.steps(task)[k]
        sheet.box((columns[0] + 2, y - 0.6, columns[0] + 6, y + 3.4), None, TICK)
        sheet.text(columns[1], y, hours.clock(start), size_pt=BODY_PT + 2, bold=True)
        sheet.text(columns[1], y - 3.1, hours.clock(start + step.busy_s), colour=GREY)
        sheet.text(columns[2], y, str(called[task]), size_pt=BODY_PT + 2, bold=True)
        name = wrapped(one_line(plan.day.tasks[task].name), BODY_PT, columns[4] - columns[3] - 3)
        sheet.text(columns[3], y, name[0], bold=True)
        change = mounted.get(start)
        film = f"mount {change.film} from {hours.clock(change.start_s)}" if change else step.film
        sheet.text(columns[3], y - 3.1, one_line(f"{step.does}{': ' if film else ''}{film}"))
        sheet.text(columns[4], y, _hands(step))
        sheet.text(columns[4], y - 3.1, _next(plan, task, k), colour=GREY)


def _hands(step: Step) -> str:
    words = f"{duration(step.hands_s)} of hands" if step.hands_s else "no hands"
    if step.again_s is not None:
        words += f", {duration(step.again_s[1])} after {duration(step.again_s[0])}"
    return words


def _next(plan: ShiftPlan, task: int, k: int) -> str:
    steps, starts = plan.schedule.steps(task), plan.schedule.start_s[task]
    if k + 1 == len(steps):
        return "then done"
    place = plan.day.places[steps[k + 1].machine].name
    return one_line(f"then {place} at {plan.hours.clock(starts[k + 1])}")
