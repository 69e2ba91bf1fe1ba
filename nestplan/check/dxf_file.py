"""DXF read from its group codes, by nobody's library: closed lines with arcs, and circles.

A DXF in text is pairs of lines, a group code and a value (the format's reference, "group codes
in numerical order"): 0 begins an entity, 2 names a section, 8 is a layer, 10 and 20 are places,
40 a radius, 42 a bulge, 70 flags, 1001 the application of extended data, 1071 a whole number.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import ceil, isfinite, pi

import numpy as np
from numpy.typing import NDArray

ARC_MM = 0.002  # how far a chord may leave the arc it stands for
CHORDS_MOST = 2_000
PAIRS_MOST = 20_000_000
FARTHEST_MM = 1e7
APPLICATION = "NESTPLAN"

Points = NDArray[np.float64]


class BrokenDxf(ValueError):
    """What makes it no DXF, in words."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DxfLine:
    """One closed line. numbers: of its extended data; points: chords, (n, 2), as in the file."""

    layer: str
    numbers: tuple[int, ...]
    points: Points
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DxfOther:
    """An entity that is neither a closed line nor a circle."""

    name: str
    layer: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DxfFile:
    """What was read. header: variables by name; layers: those hidden, by name."""

    header: dict[str, float]
    hidden: tuple[str, ...]
    lines: tuple[DxfLine, ...]
    others: tuple[DxfOther, ...]


@dataclass
class _Entity:
    name: str
    pairs: list[tuple[int, str]] = field(default_factory=list)

    def first(self, code: int, default: str = "") -> str:
        return next((value for each, value in self.pairs if each == code), default)


def read_dxf(data: bytes) -> DxfFile:
    """raises: BrokenDxf."""
    pairs = _pairs(data)
    header: dict[str, float] = {}
    hidden: list[str] = []
    lines: list[DxfLine] = []
    others: list[DxfOther] = []
    for section, entities in _sections(pairs):
        match section:
            case "HEADER":
                header = _header(entities)
            case "TABLES":
                hidden = [each.first(2) for each in entities if _is_hidden(each)]
            case "ENTITIES":
                for entity in entities:
                    got = _line(entity)
                    if isinstance(got, DxfLine):
                        lines.append(got)
                    else:
                        others.append(got)
    return DxfFile(header=header, hidden=tuple(hidden), lines=tuple(lines), others=tuple(others))


def _pairs(data: bytes) -> list[tuple[int, str]]:
    if data[:18].startswith(b"AutoCAD Binary DXF"):
        raise BrokenDxf("binary, not text")
    try:
        rows = data.decode("utf-8").splitlines()
    except UnicodeDecodeError:
        rows = data.decode("cp1252", errors="replace").splitlines()
    if len(rows) > 2 * PAIRS_MOST:
        raise BrokenDxf("too long to be a cut layer")
    if len(rows) % 2:
        raise BrokenDxf("a group code without a value at its end")
    try:
        codes = [int(code) for code in rows[::2]]
    except ValueError as error:
        raise BrokenDxf("a line that should be a group code is no number") from error
    pairs = list(zip(codes, (value.strip() for value in rows[1::2]), strict=True))
    if not pairs or pairs[-1] != (0, "EOF"):
        raise BrokenDxf("no end of file: it was cut short")
    return pairs


def _sections(pairs: Sequence[tuple[int, str]]) -> Iterator[tuple[str, list[_Entity]]]:
    """Name of each section and what begins with group 0 in it; the header is one entity."""
    name = ""
    entities: list[_Entity] = []
    for k, (code, value) in enumerate(pairs):
        if code == 0 and value == "SECTION":
            name, entities = "", [_Entity("")]
        elif code == 0 and value == "ENDSEC":
            yield name, [each for each in entities if each.name or name == "HEADER"]
            name, entities = "", []
        elif code == 2 and not name and k and pairs[k - 1] == (0, "SECTION"):
            name = value
        elif code == 0 and name:
            entities.append(_Entity(value))
        elif entities:
            entities[-1].pairs.append((code, value))


def _header(entities: Sequence[_Entity]) -> dict[str, float]:
    """The variables that are one number."""
    variables: dict[str, float] = {}
    name = ""
    for code, value in entities[0].pairs if entities else ():
        if code == 9:
            name = value
        elif name and name not in variables and code in (10, 40, 50, 70, 280, 290):
            variables[name] = _number(value)
    return variables


