"""The cut layer against the summary: every copy there, once, whole, where it was planned.

What comes out is also used further on: each copy as it is really cut, with the pose
that fits it best. The print is held against that, not against the summary, so that a
summary which was bent to one file still meets the other.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import radians

import numpy as np
import shapely

from nestplan.check.cut_layer import CutLayer, CutPath
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together, moved_together
from nestplan.check.odd import Key, Odd, told
from nestplan.check.outlines import (
    SAME_MM,
    Contour,
    Fit,
    Points,
    Pose,
    area_mm2,
    fit_ring,
    middle_of,
    region_of,
    ring_apart_mm,
    same_points,
)
from nestplan.check.poses import PoseKinds, pose_odds
from nestplan.check.said import Said, SaidFrame, SaidPlacement
from nestplan.check.words import holes_words
from nestplan.figures import count, fixed

LOOSE = 2.5  # a fitted pose is rounded to the planned one: then lines may be a little farther off
FAR_MM = 5.0  # a copy this far off may stand in another's place


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Copy:
    """A copy as it is cut. contour: its own rings about its own centre, at pose."""

    frame: int
    key: Key
    pose: Pose
    rings: tuple[Points, ...]  # run coordinates
    contour: Contour
    as_planned: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Read:
    """How a copy's rings fit its planned place."""

    pose: Pose
    off_mm: float
    missing: int
    spare: int
    exact: bool


def cut_copies(
    said: Said, contours: Sequence[Contour], layers: Sequence[CutLayer]
) -> tuple[list[Copy], dict[int, Together], list[Claim]]:
    """Every copy as cut, how each frame (by index) is moved as a whole, and the claims."""
    copies: list[Copy] = []
    moves: dict[int, Together] = {}
    there: list[Finding] = []
    shaped: list[Finding] = []
    layered: list[Finding] = []
    at_home = {(p.decal, p.copy_): frame.index for frame in said.frames for p in frame.placements}
    for layer in layers:
        if not layer.read:
            continue
        groups = _by_copy(layer.paths)
        there += _absent(said, layer, groups, at_home)
        got, moves[layer.frame.index], against = _frame_copies(said, contours, layer, groups)
        copies += got
        shaped += against
        layered += _wrong_layer(said, layer)
        layered += _wrong_order(said, layer, groups)
    number = count(len(copies), "copy", "copies")
    claims = [
        Claim(says=f"every planned copy is cut, and no other: {number}", against=tuple(there)),
        Claim(
            says=f"every ring lies where it was planned, within {SAME_MM:g} mm",
            against=tuple(shaped),
        ),
        Claim(
            says="kiss and through cuts are on their layers, holes before their outlines",
            against=tuple(layered),
        ),
    ]
    return copies, moves, claims


def pose_of(placement: SaidPlacement) -> Pose:
    """Where the summary puts a copy."""
    return Pose(
        x_mm=placement.x_mm,
        y_mm=placement.y_mm,
        angle_deg=placement.angle_deg,
        mirrored=placement.mirrored,
    )


def _by_copy(paths: Sequence[CutPath]) -> dict[Key, list[CutPath]]:
    groups: dict[Key, list[CutPath]] = defaultdict(list)
    for path in paths:
        groups[path.label].append(path)
    return groups


def _absent(
    said: Said, layer: CutLayer, groups: dict[Key, list[CutPath]], at_home: dict[Key, int]
) -> list[Finding]:
    index = layer.frame.index
    against = []
    for key, frame in at_home.items():
        if frame == index and key not in groups:
            where = f"{layer.file}, {said.copy_name(*key)}"
            against.append(
                Finding(kind=Kind.CUT_MISSING, where=where, found="no ring", meant="a contour")
            )
    for key in groups:
        if at_home.get(key) != index:
            home = at_home.get(key)
            meant = f"only in frame {home}" if home else "no such copy is planned"
            where = f"{layer.file}, {said.copy_name(*key)}"
            against.append(
                Finding(kind=Kind.CUT_EXTRA, where=where, found="a contour", meant=meant)
            )
    return against


def _frame_copies(
    said: Said,
    contours: Sequence[Contour],
    layer: CutLayer,
    groups: dict[Key, list[CutPath]],
) -> tuple[list[Copy], Together, list[Finding]]:
    planned = {(p.decal, p.copy_): pose_of(p) for p in layer.frame.placements}
    rings = {key: [path.ring for path in paths] for key, paths in groups.items()}
    reads = {
        key: _read(contours[key[0] - 1], planned[key], rings[key])
        for key in planned
        if key in rings
    }
    together = _together(layer, planned, reads)
    odds: list[Odd] = []
    for key, read in reads.items():
        if read.exact:
            continue
        back, again = rings[key], read
        if together is not UNMOVED:
            back = [together.back(ring) for ring in back]
            again = _read(contours[key[0] - 1], planned[key], back)
        odds += _judged(said, contours, planned, key, back, again)
    there = Counter(key[0] for key in reads)
    against = _whole_sheet(layer, together) + told(said, layer.file, odds, there)
    copies = [_copy(contours, layer.frame, key, rings[key], read) for key, read in reads.items()]
    return copies, together, against


