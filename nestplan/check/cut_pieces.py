"""Contours that are cut in pieces: tabs left, edges shared with a neighbour, a knife that runs on.

Pieces are held against the planned contours themselves, whoever's they say they are: together
they must cover every contour but for its tabs, and nothing else, each edge once. A contour that
they cover is taken as cut where it was planned.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_copy import pose_of, unmatched
from nestplan.check.cut_layer import CutLayer, CutPath, CutPiece
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.odd import Key
from nestplan.check.outlines import SAME_MM, Contour, Points, area_mm2, region_of
from nestplan.check.said import Said
from nestplan.check.words import place
from nestplan.figures import count, fixed

COVERS_MM = 1.5 * SAME_MM  # a piece covers what lies so near to it
SPECK_MM = 0.05  # of a line: what joints and rounding may take
HALF = 0.5  # of a ring, less of which is cut: then it is lost
TAB_AT_EDGE_MM = 10.0  # tabs stay so far from the film's edges and the frame's ends
TAB_AT_MARK_MM = 5.0  # and from clear zones
MOST = 20  # findings of one kind a layer
KINDS = ("kiss", "through")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ring:
    """A planned ring that no whole path of the file is."""

    key: Key
    kind: str
    points: Points
    outer: bool
    line: BaseGeometry


@dataclass(slots=True, kw_only=True, eq=False)
class _Read:
    """What a layer's pieces came to. tabs: places of the gaps that are as wide as one."""

    whole: list[CutPath] = field(default_factory=list)
    lost: list[Finding] = field(default_factory=list)
    tabs: list[Points] = field(default_factory=list)
    tab_faults: list[Finding] = field(default_factory=list)
    gaps_mm: float = 0.0


def piece_claims(
    said: Said, contours: Sequence[Contour], layers: Sequence[CutLayer]
) -> tuple[list[CutLayer], list[Claim]]:
    """The layers with whole rings in place of pieces, and the claims; none without pieces."""
    wants_tabs = said.inputs.job.tabs is not None
    over_mm = said.cutter().overcut_mm
    if not (wants_tabs or over_mm or any(layer.pieces for layer in layers)):
        return list(layers), []
    joined, covered, once, tabbed, tabs = [], [], [], [], 0
    for layer in layers:
        rings = list(_in_pieces(said, contours, layer))
        read = _covered(said, layer, rings)
        joined.append(replace(layer, paths=(*layer.paths, *read.whole)))
        strays = _strays(said, contours, layer)
        covered += [*read.lost[:MOST], *strays[:MOST]]
        if not read.lost and not strays:
            once += _not_once(said, layer, rings, read, over_mm)
        once += _not_run_on(said, layer, over_mm)[:MOST]
        tabbed += read.tab_faults[:MOST]
        tabs += len(read.tabs)
    if wants_tabs and all(layer.read for layer in layers):
        declared = said.cut.tabs.count if said.cut.tabs is not None else 0
        if declared != tabs:
            found, meant = f"{declared} in the summary", f"{tabs} in the cut layers"
            tabbed.append(_finding(Kind.COUNT_WRONG, "cut.tabs", found, meant))
    claims = [
        Claim(
            says="pieces of cut lines cover the contours they stand for, and nothing else",
            against=tuple(covered),
        ),
        Claim(
            says="every edge is cut once"
            + (f", and the knife runs on by {fixed(over_mm, 2)} mm" if over_mm else ""),
            against=tuple(once),
        ),
    ]
    if wants_tabs:
        says = f"{count(tabs, 'tab')} as wide as asked, off marks and the film's edges"
        claims.append(Claim(says=says, against=tuple(tabbed)))
    return joined, claims


def _in_pieces(said: Said, contours: Sequence[Contour], layer: CutLayer) -> Iterator[_Ring]:
    """Planned rings of a frame that its whole paths lack, where the layer has pieces at all."""
    if not layer.pieces:
        return
    paths: dict[Key, list[Points]] = {}
    for path in layer.paths:
        paths.setdefault(path.label, []).append(path.ring)
    for placement in layer.frame.placements:
        key, pose = (placement.decal, placement.copy_), pose_of(placement)
        contour = contours[key[0] - 1]
        for model in contour.cut:
            alone = replace(contour, rings=(model,), backing=())
            if any(unmatched(alone, pose, [ring])[0] == 0 for ring in paths.get(key, [])):
                continue
            backing = any(model is ring for ring in contour.backing)
            points = pose.put(model)
            yield _Ring(
                key=key,
                kind="through" if backing else said.decals[key[0] - 1].cut,
                points=points,
                outer=area_mm2(model) > 0,
                line=shapely.LinearRing(points),
            )


