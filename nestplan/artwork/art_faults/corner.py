"""Corners of the contour that are sharper than a knife likes."""

from dataclasses import dataclass

import numpy as np

from nestplan.artwork.art_faults.fault import ArtFault
from nestplan.artwork.art_faults.subject import Subject, place_words
from nestplan.figures import fixed
from nestplan.geometry.polyline import Points

SHARP_DEG = 30.0  # finer points lift, and there a blade swivels badly (common practice, no source)
WITHIN_MM = 0.5  # the line turns that far on so short a way: rounder is no corner
CIRCLE_MM = 3.0  # size of the circle that is drawn round one


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A sharp corner. angle_deg: between its sides. radius_mm: of an arc that turns as much."""

    x_mm: float
    y_mm: float
    angle_deg: float
    radius_mm: float
    outward: bool


def sharp_corners(subject: Subject) -> list[ArtFault]:
    """Points and notches under `SHARP_DEG`; the sharpest first."""
    found = [corner for ring in subject.contour.rings for corner in corners(ring)]
    found.sort(key=lambda each: (round(each.angle_deg, 3), each.x_mm, each.y_mm))
    return [_fault(subject, corner) for corner in found]


def corners(ring: Points, sharp_deg: float = SHARP_DEG) -> list[Corner]:
    """Where a ring, (n, 2) counter-clockwise, turns by 180 - `sharp_deg` within `WITHIN_MM`."""
    edges = np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(*edges.T)
    ways = np.arctan2(edges[:, 1], edges[:, 0])
    turns = np.angle(np.exp(1j * (ways - np.roll(ways, 1))))  # at each point
    n, whole = len(ring), float(lengths.sum())
    at = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    twice = np.concatenate([at, at + whole])
    upto = np.concatenate([[0.0], np.cumsum(np.tile(turns, 2))])
    window = min(WITHIN_MM, whole / 4)
    ends = np.searchsorted(twice, at + window, side="right")
    turned = np.abs(upto[ends] - upto[:n])
    sharp = np.flatnonzero(turned >= np.radians(180 - sharp_deg))
    found: list[Corner] = []
    taken = np.zeros(2 * n, dtype=bool)
    for first in sharp[np.argsort(-turned[sharp], kind="stable")].tolist():
        span = np.arange(first, ends[first])
        if taken[span % n].any():
            continue
        taken[span % n] = True
        turn = float(upto[ends[first]] - upto[first])
        inside = span[np.abs(turns[span % n]) > 1e-3]
        middle = ring[inside % n].mean(axis=0)
        way = float(twice[inside[-1]] - twice[inside[0]])
        found.append(
            Corner(
                x_mm=float(middle[0]),
                y_mm=float(middle[1]),
                angle_deg=max(0.0, 180 - abs(float(np.degrees(turn)))),
                radius_mm=way / abs(turn),
                outward=turn > 0,
            )
        )
    return found


def _fault(subject: Subject, corner: Corner) -> ArtFault:
    what = "point" if corner.outward else "notch"
    do = (
        "the tip lifts; round it"
        if corner.outward
        else "the blade swivels there and cuts too far; round it"
    )
    text = (
        f"the contour has a {what} of {fixed(corner.angle_deg, 0)}°, radius "
        f"{fixed(corner.radius_mm, 2)} mm, at {place_words(corner.x_mm, corner.y_mm)}: {do}"
    )
    return ArtFault(
        kind="corner",
        level="know",
        where=f"{subject.where}, contour",
        text=text,
        x_mm=corner.x_mm,
        y_mm=corner.y_mm,
        size_mm=CIRCLE_MM,
    )
