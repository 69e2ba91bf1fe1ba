"""shift.ics: the day for a calendar, RFC 5545, times local to wherever the shop is."""

import hashlib
from datetime import timedelta

from icalendar import Calendar, Event

from nestplan.shift.plan_day import ShiftPlan


def calendar(plan: ShiftPlan) -> bytes:
    """An event a stay on a machine; the same plan gives the same bytes.

    The stamp that the standard asks for is the start of the shift: no clock is looked at.
    """
    day, schedule = plan.day, plan.schedule
    found = Calendar()
    found.add("prodid", f"-//nestplan//{plan.version}//EN")
    found.add("version", "2.0")
    begin = plan.hours.moment(0)
    for machine, place in enumerate(day.places):
        for start, task, k in plan.on(machine):
            step = schedule.steps(task)[k]
            event = Event()
            told = f"{begin.isoformat()} {place.name} {day.tasks[task].name} {k}"
            event.add("uid", f"{hashlib.sha256(told.encode()).hexdigest()[:24]}@nestplan")
            event.add("dtstamp", begin.strftime("%Y%m%dT%H%M%SZ"), encode=False)
            event.add("dtstart", plan.hours.moment(start))
            event.add("dtend", plan.hours.moment(start) + timedelta(seconds=step.busy_s))
            event.add("summary", f"{step.does}: {day.tasks[task].name}")
            event.add("location", place.name)
            if step.film:
                event.add("description", f"film: {step.film}")
            found.add_component(event)
    return bytes(found.to_ical())
