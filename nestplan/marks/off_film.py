"""Where the film of the first frame is not whole, and where that frame may then begin."""

import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.offset import SAGITTA_MM
from nestplan.geometry.same import SAME_MM
from nestplan.job import Job
from nestplan.marks.film import lead_mm
from nestplan.marks.lanes import PLAY_MM, Lanes
from nestplan.marks.shapes import blank_round_mm
from nestplan.nest import Missing

NOTHING: BaseGeometry = shapely.Polygon()


def missing_film(job: Job, area: BaseGeometry, lanes: Lanes, bleed_mm: float) -> Missing:
    """How far the nest stays from film that is not there, and where it may begin.

    area: in run coordinates. With lanes there is room for marks along it too. Spoiled film
    before the end of what lacks is left behind, so that the first frame is not moved later.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    room_mm = 2 * blank_round_mm(sensor) + PLAY_MM  # for a row of marks
    apart_mm = max(job.order.gutter_mm, bleed_mm)
    if lanes.left or lanes.right:
        apart_mm = max(apart_mm, room_mm + bleed_mm)
    start_mm = first_y0_mm(job, area) + bleed_mm + (room_mm if lanes.lead else 0.0)
    return Missing(area=area, apart_mm=apart_mm, start_mm=start_mm)


def first_y0_mm(job: Job, area: BaseGeometry) -> float:
    """Where the first frame may begin: after the lead, and after spoiled film before whole film."""
    y0_mm = _begin_mm(job, area) + lead_mm(job)
    for begin_m, end_m in sorted(job.roll.avoid_m):
        if begin_m * 1000 < area.bounds[3]:
            y0_mm = max(y0_mm, end_m * 1000)
    return y0_mm


def _begin_mm(job: Job, area: BaseGeometry) -> float:
    """Where film begins at all: the lead is counted from there."""
    if area.is_empty:
        return 0.0
    end_mm = float(area.bounds[3])
    film = shapely.box(0.0, 0.0, job.roll.width_mm, end_mm).difference(area)
    begin_mm = end_mm if film.is_empty else float(film.bounds[1])
    return begin_mm if begin_mm > SAME_MM else 0.0


def gone_in_frame(missing: Missing, lead_mm: float, length_mm: float) -> BaseGeometry:
    """What lacks in the first frame, seen from the frame's own begin. lead_mm: to its strip."""
    y0_mm = missing.start_mm - lead_mm
    left, _, right, _ = missing.area.bounds
    here = missing.area.intersection(shapely.box(left, y0_mm, right, y0_mm + length_mm))
    return shapely.affinity.translate(here, 0.0, -y0_mm)


def kept_clear(missing: Missing, gone: BaseGeometry) -> BaseGeometry:
    """Where neither words nor bars may stand."""
    return gone.buffer(missing.apart_mm + SAGITTA_MM)


def frame_y0_mm(missing: Missing, index: int, y_mm: float, strip_y0_mm: float) -> float:
    """Where a frame begins: the first where its strip must lie, the others on whole film."""
    if index == 1:
        return missing.start_mm - strip_y0_mm
    return max(y_mm, float(missing.area.bounds[3]) + missing.apart_mm)
