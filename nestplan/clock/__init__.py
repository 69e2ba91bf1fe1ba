"""Frames and cut rings come in; print and cut times for each setup go out."""

from nestplan.clock.print_time import job_print_s, passes_of, white_of_job
from nestplan.clock.profile import CutProfile, PrintProfile, cut_profile, print_profile
from nestplan.clock.setups import time_own, time_run
from nestplan.clock.times import SetupTimes, Times

__all__ = [
    "CutProfile",
    "PrintProfile",
    "SetupTimes",
    "Times",
    "cut_profile",
    "job_print_s",
    "passes_of",
    "print_profile",
    "time_own",
    "time_run",
    "white_of_job",
]
