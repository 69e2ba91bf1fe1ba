"""Frames and cut rings come in; print and cut times for each setup go out."""

from nestplan.clock.setups import time_run
from nestplan.clock.times import SetupTimes, Times

__all__ = ["SetupTimes", "Times", "time_run"]
