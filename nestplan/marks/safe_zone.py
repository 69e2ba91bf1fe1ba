"""Where the centre of a mark may stand: printable, in the sensor's reach, off the rollers,
clear of everything printed. Plain geometry in run coordinates.
"""

from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.offset import SAGITTA_MM, grown
from nestplan.job import Equipment, Job, Sensor
from nestplan.marks.shapes import blank_round_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Web:
    """What the machines allow across the film, in run coordinates, mm.

    printable: the printer's; lanes: where rollers run; reach: where the sensor finds a
    mark's centre; film: the film's own edges.
    """

    film_mm: tuple[float, float]
    printable_mm: tuple[float, float]
    cuttable_mm: tuple[float, float]
    reach_mm: tuple[float, float]
    lanes_mm: tuple[tuple[float, float], ...]


def web_of(job: Equipment) -> Web:
    """The web of a roll on a setup. A print that is to be narrower lies at the left."""
    width, printer, cutter = job.roll.width_mm, job.printer, job.cutter
    sensor = cutter.sensor
    assert sensor is not None, "the job room refuses a cutter without a sensor"
    left, right = printer.margin_left_mm, width - printer.margin_right_mm
    if job.print_width_mm is not None:
        right = min(right, left + job.print_width_mm)
    return Web(
        film_mm=(0.0, width),
        printable_mm=(left, right),
        cuttable_mm=(cutter.margin_left_mm, width - cutter.margin_right_mm),
        reach_mm=(sensor.reach_left_mm, width - sensor.reach_right_mm),
        lanes_mm=tuple((float(a), float(b)) for a, b in cutter.roller_lanes_mm),
    )


def centre_ranges_mm(job: Equipment, web: Web) -> list[tuple[float, float]]:
    """Ranges of x in which a mark's centre may lie whatever is printed, left to right."""
    sensor = job.cutter.sensor
    assert sensor is not None
    blank = blank_round_mm(sensor)
    half = sensor.size_mm / 2  # a mark stands upright, so its half width counts at the edges
    inked = blank if job.roll.base != "white" else half  # the white field is printed too
    low = max(web.printable_mm[0] + inked, web.reach_mm[0], web.film_mm[0] + blank)
    high = min(web.printable_mm[1] - inked, web.reach_mm[1], web.film_mm[1] - blank)
    ranges = [(low, high)] if low <= high else []
    for start, end in web.lanes_mm:
        off_start, off_end = start - half, end + half
        ranges = [
            piece
            for a, b in ranges
            for piece in ((a, min(b, off_start)), (max(a, off_end), b))
            if piece[0] <= piece[1]
        ]
    return ranges


def off_ink_mm(sensor: Sensor) -> float:
    """How far ink stands off a mark's centre.

    Arcs of a grown shape are short by up to the sagitta: that much more is asked for.
    """
    return blank_round_mm(sensor) + 2 * SAGITTA_MM


def safe_zone(
    job: Job, web: Web, *, y0_mm: float, length_mm: float, ink: BaseGeometry
) -> BaseGeometry:
    """Where a mark's centre may stand in the frame from y0 to y0 + length.

    ink: everything printed in the frame but marks, run coordinates. The blank ring lies
    wholly inside the frame, so that the next frame's ink cannot reach it.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    off = grown(ink, off_ink_mm(sensor))
    return shapely.difference(unprinted_zone(job, web, y0_mm=y0_mm, length_mm=length_mm), off)


def unprinted_zone(job: Job, web: Web, *, y0_mm: float, length_mm: float) -> BaseGeometry:
    """The safe zone of a frame in which nothing is printed."""
    sensor = job.cutter.sensor
    assert sensor is not None
    blank = blank_round_mm(sensor)
    low, high = y0_mm + blank, y0_mm + length_mm - blank
    if low > high:
        return shapely.Polygon()
    ranges = centre_ranges_mm(job, web)
    return shapely.union_all([shapely.box(a, low, b, high) for a, b in ranges if a < b])
