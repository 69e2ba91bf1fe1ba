"""All files of a day, in memory."""

from nestplan.shift.calendar import calendar
from nestplan.shift.picture_svg import picture_svg
from nestplan.shift.plan_day import ShiftPlan
from nestplan.shift.shift_json import SHIFT, shift_json, text_of
from nestplan.shift.shift_pdf import shift_pdf


def shift_files(plan: ShiftPlan) -> dict[str, bytes]:
    """Picture, lists, calendar (where the shift has a day) and JSON, by name; JSON last."""
    files = {"shift.pdf": shift_pdf(plan), "shift.svg": picture_svg(plan)}
    if plan.hours.day is not None:
        files["shift.ics"] = calendar(plan)
    data = {**shift_json(plan), "files": sorted(files)}
    return {**files, SHIFT: text_of(data)}
