"""Whether a schedule can be done as it stands; shares no code with what made it."""

from nestplan.shift.day import Schedule


def wrong(schedule: Schedule) -> list[str]:
    """Everything that cannot be, in words; empty when the schedule holds."""
    day, faults = schedule.day, []
    stays: list[list[tuple[int, int, str, str, bool]]] = [[] for _ in day.places]
    held: list[tuple[int, int]] = []
    for number, task in enumerate(day.tasks):
        free_at = max(task.ready_s, day.now_s)
        steps = schedule.steps(number)
        for k, (step, start) in enumerate(zip(steps, schedule.start_s[number], strict=True)):
            begun = k < len(task.begun_s)
            if begun and start != task.begun_s[k]:
                faults.append(f"{task.name}: a step that has begun was moved")
            if not begun and start < max(free_at + step.wait_s, day.now_s):
                faults.append(f"{task.name}: step {k + 1} starts too early")
            free_at = start + step.hands_s + step.work_s
            stays[step.machine].append((start, free_at, step.film, task.name, begun))
            held.append((start, start + step.hands_s))
            if step.again_s is not None:
                held.append((start + step.again_s[0], start + sum(step.again_s)))
    for place, here in zip(day.places, stays, strict=True):
        end, film, name = 0, place.mounted, "the first film"
        for start, until, next_film, task_name, begun in sorted(here):
            gap = place.change_s if next_film != film else 0
            from_s = max(end, day.now_s) if gap and not begun else end
            if start < from_s + gap:
                faults.append(f"{place.name}: {task_name} starts too soon after {name}")
            end, film, name = until, next_film, task_name
    if day.hands:
        for moment, _ in held:
            if sum(start <= moment < end for start, end in held) > day.hands:
                faults.append(f"more hands than there are at {moment} s")
    return faults
