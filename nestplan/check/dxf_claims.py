"""The DXF cut layers against the SVG ones: a cutter that opens either must cut the same."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestplan.check.cut_layer import CutLayer
from nestplan.check.dxf_file import BrokenDxf, DxfFile, DxfLine, read_dxf
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.folder import dxf_name
from nestplan.check.outlines import Points, area_mm2
from nestplan.check.said import Said
from nestplan.check.words import place
from nestplan.figures import count, fixed

SAME_MM = 0.03  # a curve's chords lie 0.02 mm off it, and both files are rounded
LAYERS = ("kiss", "weed", "through", "marks")
UNITS = {"$INSUNITS": 4, "$MEASUREMENT": 1}  # millimetres; metric
Label = tuple[str, int, int]  # layer, decal, copy; marks: the number and 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ring:
    """A ring that both files should have, in the frame's coordinates, and its element."""

    label: Label
    points: Points
    closed: bool = True


def dxf_claims(said: Said, layers: Sequence[CutLayer], files: Mapping[str, bytes]) -> list[Claim]:
    """Units, layers, rings, order and marks of every DXF that is there."""
    units: list[Finding] = []
    rings: list[Finding] = []
    read = 0
    for layer in layers:
        name = dxf_name(layer.frame.index)
        if name not in files:
            continue
        try:
            drawing = read_dxf(files[name])
        except BrokenDxf as error:
            units.append(_finding(Kind.FILE_BROKEN, name, str(error), "a sound DXF"))
            continue
        read += 1
        units += _units(name, drawing) + _others(name, drawing)
        if layer.read:
            rings += _rings(said, name, layer, drawing)
    if not read and not units:
        return []
    return [
        Claim(
            says=f"{count(read, 'DXF')} in millimetres, nothing in them but cut lines and marks",
            against=tuple(units),
        ),
        Claim(
            says=f"every ring and mark of the SVG is in the DXF, within {SAME_MM:g} mm, on the "
            "same layer and in the same order, and no other is",
            against=tuple(rings),
        ),
    ]


def _units(name: str, drawing: DxfFile) -> list[Finding]:
    return [
        _finding(
            Kind.DXF_UNITS,
            f"{name}, {key}",
            f"{drawing.header[key]:g}" if key in drawing.header else "nothing",
            f"{meant}",
        )
        for key, meant in UNITS.items()
        if drawing.header.get(key) != meant
    ]


def _others(name: str, drawing: DxfFile) -> list[Finding]:
    found = [
        _finding(
            Kind.DXF_EXTRA, f"{name}, layer {other.layer}", other.name, "closed lines and circles"
        )
        for other in drawing.others
    ]
    found += [
        _finding(Kind.DXF_EXTRA, f"{name}, layer {layer}", "hidden", "seen")
        for layer in drawing.hidden
    ]
    return found


def _rings(said: Said, name: str, layer: CutLayer, drawing: DxfFile) -> list[Finding]:
    meant = _meant(layer)
    found: list[_Ring] = []
    against: list[Finding] = []
    opened = {ring.label for ring in meant if not ring.closed}
    weeds = 0
    for line in drawing.lines:
        weeds += line.layer == "weed"
        label = _label(line, weeds)
        if label is None:
            at = place(*_middle(line.points, layer.frame.y0_mm))
            text = f"a ring at {at} that names no copy"
            against.append(
                _finding(Kind.DXF_EXTRA, f"{name}, layer {line.layer}", text, "a copy or a mark")
            )
            continue
        if label not in opened and (not line.closed or abs(area_mm2(line.points)) < 1e-6):
            where = f"{name}, {_who(said, label)}"
            against.append(_finding(Kind.DXF_EXTRA, where, "an open line", "a closed one"))
        found.append(_Ring(label=label, points=line.points, closed=line.closed))
    against += _matched(said, name, layer.frame.y0_mm, meant, found)
    if not against:
        against += _order(said, name, meant, found)
    return against


def _meant(layer: CutLayer) -> list[_Ring]:
    down = np.array([0.0, layer.frame.y0_mm])
    lines: list[tuple[int, _Ring]] = [
        (path.order, _Ring(label=(path.layer, *path.label), points=path.ring - down))
        for path in layer.paths
        if not path.in_pieces
    ]
    numbered = [((number, 0), weed) for number, weed in enumerate(layer.weeds, start=1)]
    labelled = [(piece.label, piece) for piece in layer.pieces if piece.label is not None]
    for label, line in (*labelled, *numbered):
        ring = _Ring(label=(line.layer, *label), points=line.points - down, closed=line.closed)
        lines.append((line.order, ring))
    rings = [ring for _, ring in sorted(lines, key=lambda each: each[0])]
    rings += [
        _Ring(label=("marks", mark.number, 0), points=ring - down)
        for mark in layer.marks
        for ring in mark.rings
    ]
    return rings


