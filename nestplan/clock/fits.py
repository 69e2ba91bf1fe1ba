"""Whether machines that a run was not planned for can do it all the same."""

from itertools import pairwise

from nestplan.cut import CutPlan
from nestplan.figures import short
from nestplan.geometry.same import SAME_MM
from nestplan.job import Job, Machine, white_order
from nestplan.marks import Mark, MarkPlan, needs_white


def why_not(job: Job, marks: MarkPlan, cut: CutPlan, printer: Machine, cutter: Machine) -> str:
    """Why this printer and this cutter cannot do the plan as it stands; empty: they can.

    Another plan of the same job might suit them; this one's frames and marks are given.
    """
    reasons = [
        *_too_wide(job, printer, cutter),
        *_no_white(job, printer),
        *_not_printable(job, marks, cut, printer),
        *_not_cuttable(job, cut, cutter),
        *_frames(marks, cutter),
        *_marks(job, marks, cutter),
    ]
    return "; ".join(dict.fromkeys(reasons))  # a combined device says it once


def _too_wide(job: Job, printer: Machine, cutter: Machine) -> list[str]:
    return [
        f"{machine.name} takes film up to {_mm(machine.width_mm)}, "
        f"this is {_mm(job.roll.width_mm)} wide"
        for machine in (printer, cutter)
        if job.roll.width_mm > machine.width_mm + SAME_MM
    ]


def _no_white(job: Job, printer: Machine) -> list[str]:
    """White below marks or with the art needs a printer that has it."""
    wanted = needs_white(job.roll) or white_order(job.order) != "none"
    return [f"{printer.name} prints no white"] if wanted and not printer.prints_white else []


def _not_printable(job: Job, marks: MarkPlan, cut: CutPlan, printer: Machine) -> list[str]:
    """The outermost ink, bleed and marks, against the printer's margins."""
    half = marks.size_mm / 2
    edges = [(mark.x_mm - half, mark.x_mm + half) for mark in _all(marks)]
    edges += _ring_edges(cut, [decal.bleed_mm for decal in job.order.decal], printed=True)
    return _outside(job, printer, "print", edges)


def _not_cuttable(job: Job, cut: CutPlan, cutter: Machine) -> list[str]:
    """The outermost contours against the cutter's margins."""
    return _outside(job, cutter, "cut", _ring_edges(cut, [0.0] * len(job.order.decal)))


def _outside(job: Job, machine: Machine, verb: str, edges: list[tuple[float, float]]) -> list[str]:
    low, high = machine.margin_left_mm, job.roll.width_mm - machine.margin_right_mm
    left, right = min(a for a, _ in edges), max(b for _, b in edges)
    if left >= low - SAME_MM and right <= high + SAME_MM:
        return []
    return [
        f"{machine.name} can {verb} from {_mm(low)} to {_mm(high)} across the film, "
        f"this reaches from {_mm(left)} to {_mm(right)}"
    ]


def _ring_edges(
    cut: CutPlan, beyond_mm: list[float], *, printed: bool = False
) -> list[tuple[float, float]]:
    """Leftmost and rightmost x of every stroke, grown by what its decal has beyond it.

    printed: of those that print reaches to: backings and weed lines are left out.
    """
    return [
        (
            float(stroke.points_mm[:, 0].min()) - beyond,
            float(stroke.points_mm[:, 0].max()) + beyond,
        )
        for frame in cut.frames
        for stroke in frame.strokes
        if not (printed and (stroke.is_backing or stroke.kind == "weed"))
        for beyond in [0.0 if stroke.kind == "weed" else beyond_mm[stroke.decal]]
    ]


def _frames(marks: MarkPlan, cutter: Machine) -> list[str]:
    most = cutter.frame_greatest_mm
    longest = max(marks.frames, key=lambda frame: frame.length_mm)
    shortest = min(marks.frames, key=lambda frame: frame.length_mm)
    reasons = []
    if most is not None and longest.length_mm > most + SAME_MM:
        reasons.append(
            f"{cutter.name} takes frames up to {_mm(most)}, "
            f"frame {longest.index} is {_mm(longest.length_mm)} long"
        )
    if shortest.length_mm < cutter.frame_least_mm - SAME_MM:
        reasons.append(
            f"{cutter.name} takes frames from {_mm(cutter.frame_least_mm)}, "
            f"frame {shortest.index} is {_mm(shortest.length_mm)} long"
        )
    return reasons


def _marks(job: Job, marks: MarkPlan, cutter: Machine) -> list[str]:
    """What another sensor makes of marks that were printed for the planned one."""
    sensor = cutter.sensor
    if sensor is None:
        return [f"{cutter.name} has no sensor for marks"]
    reasons = []
    if sensor.shape != marks.shape or abs(sensor.size_mm - marks.size_mm) > SAME_MM:
        reasons.append(
            f"{cutter.name} reads a {sensor.shape} of {_mm(sensor.size_mm)}, "
            f"the marks are a {marks.shape} of {_mm(marks.size_mm)}"
        )
    if sensor.clear_mm > marks.clear_mm + SAME_MM:
        reasons.append(
            f"{cutter.name} needs {_mm(sensor.clear_mm)} clear round a mark, "
            f"these have {_mm(marks.clear_mm)}"
        )
    apart_mm = _farthest_apart_mm(marks)
    if sensor.spacing_mm < apart_mm - SAME_MM:
        reasons.append(
            f"{cutter.name} needs marks every {_mm(sensor.spacing_mm)}, "
            f"these stand up to {_mm(apart_mm)} apart"
        )
    low, high = sensor.reach_left_mm, job.roll.width_mm - sensor.reach_right_mm
    for mark in _all(marks):
        if not low - SAME_MM <= mark.x_mm <= high + SAME_MM:
            reasons.append(
                f"{cutter.name} finds marks from {_mm(low)} to {_mm(high)} across the film, "
                f"one stands at {_mm(mark.x_mm)}"
            )
            break
    half = marks.size_mm / 2
    for start, end in cutter.roller_lanes_mm:
        if any(start < mark.x_mm + half and mark.x_mm - half < end for mark in _all(marks)):
            reasons.append(
                f"a roller of {cutter.name} runs over marks from {_mm(start)} to {_mm(end)}"
            )
    return reasons


def _farthest_apart_mm(marks: MarkPlan) -> float:
    """Greatest distance along the feed between neighbours in the outer thirds of a frame."""
    apart_mm = 0.0
    for frame in marks.frames:
        left = min(mark.x_mm for mark in frame.marks)
        right = max(mark.x_mm for mark in frame.marks)
        third = (right - left) / 3
        for low, high in ((left, left + third), (right - third, right)):
            along = sorted(mark.y_mm for mark in frame.marks if low <= mark.x_mm <= high)
            apart_mm = max([apart_mm, *(b - a for a, b in pairwise(along))])
    return apart_mm


def _all(marks: MarkPlan) -> list[Mark]:
    return [mark for frame in marks.frames for mark in frame.marks]


def _mm(value: float) -> str:
    return f"{short(value, 1)} mm"