def _covered(said: Said, layer: CutLayer, rings: Sequence[_Ring]) -> _Read:
    """Each ring held against the pieces near it, those of its own kind of cut first."""
    read = _Read()
    for kind in KINDS:
        pieces = [piece for piece in layer.pieces if piece.layer == kind]
        wanted = [ring for ring in rings if ring.kind == kind]
        if not wanted or not pieces:
            continue
        lines = np.array([shapely.LineString(piece.line) for piece in pieces], dtype=object)
        tree = shapely.STRtree(lines)
        for ring in wanted:
            near = np.sort(tree.query(ring.line, predicate="dwithin", distance=SAME_MM))
            if len(near):
                gaps = _gaps(ring, lines[near])
                _judge(said, layer, ring, gaps, max(pieces[k].order for k in near.tolist()), read)
    return read


def _gaps(ring: _Ring, lines: NDArray[np.object_]) -> list[BaseGeometry]:
    """Parts of a ring that no piece covers."""
    cover = shapely.union_all(shapely.buffer(lines, COVERS_MM, cap_style="flat"))
    bare = shapely.LineString(ring.line.coords).difference(cover)
    bare = shapely.line_merge(bare) if bare.geom_type == "MultiLineString" else bare
    return [part for part in shapely.get_parts(bare) if part.length > SPECK_MM]


def _judge(
    said: Said,
    layer: CutLayer,
    ring: _Ring,
    gaps: Sequence[BaseGeometry],
    order: int,
    read: _Read,
) -> None:
    """Tabs are told from what is lost; a ring that is mostly there counts as cut."""
    job = said.inputs.job
    width = job.tabs.width_mm if job.tabs is not None and ring.kind == "through" else None
    tabs = [gap for gap in gaps if width is not None and abs(gap.length - width) <= SPECK_MM]
    lost_mm = sum(gap.length for gap in gaps) - sum(tab.length for tab in tabs)
    where = f"{layer.file}, {said.copy_name(*ring.key)}"
    if lost_mm > SPECK_MM:
        found = f"{fixed(lost_mm, 2)} mm of {fixed(ring.line.length, 2)} mm round it not cut"
        meant = "all of it" if width is None else f"all but tabs of {fixed(width, 2)} mm"
        read.lost.append(_finding(Kind.PIECE_LOST, where, found, meant))
        if lost_mm > HALF * ring.line.length:
            return
    read.gaps_mm += sum(gap.length for gap in gaps)
    read.tabs += [np.asarray(tab.interpolate(0.5, normalized=True).coords)[0] for tab in tabs]
    if width is not None and ring.outer and len(tabs) < 2:
        found = count(len(tabs), "tab")
        read.tab_faults.append(_finding(Kind.TAB_WRONG, where, found, "2 tabs at least"))
    for tab in tabs:
        for found, meant in _ill_placed(said, layer, tab):
            read.tab_faults.append(_finding(Kind.TAB_WRONG, where, found, meant))
    read.whole.append(
        CutPath(layer=ring.kind, label=ring.key, ring=ring.points, order=order, in_pieces=True)
    )


def _ill_placed(said: Said, layer: CutLayer, tab: BaseGeometry) -> Iterator[tuple[str, str]]:
    """A tab too near to a mark or to an edge of the film or the frame."""
    frame, at = layer.frame, place(*np.asarray(tab.coords)[0, :2].tolist())
    film = shapely.box(0.0, frame.y0_mm, said.roll.width_mm, frame.y0_mm + frame.length_mm)
    edge_mm = float(shapely.distance(tab, film.exterior))
    if edge_mm < TAB_AT_EDGE_MM - SPECK_MM:
        found = f"a tab at {at}, {fixed(edge_mm, 2)} mm from the edge of the film or frame"
        yield found, f"at least {fixed(TAB_AT_EDGE_MM, 0)} mm"
    asked = said.marks.clear_mm + TAB_AT_MARK_MM
    for mark in layer.marks:
        away = float(shapely.distance(tab, region_of(mark.rings)))
        if away < asked - SPECK_MM:
            found = f"a tab at {at}, {fixed(away, 2)} mm from mark {mark.number}"
            yield found, f"at least {fixed(asked, 1)} mm"


