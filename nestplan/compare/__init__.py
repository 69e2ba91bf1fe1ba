"""The same work on every setup of the shop comes in; a `Comparison` goes out."""

from nestplan.compare.compare_files import COMPARE, compare_files
from nestplan.compare.comparison import Comparison, Crossing, Mix, Overtake, compare
from nestplan.compare.on_setup import OnSetup, on_setup
from nestplan.compare.words import compare_words

__all__ = [
    "COMPARE",
    "Comparison",
    "Crossing",
    "Mix",
    "OnSetup",
    "Overtake",
    "compare",
    "compare_files",
    "compare_words",
    "on_setup",
]
