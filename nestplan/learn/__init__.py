"""A shop file, plans and stopwatch readings come in; what the readings tell goes out."""

from nestplan.learn.new_shop import learned_shop
from nestplan.learn.runs import TimedRun, read_run
from nestplan.learn.sense import refuse_contradictions
from nestplan.learn.solve import Learned, Learning, learn, model_of
from nestplan.learn.timings import Timing, read_timings
from nestplan.learn.words import learned_json, learned_words

__all__ = [
    "Learned",
    "Learning",
    "TimedRun",
    "Timing",
    "learn",
    "learned_json",
    "learned_shop",
    "learned_words",
    "model_of",
    "read_run",
    "read_timings",
    "refuse_contradictions",
]
