"""A day's jobs and the shop's machines come in; a `Schedule` with its bound goes out."""

from nestplan.shift.day import Day, Place, Route, Schedule, Step, Task, Worth
from nestplan.shift.shift_files import shift_files
from nestplan.shift.shift_json import SHIFT
from nestplan.shift.solve import solve
from nestplan.shift.words import shift_words

__all__ = [
    "SHIFT",
    "Day",
    "Place",
    "Route",
    "Schedule",
    "Step",
    "Task",
    "Worth",
    "shift_files",
    "shift_words",
    "solve",
]
