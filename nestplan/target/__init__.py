"""A shop file comes in; a target to print, cut and read goes out, and from its readings what the
machines do wrong, in a new shop file.
"""

from nestplan.target.layout import Target, make_target
from nestplan.target.new_shop import calibrated_shop
from nestplan.target.pick import equipment_of
from nestplan.target.readings import Readings, read_readings, read_sheet
from nestplan.target.solve import Measured, measure
from nestplan.target.words import measured_json, measured_words, target_json, target_words
from nestplan.target.writer import target_files

__all__ = [
    "Measured",
    "Readings",
    "Target",
    "calibrated_shop",
    "equipment_of",
    "make_target",
    "measure",
    "measured_json",
    "measured_words",
    "read_readings",
    "read_sheet",
    "target_files",
    "target_json",
    "target_words",
]
