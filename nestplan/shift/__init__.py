"""A day's jobs and the shop's machines come in; a `Schedule` with its bound goes out."""

from nestplan.shift.day import Day, Place, Route, Schedule, Step, Task, Worth
from nestplan.shift.solve import solve

__all__ = ["Day", "Place", "Route", "Schedule", "Step", "Task", "Worth", "solve"]
