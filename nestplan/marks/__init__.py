"""A nest and the cutter's sensor come in; frames with readable marks go out."""

from nestplan.marks.lanes import Lanes, strip_range_mm
from nestplan.marks.mark_plan import SCALE_BAR_MM, Frame, Mark, MarkPlan, Slug
from nestplan.marks.place import ends_most_mm, place_marks
from nestplan.marks.safe_zone import Web, web_of
from nestplan.marks.since import since_former_notes

__all__ = [
    "SCALE_BAR_MM",
    "Frame",
    "Lanes",
    "Mark",
    "MarkPlan",
    "Slug",
    "Web",
    "ends_most_mm",
    "place_marks",
    "since_former_notes",
    "strip_range_mm",
    "web_of",
]
