"""Contours made for the shop: from the edge of the art to a line that a knife can follow.

Small islands are left out first, then the contour is moved away from the art, islands are
joined, small holes filled, and corners rounded last.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestplan.artwork.form import formed
from nestplan.artwork.islands import filled, joined, without_small
from nestplan.artwork.rule import Rule, rule_of
from nestplan.artwork.smooth import smoothed, tight_corners
from nestplan.faults import Fault, Note
from nestplan.figures import count, length, short
from nestplan.geometry.outline import polygons_of
from nestplan.job import DecalOrder

INTO_ART_MM = 0.05  # what a knife cannot follow anyway is not told


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """How a contour is made. None, 0 and 0: islands are kept, holes too, corners as they come."""

    rule: Rule
    least_island_mm: float | None = None  # islands that hold no disc so large are left out
    join_mm: float | None = None  # islands no farther apart are joined
    least_hole_mm: float = 0.0
    least_radius_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """A contour, and what a person should know of it."""

    region: shapely.Geometry
    notes: Sequence[Note] = ()


def making_of(order: DecalOrder) -> Making:
    """What a decal's keys ask for."""
    return Making(
        rule=rule_of(order.contour),
        least_island_mm=order.least_island_mm if order.islands == "drop" else None,
        join_mm=order.join_mm if order.islands == "join" else None,
        least_hole_mm=order.least_hole_mm,
        least_radius_mm=order.least_radius_mm,
    )


def made(art: shapely.Geometry, making: Making, where: str) -> Made:
    """The contour round painted areas; what is drawn in the art is left as it is.

    where: the decal in the job file. raises: Fault when nothing is left.
    """
    if not making.rule.is_made:
        return Made(region=art)
    notes = []
    kept = _without_small(art, making, where)
    dropped = _parts(art) - _parts(kept)
    if dropped:
        text = f"{count(dropped, 'island')} under {short(making.least_island_mm or 0)} mm left out"
        notes.append(_note("know", f"{where}, islands", text))
    region = formed(kept, making.rule, f"{where}, contour")
    if making.join_mm is not None:
        apart, region = _parts(region), joined(region, making.join_mm)
        if _parts(region) < apart:
            text = f"{apart} islands became {_parts(region)}, with bridges between them"
            notes.append(_note("know", f"{where}, islands", text))
    if making.least_hole_mm > 0:
        holes, region = _holes(region), filled(region, making.least_hole_mm)
        if _holes(region) < holes:
            number = count(holes - _holes(region), "hole")
            text = f"{number} under {short(making.least_hole_mm)} mm filled"
            notes.append(_note("know", f"{where}, least_hole_mm", text))
    if making.least_radius_mm > 0:
        region, more = _rounded(region, kept, making, where)
        notes += more
    if _parts(region) > 1:
        text = f"the art falls apart: its contour is {_parts(region)} separate pieces"
        notes.append(_note("know", where, text))
    return Made(region=region, notes=notes)


def _without_small(art: shapely.Geometry, making: Making, where: str) -> shapely.Geometry:
    if making.least_island_mm is None:
        return art
    kept = without_small(art, making.least_island_mm)
    if shapely.is_empty(kept):
        raise Fault(
            what=f"no part of the art is {short(making.least_island_mm)} mm wide anywhere: all "
            "islands would be left out",
            where=f"{where}, least_island_mm",
            do="write a smaller least_island_mm, or islands = 'join'",
        )
    return kept


def _rounded(
    region: shapely.Geometry, art: shapely.Geometry, making: Making, where: str
) -> tuple[shapely.Geometry, list[Note]]:
    """Corners rounded, and how far that cuts into the art."""
    radius, key = making.least_radius_mm, f"{where}, least_radius_mm"
    smooth = round_corners(region, radius, key)
    notes = []
    if making.rule.offset_mm >= 0:
        into = shapely.difference(art, smooth)
        corners = shapely.get_coordinates(into)
        away = shapely.distance(shapely.points(corners), smooth)
        deep = float(np.max(away, initial=0.0))
        if deep > INTO_ART_MM:
            text = (
                f"corners rounded to {short(radius)} mm take up to {length(deep, 2)} off the art: "
                "a larger offset keeps it whole"
            )
            notes.append(_note("look", key, text))
    left = sum(len(tight_corners(smooth, radius, inner=inner)) for inner in (False, True))
    if left:
        text = f"some corners could not be rounded to {short(radius)} mm: look at the proof"
        notes.append(_note("look", key, text))
    return smooth, notes


def round_corners(region: shapely.Geometry, radius_mm: float, where: str) -> shapely.Geometry:
    """No corner tighter than the radius. raises: Fault when nothing is so wide."""
    smooth = smoothed(region, radius_mm)
    if shapely.is_empty(smooth):
        raise Fault(
            what=f"the contour is nowhere wide enough for corners of {short(radius_mm)} mm",
            where=where,
            do="write a smaller least_radius_mm, a larger offset, or a larger decal",
        )
    return smooth


def _parts(region: shapely.Geometry) -> int:
    return len(list(polygons_of(region)))


def _holes(region: shapely.Geometry) -> int:
    return sum(len(part.interiors) for part in polygons_of(region))


def _note(level: str, where: str, text: str) -> Note:
    return Note(level="look" if level == "look" else "know", where=where, text=text)
