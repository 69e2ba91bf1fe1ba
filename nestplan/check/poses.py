"""Two poses of one thing, and every way in which they can differ, by name."""

from dataclasses import dataclass
from math import atan2, degrees, radians, sqrt

import numpy as np
from numpy.typing import NDArray

from nestplan.check.findings import Kind
from nestplan.check.odd import Key, Odd
from nestplan.check.outlines import SAME_MM, Pose
from nestplan.check.words import place, size_words, turn_words
from nestplan.figures import fixed


@dataclass(frozen=True, slots=True, kw_only=True)
class PoseKinds:
    """Under which kinds a wrong pose is reported."""

    moved: Kind
    turned: Kind
    size: Kind
    mirrored: Kind


def pose_odds(
    kinds: PoseKinds,
    key: Key,
    found: Pose,
    meant: Pose,
    reach_mm: float,
    within_mm: float = SAME_MM,
) -> list[Odd]:
    """Shift, turn, size and mirror, only where they move a point by more than within_mm."""
    odds = []

    def odd(kind: Kind, found: str, meant: str) -> None:
        odds.append(Odd(key=key, kind=kind, found=found, meant=meant))

    if found.mirrored != meant.mirrored:
        odd(kinds.mirrored, "mirrored" if found.mirrored else "not mirrored", "the other")
    turn = found.turned_from(meant)
    if abs(radians(turn)) * reach_mm > within_mm:
        odd(kinds.turned, turn_words(turn), f"at {fixed(meant.angle_deg % 360, 2)}°")
    if abs(found.scale / meant.scale - 1) * reach_mm > within_mm:
        odd(kinds.size, size_words(found.scale / meant.scale), "true size")
    shift = found.shifted_from(meant)
    if shift > within_mm:
        at, to = place(found.x_mm, found.y_mm), place(meant.x_mm, meant.y_mm)
        odd(kinds.moved, f"moved by {fixed(shift, 2)} mm, to {at}", to)
    return odds


def pose_from(matrix: NDArray[np.float64]) -> tuple[Pose, float]:
    """The nearest pose to an affine map (3, 2), and how much longer one way is than the other.

    The second figure is 0 for a true pose, 0.005 for a stretch of half a percent.
    """
    linear = matrix[:2].copy()
    mirrored = float(np.linalg.det(linear)) < 0
    if mirrored:
        linear[0] = -linear[0]
    (a, b), (c, d) = linear.tolist()
    long, short = np.linalg.svd(linear, compute_uv=False).tolist()
    x, y = matrix[2].tolist()
    pose = Pose(
        x_mm=x,
        y_mm=y,
        angle_deg=degrees(atan2(b - c, a + d)),
        scale=max(sqrt(long * short), 1e-9),
        mirrored=mirrored,
    )
    return pose, long / short - 1 if short > 0 else float("inf")
