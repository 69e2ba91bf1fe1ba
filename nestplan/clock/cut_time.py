"""How long a cut takes: marks read, lines followed, knife lifted and carried, tools changed.

Where the shop file gives the web limits of its own, each axis keeps its own; else head and web
are one mover, and a move takes as long as the straight way at the machine's speed and
acceleration.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from nestplan.clock.motion import Pace, moves_s, path_s
from nestplan.cut import CutPlan, CutStroke, FrameCut
from nestplan.job import Machine
from nestplan.marks import Frame, MarkPlan

SAME_RING_MM = 1e-6  # rings of one decal that differ by less take the same time


def cut_s(machine: Machine, marks: MarkPlan, cut: CutPlan) -> float:
    """Time to cut a run, from the end of winding back to the last lift, seconds.

    Once: winding back to the first mark. In each frame: every mark in the order of its
    number, one after the other, and back to the first; then every stroke, from rest at its
    start to rest at its end, a lift, and the straight way to the next. From frame to frame
    the straight way to its first mark. A tool is changed whenever the next stroke needs
    another, also where a frame begins with the kiss cut after a through cut; the web is wound
    on whenever the next stroke lies in another window.

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
    strokes = [stroke for frame in cut.frames for stroke in frame.strokes]
    return (
        machine.wind_back_s
        + sum(len(frame.marks) for frame in marks.frames) * machine.sensor.read_s
        + float(moves_s(_lifted_moves_mm(marks, cut), pace).sum())
        + _strokes_s(strokes, pace)
        + len(strokes) * machine.lift_s
        + _tool_changes(machine, strokes) * machine.tool_change_s
        + sum(_windows_on(frame) for frame in cut.frames) * machine.window_s
    )


def _lifted_moves_mm(marks: MarkPlan, cut: CutPlan) -> NDArray[np.float64]:
    """All moves with the knife up, (k, 2), of all frames one after the other."""
    stops = [
        stop
        for frame, cuts in zip(marks.frames, cut.frames, strict=True)
        for stop in _stops(frame, cuts)
    ]
    arrived, left = np.array(stops).reshape(-1, 2, 2).swapaxes(0, 1)
    return np.asarray(arrived[1:] - left[:-1])


def _stops(frame: Frame, cut: FrameCut) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Where the head arrives in a frame and where it leaves: marks, the first again, strokes."""
    places = [np.array([mark.x_mm, mark.y_mm]) for mark in (*frame.marks, frame.marks[0])]
    both = [(place, place) for place in places]
    return both + [(stroke.points_mm[0], stroke.end_mm) for stroke in cut.strokes]


def _tool_changes(machine: Machine, strokes: list[CutStroke]) -> int:
    """How often the next stroke needs another tool; a kind that names none has its own."""
    tools = [machine.tools.get(stroke.tool, stroke.tool) for stroke in strokes]
    return sum(one != other for one, other in pairwise(tools))


def _windows_on(cut: FrameCut) -> int:
    """How often the web is wound on to another window within a frame."""
    return sum(one.window != other.window for one, other in pairwise(cut.strokes))


def _strokes_s(strokes: list[CutStroke], pace: Pace) -> float:
    """Time along all strokes. Copies that start at the same corner are timed once."""
    known: dict[tuple[int, int, bool, bytes], float] = {}
    total_s = 0.0
    for stroke in strokes:
        points = stroke.points_mm
        if pace.by_axis:  # a copy that is turned takes other times
            shape = np.round(points - points[0], 6).tobytes()
        else:
            shape = _shape_from_start(points)
        key = (stroke.decal, stroke.ring, stroke.closed, shape)
        if key not in known:
            known[key] = path_s(stroke.path_mm, pace)
        total_s += known[key]
    return total_s


def _shape_from_start(points_mm: NDArray[np.float64]) -> bytes:
    """The same for rings that are shifted, turned or mirrored copies, started alike."""
    legs = np.roll(points_mm, -1, axis=0) - points_mm
    lengths = (legs * legs).sum(axis=1)
    corners = (legs * np.roll(legs, -1, axis=0)).sum(axis=1)
    return np.rint(np.concatenate([lengths, corners]) / SAME_RING_MM).tobytes()