def _together(layer: CutLayer, planned: dict[Key, Pose], reads: dict[Key, _Read]) -> Together:
    """How the whole layer is moved, from the places of its copies and marks."""
    pairs = [
        ((planned[key].x_mm, planned[key].y_mm), (read.pose.x_mm, read.pose.y_mm))
        for key, read in reads.items()
    ]
    marks = {mark.mark: (mark.x_mm, mark.y_mm) for mark in layer.frame.marks}
    pairs += [
        (marks[mark.number], tuple(middle_of(mark.rings).tolist()))
        for mark in layer.marks
        if mark.number in marks
    ]
    both = np.array(pairs).reshape(-1, 2, 2)
    return moved_together(both[:, 0], both[:, 1])


def _whole_sheet(layer: CutLayer, together: Together) -> list[Finding]:
    if together is UNMOVED:
        return []
    kind = Kind.CUT_SIZE if together.is_sized else Kind.CUT_MOVED
    kind = Kind.CUT_TURNED if together.is_turned else kind
    return [
        Finding(
            kind=kind,
            where=f"{layer.file}, the whole layer",
            found=together.words,
            meant="as the summary places them",
        )
    ]


def _read(contour: Contour, pose: Pose, rings: Sequence[Points]) -> _Read:
    """Find a contour's rings among those read: first as planned, then wherever they are."""
    missing, spare = _unmatched(contour, pose, rings)
    if not missing and not spare:
        return _Read(pose=pose, off_mm=0.0, missing=0, spare=0, exact=True)
    biggest = max(rings, key=lambda ring: abs(area_mm2(ring)))
    fit = fit_ring(contour.rings[0], biggest, pose)
    fit = Fit(pose=_simplified(fit.pose, pose, contour.reach_mm), off_mm=fit.off_mm)
    missing, spare = _unmatched(contour, fit.pose, rings, LOOSE * SAME_MM)
    still = not fit.pose.shifted_from(pose) and fit.pose == pose
    return _Read(
        pose=fit.pose,
        off_mm=fit.off_mm,
        missing=missing,
        spare=spare,
        exact=still and not missing and not spare,
    )


def _simplified(found: Pose, planned: Pose, reach_mm: float) -> Pose:
    """The planned pose where the found one differs by less than anybody could see."""
    turn_mm = abs(radians(found.turned_from(planned))) * reach_mm
    size_mm = abs(found.scale - planned.scale) * reach_mm
    same = max(turn_mm, size_mm, found.shifted_from(planned)) <= SAME_MM / 2
    return planned if same and found.mirrored == planned.mirrored else found


def _unmatched(
    contour: Contour, pose: Pose, rings: Sequence[Points], within_mm: float = SAME_MM
) -> tuple[int, int]:
    """How many rings of the contour are not among those read, and how many are left over."""
    left = list(rings)
    missing = 0
    for model in contour.rings:
        meant = pose.put(model)
        for k, ring in enumerate(left):
            if same_points(meant, ring, within_mm) or _same_line(meant, ring, within_mm):
                del left[k]
                break
        else:
            missing += 1
    return missing, len(left)


def _same_line(meant: Points, ring: Points, within_mm: float) -> bool:
    """The same line with other points on it, such as a start between two corners."""
    if len(meant) == len(ring):
        return False  # as many points, but elsewhere: a turned disc looks so
    low, high = meant.min(axis=0) - ring.min(axis=0), meant.max(axis=0) - ring.max(axis=0)
    if max(np.abs(low).max(), np.abs(high).max()) > within_mm:
        return False
    return ring_apart_mm(meant, ring) <= within_mm


def _judged(
    said: Said,
    contours: Sequence[Contour],
    planned: dict[Key, Pose],
    key: Key,
    rings: Sequence[Points],
    read: _Read,
) -> list[Odd]:
    """What is wrong with one copy, said as specifically as the figures allow."""
    if read.exact:
        return []
    contour, meant = contours[key[0] - 1], planned[key]
    if read.off_mm > SAME_MM or read.pose.shifted_from(meant) > FAR_MM:
        swap = _another_place(said, contours, planned, key, rings)
        if swap:
            return [Odd(key=key, kind=Kind.CUT_SWAPPED, found=swap, meant="its own place")]
    if read.off_mm > SAME_MM:
        found = _another_shape(said, contours, key, rings) or (
            f"up to {fixed(read.off_mm, 2)} mm off its outline"
        )
        return [Odd(key=key, kind=Kind.CUT_SHAPE, found=found, meant="its own outline")]
    return [
        *pose_odds(_CUT_KINDS, key, read.pose, meant, contour.reach_mm),
        *_ring_odds(key, contour, read),
    ]


