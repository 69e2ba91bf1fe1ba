"""A nest and the cutter's sensor come in; frames with readable marks and their errors go out."""

from nestplan.marks.cures import cure_notes
from nestplan.marks.error_field import error_field
from nestplan.marks.error_model import ErrorModel, error_model
from nestplan.marks.error_notes import error_notes
from nestplan.marks.evenly_placed import ends_most_mm
from nestplan.marks.fill_frame import fill_last_frame
from nestplan.marks.film import lead_mm, tail_mm
from nestplan.marks.lanes import Lanes, strip_range_mm
from nestplan.marks.mark_plan import SCALE_BAR_MM, Frame, Mark, MarkPlan, Placement, Slug, Worth
from nestplan.marks.off_film import missing_film
from nestplan.marks.place import place_marks
from nestplan.marks.predict import FrameErrors, RunErrors, predict
from nestplan.marks.safe_zone import Web, web_of
from nestplan.marks.since import since_former_notes
from nestplan.marks.white import clear_radius_mm, needs_white, white_fields, white_notes

__all__ = [
    "SCALE_BAR_MM",
    "ErrorModel",
    "Frame",
    "FrameErrors",
    "Lanes",
    "Mark",
    "MarkPlan",
    "Placement",
    "RunErrors",
    "Slug",
    "Web",
    "Worth",
    "clear_radius_mm",
    "cure_notes",
    "ends_most_mm",
    "error_field",
    "error_model",
    "error_notes",
    "fill_last_frame",
    "lead_mm",
    "missing_film",
    "needs_white",
    "place_marks",
    "predict",
    "since_former_notes",
    "strip_range_mm",
    "tail_mm",
    "web_of",
    "white_fields",
    "white_notes",
]
