"""The cut layer against the summary: every copy there, once, whole, where it was planned.

What comes out is also used further on: each copy as it is really cut, with the pose
that fits it best. The print is held against that, not against the summary, so that a
summary which was bent to one file still meets the other.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence

import numpy as np
import shapely

from nestplan.check.cut_copy import Copy, CopyRead, copy_of, is_backing, pose_of, read_copy
from nestplan.check.cut_layer import CutLayer, CutPath
from nestplan.check.cut_odds import cut_odds
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together, moved_together
from nestplan.check.odd import Key, Odd, told
from nestplan.check.outlines import (
    SAME_MM,
    Contour,
    Points,
    Pose,
    area_mm2,
    middle_of,
    region_of,
)
from nestplan.check.said import Said
from nestplan.figures import count


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
        layered += _wrong_layer(said, contours, layer)
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
        key: read_copy(contours[key[0] - 1], planned[key], rings[key])
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
            again = read_copy(contours[key[0] - 1], planned[key], back)
        odds += cut_odds(said, contours, planned, key, back, again)
    there = Counter(key[0] for key in reads)
    against = _whole_sheet(layer, together) + told(said, layer.file, odds, there)
    copies = [copy_of(contours, layer.frame, key, rings[key], read) for key, read in reads.items()]
    return copies, together, against


def _together(layer: CutLayer, planned: dict[Key, Pose], reads: dict[Key, CopyRead]) -> Together:
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


def _wrong_layer(said: Said, contours: Sequence[Contour], layer: CutLayer) -> list[Finding]:
    """A copy's rings on a layer that is not its decal's; a backing is cut through."""
    wrong = {
        path.label: (path.layer, meant)
        for path in layer.paths
        if path.layer != (meant := _kind(said, contours, path))
    }
    return [
        Finding(
            kind=Kind.CUT_LAYER,
            where=f"{layer.file}, {said.copy_name(*key)}",
            found=found,
            meant=meant,
        )
        for key, (found, meant) in wrong.items()
    ]


def _kind(said: Said, contours: Sequence[Contour], path: CutPath) -> str:
    number = path.label[0] - 1
    if is_backing(contours[number], path.ring):
        return "through"
    return said.decals[number].cut


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