def _strays(said: Said, contours: Sequence[Contour], layer: CutLayer) -> list[Finding]:
    """Pieces that leave the contours of their kind of cut, whoever's they are."""
    if not layer.pieces:
        return []
    lines: dict[str, list[BaseGeometry]] = {kind: [] for kind in KINDS}
    for placement in layer.frame.placements:
        contour, pose = contours[placement.decal - 1], pose_of(placement)
        own = said.decals[placement.decal - 1].cut
        lines[own] += [shapely.LinearRing(pose.put(ring)) for ring in contour.rings]
        lines["through"] += [shapely.LinearRing(pose.put(ring)) for ring in contour.backing]
    trees = {kind: shapely.STRtree(np.array(each, dtype=object)) for kind, each in lines.items()}
    against = []
    for piece in layer.pieces:
        line = shapely.LineString(piece.line)
        here = trees[piece.layer].query(line, predicate="dwithin", distance=COVERS_MM)
        near = [lines[piece.layer][k] for k in np.sort(here).tolist()]
        off = line.difference(shapely.union_all(shapely.buffer(near, COVERS_MM)))
        if off.length > SPECK_MM:
            where = f"{layer.file}, layer {piece.layer}, {_who(said, piece)}"
            found = f"{fixed(off.length, 2)} mm of a piece off every contour that is cut so"
            against.append(_finding(Kind.PIECE_STRAY, where, found, "on the contour"))
    return against


def _not_once(
    said: Said, layer: CutLayer, rings: Sequence[_Ring], read: _Read, over_mm: float
) -> list[Finding]:
    """Pieces are as long together as all edges, those that contours share counted once."""
    edges = np.array([ring.line for ring in rings], dtype=object)
    shared = 0.0
    if said.inputs.job.gutter_mm == 0 and len(edges):
        tree = shapely.STRtree(edges)
        one, other = tree.query(edges, predicate="dwithin", distance=SAME_MM)
        for k in np.unique(one).tolist():
            near = [j for j in np.sort(other[one == k]).tolist() if j < k]
            near = [j for j in near if rings[j].kind == rings[k].kind]
            if near:
                cover = shapely.union_all(shapely.buffer(edges[near], SAME_MM, cap_style="flat"))
                both = shapely.get_parts(edges[k].intersection(cover))
                shared += float(sum(part.length for part in both if part.length > SPECK_MM))
    closing = sum(over_mm > 0 and _comes_round(piece) for piece in layer.pieces)
    meant = sum(ring.line.length for ring in rings) - shared - read.gaps_mm + closing * over_mm
    found = sum(float(shapely.LineString(piece.line).length) for piece in layer.pieces)
    near_mm = SPECK_MM * (2 + len(rings)) + 1e-4 * meant
    if abs(found - meant) <= near_mm:
        return []
    return [
        _finding(
            Kind.EDGE_TWICE,
            layer.file,
            f"pieces of {fixed(found, 2)} mm in all",
            f"{fixed(meant, 2)} mm: each edge once",
        )
    ]


def _comes_round(piece: CutPiece) -> bool:
    """An open piece that passes its own start again and runs on."""
    if piece.closed or len(piece.points) < 4:
        return False
    line = shapely.LineString(piece.points)
    rest = shapely.LineString(piece.points[2:])
    return bool(rest.distance(shapely.Point(piece.points[0])) <= SAME_MM and line.length > 0)


def _not_run_on(said: Said, layer: CutLayer, over_mm: float) -> list[Finding]:
    """With an overcut no ring ends where it began, and each runs on by as much."""
    if not over_mm:
        return []
    against = []
    for path in layer.paths:
        where = f"{layer.file}, {said.copy_name(*path.label)}"
        against.append(
            _finding(Kind.OVERCUT_WRONG, where, "ends at its start", f"{fixed(over_mm, 2)} mm on")
        )
    for piece in layer.pieces:
        line = shapely.LineString(piece.line)
        found_mm = 0.0
        if not piece.closed:
            if not _comes_round(piece):
                continue
            begun = line.interpolate(line.length - over_mm)
            away = float(begun.distance(shapely.Point(piece.points[0])))
            if away <= SAME_MM + SPECK_MM:
                continue
            found_mm = max(0.0, over_mm - away)
        where = f"{layer.file}, {_who(said, piece)}"
        found = f"runs on by about {fixed(found_mm, 2)} mm"
        against.append(_finding(Kind.OVERCUT_WRONG, where, found, f"{fixed(over_mm, 2)} mm"))
    return against


def _who(said: Said, piece: CutPiece) -> str:
    return said.copy_name(*piece.label) if piece.label is not None else "a weed line"


def _finding(kind: Kind, where: str, found: str, meant: str) -> Finding:
    return Finding(kind=kind, where=where, found=found, meant=meant)
