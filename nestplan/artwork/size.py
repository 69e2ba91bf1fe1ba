"""The scale at which a contour has the size the job orders, offset included."""

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from nestplan.artwork.art import Art
from nestplan.artwork.form import extent_of_form
from nestplan.artwork.make import Making, made
from nestplan.artwork.rule import Rule, rule_of
from nestplan.faults import Fault, Note
from nestplan.figures import short
from nestplan.geometry.same import SAME_MM
from nestplan.job import DecalOrder

ROUNDS_MOST = 5  # until curves are flattened at the scale they are cut at
CLOSE = 1e-3  # a scale off by this does not change how curves are flattened
BOTH_MM = 0.05  # width and height, both given, must agree this well


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sized:
    """A contour at its final size, in page mm, and the scale of its picture."""

    region: shapely.Geometry
    mm_per_px: float
    notes: Sequence[Note]


def at_ordered_size(art: Art, making: Making, order: DecalOrder, where: str) -> Sized:
    """Scale the art until its contour is as wide or as high as ordered.

    where: the decal in the job file. raises: Fault, Faults.
    """
    rule = making.rule
    extent = art.extent_px(rule)
    if order.width_mm is None and order.height_mm is None:
        return _own_size(art, making, where)
    axis = 0 if order.width_mm is not None else 1
    wanted_mm = order.width_mm if order.width_mm is not None else order.height_mm
    assert wanted_mm is not None
    if extent[axis] <= 0:
        art.contour(rule, 1000 / max(*extent, *art.page_px))  # says better what is wrong
        raise Fault(what="the contour has no extent", where=where, do="draw a closed contour")
    room_mm = wanted_mm - 2 * rule.offset_mm
    if room_mm <= 0:
        raise _no_room(rule, ("width_mm", "height_mm")[axis], wanted_mm, where)
    scale = room_mm / extent[axis]
    for _ in range(ROUNDS_MOST):
        traced = art.contour(rule, scale)
        factor = _factor(traced.region, making, axis, wanted_mm, where)
        scale *= factor
        if abs(factor - 1) <= CLOSE:
            break
    found = made(_scaled(traced.region, factor), making, where)
    _refuse_no_size(found.region, ("width_mm", "height_mm")[axis], axis, wanted_mm, where)
    if order.width_mm is not None and order.height_mm is not None:
        _refuse_other_shape(found.region, order.width_mm, order.height_mm, where)
    return Sized(region=found.region, mm_per_px=scale, notes=[*traced.notes, *found.notes])


def _own_size(art: Art, making: Making, where: str) -> Sized:
    """The contour at the size the file states."""
    scale = art.own_mm_per_px
    if scale is None:
        raise Fault(
            what=f"{art.source} does not say how large it is: it has no resolution",
            where=where,
            do="write width_mm or height_mm",
        )
    traced = art.contour(making.rule, scale)
    found = made(traced.region, making, where)
    return Sized(region=found.region, mm_per_px=scale, notes=[*traced.notes, *found.notes])


def _factor(
    region: shapely.Geometry, making: Making, axis: int, wanted_mm: float, where: str
) -> float:
    """By how much to scale so that the contour made of the region has the wanted extent.

    Growing adds about the offset on each side (chords of round corners lie a little inside),
    shrinking and rounding corners may take more: the answer is corrected until it fits.
    """
    offset_mm = making.rule.offset_mm
    extent_mm = extent_of_form(region, making.rule)[axis]
    factor = (wanted_mm - 2 * offset_mm) / extent_mm
    if not making.rule.is_made or making == Making(rule=rule_of("outline")):
        return factor
    for _ in range(50):
        found = made(_scaled(region, factor), making, where).region
        missing_mm = wanted_mm - _extent(found)[axis]
        if abs(missing_mm) <= SAME_MM:
            break
        factor += missing_mm / extent_mm
    return factor


def _scaled(region: shapely.Geometry, factor: float) -> shapely.Geometry:
    return shapely.transform(region, lambda points: points * factor)


def _extent(region: shapely.Geometry) -> tuple[float, float]:
    left, bottom, right, top = shapely.bounds(region).tolist()
    return right - left, top - bottom


def _no_room(rule: Rule, key: str, wanted_mm: float, where: str) -> Fault:
    return Fault(
        what=f"{rule.text} alone takes {short(2 * rule.offset_mm)} mm, but {key} is "
        f"{short(wanted_mm)}",
        where=f"{where}, {key}",
        do=f"write {key} above {short(2 * rule.offset_mm)}, or a smaller offset",
    )


def _refuse_no_size(
    region: shapely.Geometry, key: str, axis: int, wanted_mm: float, where: str
) -> None:
    """Where islands come and go with the size, there may be none at which the contour fits."""
    found_mm = _extent(region)[axis]
    if abs(found_mm - wanted_mm) > BOTH_MM:
        raise Fault(
            what=f"at no size is the contour {short(wanted_mm)} mm: it comes out at "
            f"{short(found_mm)}, as its islands and corners are left out or kept",
            where=f"{where}, {key}",
            do=f"write {key} = {short(found_mm)}, or another rule for islands and corners",
        )


def _refuse_other_shape(
    region: shapely.Geometry, width_mm: float, height_mm: float, where: str
) -> None:
    """Art is never stretched: width and height together must be the art's own shape."""
    found_mm = _extent(region)[1]
    if abs(found_mm - height_mm) > BOTH_MM:
        raise Fault(
            what=f"at width_mm {short(width_mm)} the contour is {short(found_mm)} mm high, not "
            f"{short(height_mm)}",
            where=f"{where}, height_mm",
            do="leave out height_mm; art is not stretched",
        )
