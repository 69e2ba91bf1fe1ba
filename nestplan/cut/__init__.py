"""Placed contours come in; rings in cutting order go out."""

from nestplan.cut.cut_plan import CutPlan, CutRing, FrameCut
from nestplan.cut.knife import Knife, knife_of
from nestplan.cut.plan_cut import plan_cut

__all__ = ["CutPlan", "CutRing", "FrameCut", "Knife", "knife_of", "plan_cut"]
