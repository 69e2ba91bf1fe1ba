"""Placed contours come in; rings in cutting order go out."""

from nestplan.cut.cut_plan import CutPlan, CutRing, FrameCut

__all__ = ["CutPlan", "CutRing", "FrameCut"]
