"""Where on the film a finding is: frame and box, from the words that name its element."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestplan.check import Finding
from nestplan.check.cut_copy import pose_of
from nestplan.check.said import Said, SaidFrame

FRAME = re.compile(r"(?:cut-(\d+)\.|page (\d+)|frame (\d+))")
MARK = re.compile(r"mark (\d+)")
PLACE = re.compile(r"x (-?\d+\.\d+), y (-?\d+\.\d+) mm")
AROUND_MM = 12.0
LEAST_MM = 30.0

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A part of a frame to look at, run coordinates; element: the box of what is meant."""

    frame: SaidFrame
    element: Box
    window: Box


def spot_of(said: Said, finding: Finding) -> Spot | None:
    """The spot of a finding; None where it is about no place."""
    text = f"{finding.where} {finding.found} {finding.meant}"
    frame = _frame(said, finding.where)
    for found in sorted(said.frames, key=lambda each: each is not frame):
        box = _element(said, found, finding, text)
        if box is not None and (frame is None or found is frame):
            return Spot(frame=found, element=box, window=_window(box))
    return None


def _frame(said: Said, where: str) -> SaidFrame | None:
    match = FRAME.search(where) if not where.startswith("proof.pdf, page") else None
    number = int(next(filter(None, match.groups()))) if match else 0
    return next((frame for frame in said.frames if frame.index == number), None)


def _element(said: Said, frame: SaidFrame, finding: Finding, text: str) -> Box | None:
    for place in frame.placements:
        name = said.copy_name(place.decal, place.copy_)
        if re.search(rf"{re.escape(name)}(?!\d)", finding.where):
            return copy_box(said, frame, place.decal, place.copy_)
    mark = MARK.search(finding.where)
    for each in frame.marks if mark else ():
        if mark is not None and each.mark == int(mark[1]):
            half = said.marks.size_mm / 2
            return each.x_mm - half, each.y_mm - half, each.x_mm + half, each.y_mm + half
    for x, y in PLACE.findall(text):
        if frame.y0_mm <= float(y) <= frame.y0_mm + frame.length_mm:
            return float(x) - 2, float(y) - 2, float(x) + 2, float(y) + 2
    for place in frame.placements:  # a decal in all its copies: the first one stands for them
        if re.search(rf", {re.escape(said.name(place.decal))}(,|$)", finding.where):
            return copy_box(said, frame, place.decal, place.copy_)
    return None


def copy_box(said: Said, frame: SaidFrame, decal: int, copy: int) -> Box:
    """The extent of a copy where it was planned."""
    points = np.vstack(planned_rings(said, frame, decal, copy))
    (left, bottom), (right, top) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return left, bottom, right, top


def planned_rings(said: Said, frame: SaidFrame, decal: int, copy: int) -> Sequence[np.ndarray]:
    """A copy's rings where it was planned, run coordinates."""
    place = next(p for p in frame.placements if (p.decal, p.copy_) == (decal, copy))
    pose = pose_of(place)
    return [pose.put(np.array(ring)) for ring in said.decals[decal - 1].contour]


def _window(box: Box) -> Box:
    """The element with some of its surroundings, three wide to two tall."""
    left, bottom, right, top = box
    wide, tall = right - left + 2 * AROUND_MM, top - bottom + 2 * AROUND_MM
    wide = max(wide, 1.5 * tall, LEAST_MM)
    tall = wide / 1.5
    x, y = (left + right) / 2, (bottom + top) / 2
    return x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2
