"""A planned run comes in; its files, written together or not at all, go out."""

from nestplan.files.material import material
from nestplan.files.press_rules import breaches, press_notes
from nestplan.files.run import Run, bound_said
from nestplan.files.together import write_new, write_together
from nestplan.files.trade_rows import trade_rows, trade_words
from nestplan.files.writer import run_files

__all__ = [
    "Run",
    "bound_said",
    "breaches",
    "material",
    "press_notes",
    "run_files",
    "trade_rows",
    "trade_words",
    "write_new",
    "write_together",
]
