"""A nest and the cutter's sensor come in; frames with readable marks go out."""

from nestplan.marks.mark_plan import Frame, Mark, MarkPlan

__all__ = ["Frame", "Mark", "MarkPlan"]