_CUT_KINDS = PoseKinds(
    moved=Kind.CUT_MOVED, turned=Kind.CUT_TURNED, size=Kind.CUT_SIZE, mirrored=Kind.CUT_MIRRORED
)


def _ring_odds(key: Key, contour: Contour, read: _Read) -> list[Odd]:
    holes = len(contour.rings) - 1
    if read.missing and read.spare:
        found = f"{count(min(read.missing, read.spare), 'ring')} elsewhere or of another shape"
        return [Odd(key=key, kind=Kind.CUT_SHAPE, found=found, meant="its own rings")]
    if read.missing:
        found = holes_words(holes - read.missing)
        return [Odd(key=key, kind=Kind.HOLE_LOST, found=found, meant=holes_words(holes))]
    if read.spare:
        found, meant = f"{count(read.spare, 'ring')} more", count(len(contour.rings), "ring")
        return [Odd(key=key, kind=Kind.RING_EXTRA, found=found, meant=meant)]
    return []


def _another_place(
    said: Said,
    contours: Sequence[Contour],
    planned: dict[Key, Pose],
    key: Key,
    rings: Sequence[Points],
) -> str | None:
    """Whose place these rings are in, where they fit it exactly."""
    centre = middle_of(rings)
    for other, pose in planned.items():
        if (
            other == key
            or np.hypot(*(centre - (pose.x_mm, pose.y_mm))) > contours[other[0] - 1].reach_mm
        ):
            continue
        if _unmatched(contours[other[0] - 1], pose, rings) == (0, 0):
            return f"in the place of {said.copy_name(*other)}"
    return None


def _another_shape(
    said: Said, contours: Sequence[Contour], key: Key, rings: Sequence[Points]
) -> str | None:
    """Which other decal has this shape."""
    biggest = max(rings, key=lambda ring: abs(area_mm2(ring)))
    for number, contour in enumerate(contours, start=1):
        if number == key[0]:
            continue
        fit = fit_ring(contour.rings[0], biggest, Pose(x_mm=0.0, y_mm=0.0))
        if fit.off_mm <= SAME_MM and abs(fit.pose.scale - 1) < 0.02:
            return f"the outline of {said.name(number)}"
    return None


def _copy(
    contours: Sequence[Contour],
    frame: SaidFrame,
    key: Key,
    rings: Sequence[Points],
    read: _Read,
) -> Copy:
    contour = contours[key[0] - 1]
    as_planned = read.missing == 0 and read.spare == 0
    if not as_planned:
        own = sorted((read.pose.back(ring) for ring in rings), key=lambda r: -abs(area_mm2(r)))
        contour = Contour(rings=tuple(own), bleed_mm=contour.bleed_mm)
    return Copy(
        frame=frame.index,
        key=key,
        pose=read.pose,
        rings=tuple(rings),
        contour=contour,
        as_planned=as_planned,
    )


def _wrong_layer(said: Said, layer: CutLayer) -> list[Finding]:
    """A copy's rings on a layer that is not its decal's."""
    wrong = {path.label: path.layer for path in layer.paths if path.layer != _kind(said, path)}
    return [
        Finding(
            kind=Kind.CUT_LAYER,
            where=f"{layer.file}, {said.copy_name(*key)}",
            found=found,
            meant=said.decals[key[0] - 1].cut,
        )
        for key, found in wrong.items()
    ]


def _kind(said: Said, path: CutPath) -> str:
    return said.decals[path.label[0] - 1].cut


def _wrong_order(said: Said, layer: CutLayer, groups: dict[Key, list[CutPath]]) -> list[Finding]:
    """A ring inside another of the same copy must come before it: what is cut out moves."""
    against = []
    for key, paths in groups.items():
        if len(paths) < 2:
            continue
        first = min(paths, key=lambda path: path.order)
        biggest = max(paths, key=lambda path: abs(area_mm2(path.ring)))
        if first is biggest and _holds(biggest.ring, paths):
            where = f"{layer.file}, {said.copy_name(*key)}"
            against.append(
                Finding(
                    kind=Kind.CUT_ORDER, where=where, found="outline first", meant="holes first"
                )
            )
    return against


def _holds(outer: Points, paths: Sequence[CutPath]) -> bool:
    inside = region_of([outer])
    others = [shapely.Point(path.ring[0]) for path in paths if path.ring is not outer]
    return any(inside.contains(point) for point in others)
