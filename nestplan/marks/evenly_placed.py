"""Evenly spaced marks along both edges of a frame, the ends it needs, or the lanes."""

from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.offset import grown
from nestplan.job import Job, Sensor
from nestplan.marks.ink import Ink
from nestplan.marks.lanes import PLAY_MM, Lanes
from nestplan.marks.mark_plan import SCALE_BAR_MM
from nestplan.marks.safe_zone import Web, centre_ranges_mm, off_ink_mm, safe_zone, unprinted_zone
from nestplan.marks.shapes import blank_round_mm
from nestplan.marks.stand import BAND_MM, CORNER_MM, corners_at, edge_places, evenly, least_between
from nestplan.marks.words import AROUND_MM, BAND_ROOM_MM
from nestplan.nest import Strip


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Film between the frame's ends and the contours; long ends hold marks beyond the nest."""

    lead_mm: float
    trail_mm: float
    long_lead: bool = False
    long_trail: bool = False


def ends_most_mm(sensor: Sensor, bleed_mm: float) -> float:
    """Film that both ends of a frame may take together at most, marks and words included."""
    return 2 * (bleed_mm + 2 * blank_round_mm(sensor) + PLAY_MM) + BAND_ROOM_MM


def frame_length_mm(job: Job, sensor: Sensor, strip: Strip, ends: Ends) -> float:
    """Length of the frame: ends and contours, and never less than cutter, marks and bar need."""
    blank = blank_round_mm(sensor)
    needed = 3 * blank + sensor.size_mm / 2, SCALE_BAR_MM + 2 * AROUND_MM, job.cutter.frame_least_mm
    return max(ends.lead_mm + strip.length_mm + ends.trail_mm, *needed)


def evenly_placed(
    job: Job,
    web: Web,
    ink: Ink,
    room: BaseGeometry,
    length: float,
    ends: Ends,
    gone: BaseGeometry,
) -> list[tuple[float, float]] | Ends | Lanes:
    """Marks of both edges, or longer ends to try next, or the lanes that are needed.

    room: kept for a scale bar. gone: film that is not there. Along it the edges are its own.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    blank = blank_round_mm(sensor)
    ranges = centre_ranges_mm(job, web)
    low, high, film = ranges[0][0], ranges[-1][1], None
    if gone:
        film = safe_zone(job, web, y0_mm=0.0, length_mm=length, ink=gone)
        if film.is_empty:
            return Lanes(left=True, right=True)
        low, _, high, _ = film.bounds
    third = (high - low) / 3
    band = min(BAND_MM, third)
    wide = band if film is None else third
    edges = ((low, low + wide), (high, high - wide))
    zone = _zone_at(job, web, ink, room.union(gone), length, edges)
    sides = [
        edge_places(
            zone,
            x_from_mm=a,
            x_to_mm=b,
            y_from_mm=blank,
            y_to_mm=length - blank,
            film=film,
            band_mm=band,
        )
        for a, b in edges
    ]
    corners = [
        corners_at(side, low_mm=side.from_mm + CORNER_MM, high_mm=side.to_mm - CORNER_MM)
        for side in sides
    ]
    longer = _longer_ends(ends, blank, [c[0] for c in corners], [c[1] for c in corners])
    if longer is not None:
        return longer
    if any(None in pair for pair in corners):
        assert gone, "a blank band across whole film holds a corner mark"
        return Lanes(left=True, right=True)
    counts = [least_between(side, spacing_mm=sensor.spacing_mm) for side in sides]
    if None not in counts:
        most = max(count for count in counts if count is not None)
        chosen = [
            evenly(
                side,
                between=most,
                spacing_mm=sensor.spacing_mm,
                apart_mm=blank + sensor.size_mm / 2,
            )
            for side in sides
        ]
        if None not in chosen:
            return [place for side in chosen if side is not None for place in side]
        return Lanes(left=chosen[0] is None, right=chosen[1] is None)
    return Lanes(left=counts[0] is None, right=counts[1] is None)


def _zone_at(
    job: Job,
    web: Web,
    ink: Ink,
    other: BaseGeometry,
    length: float,
    ranges_mm: tuple[tuple[float, float], ...],
) -> BaseGeometry:
    """The safe zone of a frame in ranges of x; copies far off them are not looked at.

    other: kept blank besides ink.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    off_mm = off_ink_mm(sensor)
    off = [*ink.near(ranges_mm, off_mm).grown(off_mm), grown(other, off_mm)]
    blank = unprinted_zone(job, web, y0_mm=0.0, length_mm=length)
    return shapely.difference(blank, shapely.union_all(off))


def _longer_ends(
    ends: Ends, blank: float, leads: list[int | None], trails: list[int | None]
) -> Ends | None:
    """Longer ends where a corner mark has no place yet; None where all have one."""
    if None in leads and not ends.long_lead:
        return replace(ends, lead_mm=ends.lead_mm + 2 * blank + PLAY_MM, long_lead=True)
    if None in trails and not ends.long_trail:
        return replace(ends, trail_mm=ends.trail_mm + 2 * blank + PLAY_MM, long_trail=True)
    return None
