"""Whether the frames of a run are told apart by their marks, worked out anew."""

from math import erfc, sqrt

import numpy as np
from scipy.optimize import linear_sum_assignment

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.outlines import Points
from nestplan.check.said import SUMMARY, Said, SaidErrors

LEAST, PART = 1e-6, 1.5  # smaller chances are as good as none; how far two ways may differ


def apart_claims(said: Said) -> list[Claim]:
    """The greatest chance to take a frame for another, or for its own half-turn, as it is said."""
    placed = said.marks.placement
    if placed is None:
        return []
    layouts = [
        np.array([(mark.x_mm, mark.y_mm) for mark in frame.marks]).reshape(-1, 2)
        for frame in said.frames
    ]
    layouts = [layout - layout.mean(axis=0) for layout in layouts if len(layout) > 2]
    chance = 0.0
    for k, layout in enumerate(layouts):
        others = [-layout, *layouts[:k], *(-other for other in layouts[:k])]
        chance = max([chance, *(_mistaken(said.marks.model, layout, other) for other in others)])
    high, low = max(LEAST, PART * placed.mistaken_chance), placed.mistaken_chance / PART
    against: tuple[Finding, ...] = ()
    if chance > high or (low > LEAST and chance < low):
        against = (
            Finding(
                kind=Kind.ERROR_WRONG,
                where=f"{SUMMARY}, marks.placement.mistaken_chance",
                found=f"{placed.mistaken_chance:.3g}",
                meant=f"{chance:.3g}",
            ),
        )
    says = "frames differ from each other and from their half-turns as far as is said"
    return [Claim(says=says, against=against)]


def _mistaken(model: SaidErrors, right: Points, other: Points) -> float:
    """Chance that readings of one layout fit another better, both freed of stretch and skew."""
    if len(right) != len(other):
        return 0.0
    basis = np.linalg.qr(np.column_stack([np.ones(len(right)), right]))[0]
    at = other
    for _ in range(4):
        pairs = linear_sum_assignment(((right[:, None] - at) ** 2).sum(axis=2))[1]
        full = np.column_stack([np.ones(len(other)), other])
        at = full @ np.linalg.lstsq(full[pairs], right, rcond=None)[0]
    shift = other[pairs] - right
    left = shift - basis @ (basis.T @ shift)
    square = float((left**2).sum())
    if square < 1e-9:
        return 0.5
    x, y = right.T
    smooth = model.distortion_mm**2 * np.exp(
        -((x[:, None] - x) ** 2 + (y[:, None] - y) ** 2) / (2 * model.distortion_length_mm**2)
    )
    smooth += np.eye(len(x)) * (model.print_noise_mm**2 + model.sensor_noise_mm**2)
    walk = model.tracking_mm_m**2 / 1000 * np.minimum.outer(y - y.min(), y - y.min())
    spread = left[:, 0] @ (smooth + walk) @ left[:, 0] + left[:, 1] @ smooth @ left[:, 1]
    return erfc(square / (2 * sqrt(spread + 1e-18)) / sqrt(2)) / 2
