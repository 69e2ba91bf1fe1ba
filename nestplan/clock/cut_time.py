"""How long a cut takes: marks read, rings followed, knife lifted and carried, tools changed.

Where the shop file gives the web limits of its own, each axis keeps its own; else head and web
are one mover, and a move takes as long as the straight way at the machine's speed and
acceleration.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from nestplan.clock.motion import Pace, moves_s, path_s
from nestplan.cut import CutPlan, CutRing, FrameCut
from nestplan.job import Machine
from nestplan.marks import Frame, MarkPlan

SAME_RING_MM = 1e-6  # rings of one decal that differ by less take the same time


def cut_s(machine: Machine, marks: MarkPlan, cut: CutPlan) -> float:
    """Time to cut a run, from the end of winding back to the last lift, seconds.

    Once: winding back to the first mark. In each frame: every mark in the order of its
    number, one after the other, and back to the first; then every ring, from rest at its
    start to rest there again, a lift, and the straight way to the next. From frame to frame
    the straight way to its first mark. A tool is changed whenever the next ring needs
    another, also where a frame begins with the kiss cut after a through cut; the web is wound
    on whenever the next ring lies in another window.

    machine: one that cuts, with speed, acceleration and sensor, as the job room demands.
    """
    assert machine.speed_mm_s is not None, "the job room refuses a cutter without a speed"
    assert machine.acceleration_mm_s2 is not None, "nor one without an acceleration"
    assert machine.sensor is not None, "nor one without a sensor"
    pace = Pace(
        speed_mm_s=machine.speed_mm_s,
        acceleration_mm_s2=machine.acceleration_mm_s2,
        corner_mm=machine.corner_mm,
        web_speed_mm_s=machine.web_speed_mm_s,
        web_acceleration_mm_s2=machine.web_acceleration_mm_s2,
    )
    rings = [ring for frame in cut.frames for ring in frame.rings]
    return (
        machine.wind_back_s
        + sum(len(frame.marks) for frame in marks.frames) * machine.sensor.read_s
        + float(moves_s(_lifted_moves_mm(marks, cut), pace).sum())
        + _rings_s(rings, pace)
        + len(rings) * machine.lift_s
        + _tool_changes(machine, rings) * machine.tool_change_s
        + sum(_windows_on(frame) for frame in cut.frames) * machine.window_s
    )


def _lifted_moves_mm(marks: MarkPlan, cut: CutPlan) -> NDArray[np.float64]:
    """All moves with the knife up, (k, 2), of all frames one after the other."""
    stops = [
        stop
        for frame, cuts in zip(marks.frames, cut.frames, strict=True)
        for stop in _stops(frame, cuts)
    ]
    return np.asarray(np.diff(np.array(stops), axis=0))


def _stops(frame: Frame, cut: FrameCut) -> list[tuple[float, float]]:
    """Where the head stands still in a frame: marks, the first again, starts of rings."""
    places = [(mark.x_mm, mark.y_mm) for mark in (*frame.marks, frame.marks[0])]
    return places + [(ring.points_mm[0, 0], ring.points_mm[0, 1]) for ring in cut.rings]


def _tool_changes(machine: Machine, rings: list[CutRing]) -> int:
    """How often the next ring needs another tool; a kind that names none has its own."""
    tools = [machine.tools.get(ring.kind, ring.kind) for ring in rings]
    return sum(one != other for one, other in pairwise(tools))


def _windows_on(cut: FrameCut) -> int:
    """How often the web is wound on to another window within a frame."""
    return sum(one.window != other.window for one, other in pairwise(cut.rings))


def _rings_s(rings: list[CutRing], pace: Pace) -> float:
    """Time along all rings. Copies that start at the same corner are timed once."""
    known: dict[tuple[int, int, bytes], float] = {}
    total_s = 0.0
    for ring in rings:
        key = (ring.decal, ring.ring, _shape_from_start(ring.points_mm))
        if pace.by_axis:  # a copy that is turned takes other times
            key = (ring.decal, ring.ring, np.round(ring.points_mm - ring.points_mm[0], 6).tobytes())
        if key not in known:
            known[key] = path_s(np.vstack([ring.points_mm, ring.points_mm[:1]]), pace)
        total_s += known[key]
    return total_s


def _shape_from_start(points_mm: NDArray[np.float64]) -> bytes:
    """The same for rings that are shifted, turned or mirrored copies, started alike."""
    legs = np.roll(points_mm, -1, axis=0) - points_mm
    lengths = (legs * legs).sum(axis=1)
    corners = (legs * np.roll(legs, -1, axis=0)).sum(axis=1)
    return np.rint(np.concatenate([lengths, corners]) / SAME_RING_MM).tobytes()
