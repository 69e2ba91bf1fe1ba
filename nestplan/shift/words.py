"""What the command says: each job, then the machines, then notes."""

from pathlib import Path

from nestplan.figures import count, duration
from nestplan.shift.picture import bound_words, numbers
from nestplan.shift.plan_day import ShiftPlan


def shift_words(plan: ShiftPlan, folder: Path, files: int) -> str:
    """The day for a person at a terminal."""
    day, schedule, hours = plan.day, plan.schedule, plan.hours
    worth = schedule.worth
    late = f"{count(worth.late, 'job')} late" if worth.late else "none late"
    lines = [
        f"{plan.shop}: {count(len(day.tasks), 'job')}, {hours.words()}, "
        f"{count(day.hands, 'person', 'people')}",
        "",
        f"  {late}; the last is done at {hours.clock(worth.end_s)}; "
        f"{count(worth.changes, 'film')} mounted",
        f"  {bound_words(plan)}",
        "",
    ]
    called = numbers(plan)
    names = max(len(task.name) for task in day.tasks)
    setups = max(len(route.setup) for task in day.tasks for route in task.routes)
    for k in sorted(range(len(day.tasks)), key=lambda task: called[task]):
        task, end_s = day.tasks[k], schedule.end_s(k)
        due = ""
        if task.due_s is not None:
            gap = duration(abs(end_s - task.due_s))
            kept = "late" if end_s > task.due_s else "to spare"
            due = f"due {hours.clock(task.due_s)}, {gap} {kept}"
        setup = task.routes[schedule.route[k]].setup
        lines.append(
            f"  {called[k]:>3}  {task.name:<{names}}  {setup:<{setups}}  "
            f"{hours.clock(schedule.start_s[k][0])} to {hours.clock(end_s)}  {due}".rstrip()
        )
    if plan.notes:
        where = max(len(note.where) for note in plan.notes)
        lines += [""] + [
            f"  {note.level:<4}   {note.where:<{where}}   {note.text}" for note in plan.notes
        ]
    return "\n".join([*lines, "", f"{folder}: {count(files, 'file')}"])
