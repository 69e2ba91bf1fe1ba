"""A nest and the cutter's sensor come in; frames with readable marks go out."""

from nestplan.marks.mark_plan import SCALE_BAR_MM, Frame, Mark, MarkPlan, Slug

__all__ = ["SCALE_BAR_MM", "Frame", "Mark", "MarkPlan", "Slug"]