def _is_hidden(entity: _Entity) -> bool:
    """A layer that is frozen (flag 1) or off (a colour below zero)."""
    if entity.name != "LAYER":
        return False
    return bool(_whole(entity.first(70, "0")) & 1) or _whole(entity.first(62, "7")) < 0


def _line(entity: _Entity) -> DxfLine | DxfOther:
    layer = entity.first(8, "0")
    plane = [_number(entity.first(code, "0")) for code in (210, 220)]
    if entity.name not in ("LWPOLYLINE", "CIRCLE") or plane != [0.0, 0.0]:
        return DxfOther(name=entity.name, layer=layer)
    if _number(entity.first(230, "1")) < 0:
        return DxfOther(name=f"{entity.name} seen from behind", layer=layer)
    if entity.name == "CIRCLE":
        x, y, radius = (_number(entity.first(code)) for code in (10, 20, 40))
        points, closed = _circle(x, y, radius), True
    else:
        points, closed = _polyline(entity), bool(_whole(entity.first(70, "0")) & 1)
    return DxfLine(layer=layer, numbers=_numbers(entity), points=points, closed=closed)


def _numbers(entity: _Entity) -> tuple[int, ...]:
    """Whole numbers of our own extended data."""
    ours, numbers = False, []
    for code, value in entity.pairs:
        if code == 1001:
            ours = value == APPLICATION
        elif code == 1071 and ours:
            numbers.append(_whole(value))
    return tuple(numbers)


def _polyline(entity: _Entity) -> Points:
    """Its vertices, and chords where a bulge stands."""
    places: list[list[float]] = []
    for code, value in entity.pairs:
        if code == 10:
            places.append([_number(value), 0.0, 0.0])
        elif code in (20, 42) and places:
            places[-1][1 if code == 20 else 2] = _number(value)
        elif code == 1001:
            break
    if len(places) < 2:
        raise BrokenDxf("a line of fewer than two points")
    vertices = np.array(places)
    if np.abs(vertices).max() > FARTHEST_MM:
        raise BrokenDxf("a place that is on no film")
    chords: list[Points] = []
    for start, end in zip(vertices, np.roll(vertices, -1, axis=0), strict=True):
        chords.append(start[np.newaxis, :2])
        if start[2]:
            chords.append(_arc(start[:2], end[:2], float(start[2])))
    return np.vstack(chords)


def _arc(start: Points, end: Points, bulge: float) -> Points:
    """Places on an arc between its ends; bulge is tan of a quarter of its angle."""
    chord = end - start
    length = float(np.hypot(*chord))
    if length == 0:
        return np.zeros((0, 2))
    angle = 4 * float(np.arctan(bulge))
    radius = length * (1 + bulge * bulge) / (4 * abs(bulge))
    normal = np.array([-chord[1], chord[0]]) / length
    centre = (start + end) / 2 + normal * (length * (1 - bulge * bulge) / (4 * bulge))
    turns = np.arange(1, n := _chords(radius, abs(angle))) * (angle / n)
    arm = start - centre
    across = arm[0] * np.cos(turns) - arm[1] * np.sin(turns)
    up = arm[0] * np.sin(turns) + arm[1] * np.cos(turns)
    points: Points = centre + np.column_stack([across, up])
    return points


def _circle(x: float, y: float, radius: float) -> Points:
    if not 0 < radius <= FARTHEST_MM or max(abs(x), abs(y)) > FARTHEST_MM:
        raise BrokenDxf("a circle that is on no film")
    turns = np.arange(n := _chords(radius, 2 * pi)) * (2 * pi / n)
    return np.column_stack([x + radius * np.cos(turns), y + radius * np.sin(turns)])


def _chords(radius: float, angle: float) -> int:
    step = 2 * float(np.arccos(max(1 - ARC_MM / radius, 0.0))) if radius > ARC_MM else pi / 2
    return min(CHORDS_MOST, max(4, ceil(angle / max(step, 1e-6))))


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError as error:
        raise BrokenDxf(f"{text[:20]!r} where a number should be") from error
    if not isfinite(value):
        raise BrokenDxf("a number without measure")
    return value


def _whole(text: str) -> int:
    try:
        return int(text) if len(text) < 20 else 0
    except ValueError as error:
        raise BrokenDxf(f"{text[:20]!r} where a whole number should be") from error