def _label(line: DxfLine, weeds: int) -> Label | None:
    """Whose line it is; weed lines are nobody's, and are numbered as they come."""
    if line.layer not in LAYERS:
        return None
    if line.layer == "weed":
        return None if line.numbers else ("weed", weeds, 0)
    if line.layer == "marks":
        return ("marks", line.numbers[0], 0) if len(line.numbers) == 1 else None
    if len(line.numbers) != 2:
        return None
    return line.layer, line.numbers[0], line.numbers[1]


def _who(said: Said, label: Label) -> str:
    if label[0] == "marks":
        return f"mark {label[1]}"
    if label[0] == "weed":
        return f"weed line {label[1]}"
    return said.copy_name(label[1], label[2])


def _matched(
    said: Said, name: str, y0_mm: float, meant: Sequence[_Ring], found: Sequence[_Ring]
) -> list[Finding]:
    """Each ring of the SVG with the nearest of the same copy on the same layer."""
    left: dict[Label, list[_Ring]] = {}
    for ring in found:
        left.setdefault(ring.label, []).append(ring)
    elsewhere = {ring.label[1:]: ring.label[0] for ring in found if ring.label[0] != "marks"}
    against = []
    for ring in meant:
        where = f"{name}, {_who(said, ring.label)}"
        there = left.get(ring.label, [])
        if not there:
            kind = Kind.DXF_MARK if ring.label[0] == "marks" else Kind.DXF_RING
            layer = elsewhere.get(ring.label[1:])
            at = place(*_middle(ring.points, y0_mm))
            text = f"on layer {layer}" if layer and ring.label[0] != "marks" else "nothing"
            against.append(_finding(kind, where, text, f"on layer {ring.label[0]}, at {at}"))
            continue
        apart = [_apart_mm(ring, other) for other in there]
        best = int(np.argmin(apart))
        if apart[best] > SAME_MM:
            against.append(_off(where, ring, there[best], apart[best], y0_mm))
        del there[best]
    for label, rest in left.items():
        kind = Kind.DXF_MARK if label[0] == "marks" else Kind.DXF_RING
        for ring in rest:
            text = f"a ring on layer {label[0]} at {place(*_middle(ring.points, y0_mm))}"
            against.append(
                _finding(kind, f"{name}, {_who(said, label)}", text, "no such ring in the SVG")
            )
    return list(dict.fromkeys(against))


def _off(where: str, meant: _Ring, found: _Ring, apart: float, y0_mm: float) -> Finding:
    """A ring that is elsewhere, or another."""
    step = np.subtract(_middle(found.points, 0.0), _middle(meant.points, 0.0))
    size = np.ptp(found.points, axis=0) - np.ptp(meant.points, axis=0)
    moved = float(np.hypot(*step))
    kind = Kind.DXF_MARK if meant.label[0] == "marks" else Kind.DXF_PLACE
    if moved > SAME_MM:
        text = f"moved by {fixed(moved, 2)} mm, to {place(*_middle(found.points, y0_mm))}"
    elif float(np.abs(size).max()) > SAME_MM:
        wide, tall = np.ptp(found.points, axis=0).tolist()
        text = f"{fixed(wide, 2)} by {fixed(tall, 2)} mm"
    else:
        text = f"another line, up to {fixed(apart, 2)} mm off"
    return _finding(kind, where, text, f"as in the SVG, at {place(*_middle(meant.points, y0_mm))}")


def _order(said: Said, name: str, meant: Sequence[_Ring], found: Sequence[_Ring]) -> list[Finding]:
    """The first place where the files cut another copy."""
    for kind in LAYERS[:3]:
        one, other = (
            [ring.label for ring in rings if ring.label[0] == kind] for rings in (meant, found)
        )
        for at, (wanted, got) in enumerate(zip(one, other, strict=True), start=1):
            if wanted != got:
                return [
                    _finding(
                        Kind.DXF_ORDER,
                        f"{name}, layer {kind}, ring {at}",
                        _who(said, got),
                        f"{_who(said, wanted)} as in the SVG",
                    )
                ]
    return []


def _middle(points: Points, y0_mm: float) -> tuple[float, float]:
    x, y = ((points.min(axis=0) + points.max(axis=0)) / 2).tolist()
    return x, y + y0_mm


def _apart_mm(one: _Ring, other: _Ring) -> float:
    if one.closed != other.closed or len(other.points) < 2 + other.closed:
        return float("inf")
    make = shapely.LinearRing if one.closed else shapely.LineString
    return float(shapely.hausdorff_distance(make(one.points), make(other.points)))


def _finding(kind: Kind, where: str, found: str, meant: str) -> Finding:
    return Finding(kind=kind, where=where, found=found, meant=meant)
