"""Placed contours come in; strokes of the knife in cutting order go out."""

from nestplan.cut.cut_plan import NO_DECAL, NO_RING, CutPlan, CutStroke, Extras, FrameCut
from nestplan.cut.knife import Knife, knife_of
from nestplan.cut.notes import cut_notes
from nestplan.cut.plan_cut import plan_cut
from nestplan.cut.proof import Proof, proof_within
from nestplan.cut.wishes import Wishes, wishes_of

__all__ = [
    "NO_DECAL",
    "NO_RING",
    "CutPlan",
    "CutStroke",
    "Extras",
    "FrameCut",
    "Knife",
    "Proof",
    "Wishes",
    "cut_notes",
    "knife_of",
    "plan_cut",
    "proof_within",
    "wishes_of",
]
