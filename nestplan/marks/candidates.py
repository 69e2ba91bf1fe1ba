"""Candidate places for the marks of one frame: along both edges, and inside."""

from math import ceil, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.outline import polygons_of
from nestplan.job import Job
from nestplan.marks.corrects import EDGE_MM
from nestplan.marks.field import INSIDE, LEFT, RIGHT, Field
from nestplan.marks.mark_plan import Frame
from nestplan.marks.safe_zone import Web, centre_ranges_mm, safe_zone
from nestplan.marks.shapes import blank_round_mm
from nestplan.marks.stand import BAND_MM, STEP_MM, edge_places
from nestplan.marks.words import slug_rooms

Array = NDArray[np.float64]

PITCH_MM = 10.0  # along the edges; errors change over ten times that
EDGE_MOST = 130  # candidates an edge: on longer frames they stand less densely
INSIDE_MOST = 110
APART_MM = 40.0  # no sensor that looks for one mark is to find another, a sheet lying askew
FINE_MM = 5.0  # pockets inside are looked for at this pitch


def field_of(job: Job, web: Web, frame: Frame, gone: BaseGeometry) -> Field:
    """Where the marks of a frame may stand instead: safe, off its words and bars, no film added.

    The marks that the frame has are among the places; the outermost of each edge stay.
    gone: film that is not there, run coordinates; along it the edges are its own, and no mark
    stands inside.
    """
    sensor = job.cutter.sensor
    assert sensor is not None
    blank = blank_round_mm(sensor)
    rooms = shapely.union_all([room.buffer(blank) for room in slug_rooms(frame.slug)])
    zone = shapely.difference(frame.safe, rooms)
    ranges = centre_ranges_mm(job, web)
    low, high, film = ranges[0][0], ranges[-1][1], None
    if gone:
        film = safe_zone(job, web, y0_mm=frame.y0_mm, length_mm=frame.length_mm, ink=gone)
        low, _, high, _ = film.bounds
    band = min(BAND_MM, (high - low) / 3)
    wide = band if film is None else (high - low) / 3
    now = np.array([(mark.x_mm, mark.y_mm) for mark in frame.marks])
    middle = (low + high) / 2
    places: list[Array] = []
    edge: list[int] = []
    corners: list[int] = []
    for side, start, end in ((LEFT, low, low + wide), (RIGHT, high, high - wide)):
        here = now[(now[:, 0] < middle) == (side == LEFT)]
        found = edge_places(
            zone,
            x_from_mm=start,
            x_to_mm=end,
            y_from_mm=frame.y0_mm + blank,
            y_to_mm=frame.y0_mm + frame.length_mm - blank,
            film=film,
            band_mm=band,
        ).places_mm
        mine = _between(_thinned(found, frame.length_mm), here)
        corners += [len(edge) + int(mine[:, 1].argmin()), len(edge) + int(mine[:, 1].argmax())]
        places.append(mine)
        edge += [side] * len(mine)
    if sensor.reads_inside and film is None:
        at_corners = np.concatenate(places)[corners, 0]
        bounds = min(at_corners) + EDGE_MM + 1, max(at_corners) - EDGE_MM - 1
        inner = _inside(zone, *bounds)
        places.append(inner)
        edge += [INSIDE] * len(inner)
    return Field(
        places_mm=np.concatenate(places),
        edge=np.array(edge, dtype=np.int64),
        corners=tuple(corners),
        spacing_mm=sensor.spacing_mm,
        apart_mm=min(APART_MM, _nearest_mm(now)),
        alike=job.cutter.corrects == "strips",
    )


def _nearest_mm(marks: Array) -> float:
    """Distance of the two marks nearest each other."""
    apart = np.hypot(*(marks[:, None] - marks).T)
    return float(apart[~np.eye(len(marks), dtype=bool)].min())


def _thinned(places: Array, length_mm: float) -> Array:
    """Every so many places of an edge, and both ends of every stretch of them."""
    if len(places) == 0:
        return places
    pitch = max(PITCH_MM, length_mm / EDGE_MOST)
    cell = np.floor((places[:, 1] - places[0, 1]) / pitch)
    gap = np.diff(places[:, 1]) > 1.5 * STEP_MM
    kept = np.append(True, np.diff(cell) > 0)
    kept |= np.append(True, gap) | np.append(gap, True)
    thinned: Array = places[kept]
    return thinned


def _between(found: Array, now: Array) -> Array:
    """The places between the outermost marks that an edge has now, those marks with them."""
    low, high = now[:, 1].min(), now[:, 1].max()
    kept = found[(found[:, 1] > low) & (found[:, 1] < high)]
    both = np.concatenate([now, kept])
    return both[np.unique(both.round(6), axis=0, return_index=True)[1]]


def _inside(zone: BaseGeometry, left: float, right: float) -> Array:
    """At most INSIDE_MOST places between two x: one a cell, and one a pocket that holds none."""
    _, bottom, _, top = zone.bounds
    if right <= left:
        return np.zeros((0, 2))
    inner = shapely.intersection(zone, shapely.box(left, bottom, right, top))
    if inner.is_empty:
        return np.zeros((0, 2))
    shapely.prepare(inner)
    x, y = np.meshgrid(np.arange(left, right, FINE_MM), np.arange(bottom, top, FINE_MM))
    safe = np.asarray(shapely.contains_xy(inner, x, y))
    points = [np.column_stack([x[safe], y[safe]])]
    pockets = [pocket.representative_point() for pocket in polygons_of(inner)]
    if pockets:
        points.append(shapely.get_coordinates(pockets))
    at = np.concatenate(points)
    cells = sqrt((right - left) * (top - bottom) / INSIDE_MOST)
    across = max(1, int((right - left) / cells))
    along = max(1, ceil(INSIDE_MOST / across) - 1)
    size = np.array([(right - left) / across, (top - bottom) / along])
    cell = np.floor((at - (left, bottom)) / size).clip(0, (across - 1, along - 1))
    off = np.abs((at - (left, bottom)) / size - cell - 0.5).max(axis=1)
    order = np.lexsort((off.round(9), cell[:, 0], cell[:, 1]))
    first = np.unique(cell[order], axis=0, return_index=True)[1]
    chosen: Array = at[order][np.sort(first)]
    return chosen
