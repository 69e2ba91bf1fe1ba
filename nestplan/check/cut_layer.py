"""A frame's cut layer, read from SVG with nothing but an XML parser.

Everything is brought to run coordinates here, at the size the file itself claims, so
that a wrong viewBox is seen as decals of the wrong size.
"""

import re
from dataclasses import dataclass

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from nestplan.check.findings import Finding, Kind
from nestplan.check.outlines import area_mm2
from nestplan.check.path_data import rings_of
from nestplan.check.said import Said, SaidFrame
from nestplan.figures import count, fixed

SVG = "{http://www.w3.org/2000/svg}"
MM_PER = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "px": 25.4 / 96, "": 25.4 / 96}
LENGTH = re.compile(r"\s*([0-9.eE+-]+)\s*(mm|cm|in|pt|px|)\s*")
LAYERS = ("kiss", "weed", "through", "marks")
SILENT = {"svg", "g", "title", "desc", "metadata", "defs"}  # elements that draw nothing
TRUE_SIZE_MM = 0.001  # a sheet's size and a unit over the whole sheet


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutPath:
    """One ring as the knife will follow it, in run coordinates. label: decal and copy.

    in_pieces: no path of the file; it stands for the pieces that cover the ring.
    """

    layer: str
    label: tuple[int, int]
    ring: NDArray[np.float64]
    order: int  # in the file
    in_pieces: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutPiece:
    """A line that is no whole ring. label: decal and copy of a piece; none of a weed line."""

    layer: str
    label: tuple[int, int] | None
    points: NDArray[np.float64]  # (n, 2), run coordinates
    closed: bool
    order: int

    @property
    def line(self) -> NDArray[np.float64]:
        """Its whole way, back to the first point where it is closed."""
        return np.vstack([self.points, self.points[:1]]) if self.closed else self.points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutMark:
    """One mark as the cut layer has it, in run coordinates."""

    number: int
    rings: tuple[NDArray[np.float64], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutLayer:
    """A whole cut layer and what was wrong while it was read."""

    file: str
    frame: SaidFrame
    paths: tuple[CutPath, ...]
    marks: tuple[CutMark, ...]
    against: tuple[Finding, ...]
    read: bool = True
    pieces: tuple[CutPiece, ...] = ()
    weeds: tuple[CutPiece, ...] = ()


class _Sheet:
    """How far the reading has come."""

    def __init__(self, file: str, said: Said, frame: SaidFrame) -> None:
        self.file, self.said, self.frame = file, said, frame
        self.names = {each.name: n for n, each in enumerate(said.decals, start=1)}
        self.unit_mm = (1.0, 1.0)
        self.origin = (0.0, 0.0)
        self.height_mm = frame.length_mm
        self.against: list[Finding] = []
        self.paths: list[CutPath] = []
        self.marks: list[CutMark] = []
        self.pieces: list[CutPiece] = []
        self.weeds: list[CutPiece] = []

    @property
    def order(self) -> int:
        """How many lines were read."""
        return len(self.paths) + len(self.pieces) + len(self.weeds)

    def wrong(self, kind: Kind, where: str, found: str, meant: str) -> None:
        where = f"{self.file}, {where}" if where else self.file
        self.against.append(Finding(kind=kind, where=where, found=found, meant=meant))

    def run_mm(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """From the sheet's units, y down, to the run's millimetres, y up."""
        across = (points[:, 0] - self.origin[0]) * self.unit_mm[0]
        down = (points[:, 1] - self.origin[1]) * self.unit_mm[1]
        return np.column_stack([across, self.frame.y0_mm + self.height_mm - down])


def read_cut_layer(data: bytes, file: str, said: Said, frame: SaidFrame) -> CutLayer:
    """Read one frame's SVG; whatever is wrong with it becomes findings, never an exception."""
    sheet = _Sheet(file, said, frame)
    parser = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=False)
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        sheet.wrong(Kind.FILE_BROKEN, "", str(error), "well-formed XML")
        return _layer(sheet, read=False)
    if root.tag != f"{SVG}svg":
        sheet.wrong(Kind.FILE_BROKEN, "", f"a root <{_local(root)}>", "an SVG")
        return _layer(sheet, read=False)
    _size(sheet, root)
    _transformed(sheet, root, "svg")
    for child in root:
        _top(sheet, child)
    return _layer(sheet, read=True)


def _layer(sheet: _Sheet, read: bool) -> CutLayer:
    return CutLayer(
        file=sheet.file,
        frame=sheet.frame,
        paths=tuple(sheet.paths),
        marks=tuple(sheet.marks),
        against=tuple(sheet.against),
        read=read,
        pieces=tuple(sheet.pieces),
        weeds=tuple(sheet.weeds),
    )


def _local(element: etree._Element) -> str:
    return etree.QName(element).localname if isinstance(element.tag, str) else "comment"


def _size(sheet: _Sheet, root: etree._Element) -> None:
    """Width, height and viewBox against the film's width and the frame's length."""
    meant = sheet.said.roll.width_mm, sheet.frame.length_mm
    size = [_length(root.get(key, "")) for key in ("width", "height")]
    for key, found, wanted in zip(("width", "height"), size, meant, strict=True):
        if found is None or abs(found - wanted) > TRUE_SIZE_MM:
            sheet.wrong(Kind.SHEET_SIZE, key, root.get(key, "nothing"), f"{fixed(wanted, 3)} mm")
    box = _numbers(root.get("viewBox", ""))
    if len(box) != 4 or box[2] <= 0 or box[3] <= 0:
        sheet.wrong(Kind.SHEET_SIZE, "viewBox", root.get("viewBox", "nothing"), "four numbers")
        return
    width = meant[0] if size[0] is None or size[0] <= 0 else size[0]
    height = meant[1] if size[1] is None or size[1] <= 0 else size[1]
    sheet.origin, sheet.height_mm = (box[0], box[1]), height
    sheet.unit_mm = width / box[2], height / box[3]
    if box[:2] != [0.0, 0.0]:
        start = f"starts at {box[0]:g}, {box[1]:g}"
        sheet.wrong(Kind.SHEET_SIZE, "viewBox", start, "starts at 0, 0")
    for way, unit, whole in zip(("across", "along"), sheet.unit_mm, box[2:], strict=True):
        if abs(unit - 1) * whole > TRUE_SIZE_MM:
            sheet.wrong(
                Kind.SHEET_SIZE, f"viewBox, {way}", f"one unit is {fixed(unit, 6)} mm", "1 mm"
            )


def _length(text: str) -> float | None:
    match = LENGTH.fullmatch(text)
    try:
        value = float(match[1]) * MM_PER[match[2]] if match else None
    except ValueError:
        return None
    return value if value is not None and np.isfinite(value) else None


def _numbers(text: str) -> list[float]:
    try:
        numbers = [float(part) for part in text.replace(",", " ").split()]
    except ValueError:
        return []
    return numbers if all(np.isfinite(number) for number in numbers) else []


def _top(sheet: _Sheet, element: etree._Element) -> None:
    """A child of the root: a layer, words, or something that should not be there."""
    name = _local(element)
    if name == "g" and element.get("id") in LAYERS:
        layer = str(element.get("id"))
        _transformed(sheet, element, f"layer {layer}")
        for child in element:
            _member(sheet, child, layer)
    elif name == "comment" or (name in SILENT - {"svg", "g"} and len(element) == 0):
        return
    elif name != "g" or len(element):
        what = f'<{name} id="{element.get("id")}">' if element.get("id") else f"<{name}>"
        sheet.wrong(Kind.SHEET_EXTRA, what, what, "the layers kiss, weed, through and marks")


def _transformed(sheet: _Sheet, element: etree._Element, where: str) -> None:
    style = element.get("style", "")
    if element.get("transform") is not None or "transform" in style:
        found = element.get("transform") or style
        sheet.wrong(Kind.SHEET_TURNED, where, f"transform {found}", "none")
    if element.get("display") == "none" or "display" in style or "visibility" in style:
        sheet.wrong(Kind.SHEET_EXTRA, where, "hidden", "seen")


def _member(sheet: _Sheet, element: etree._Element, layer: str) -> None:
    name = _local(element)
    if name in ("comment", "title", "desc"):
        return
    if name != "path":
        sheet.wrong(Kind.SHEET_EXTRA, f"layer {layer}", f"<{name}>", "paths only")
        return
    where = _who(sheet, element, layer)
    _transformed(sheet, element, where)
    try:
        rings = rings_of(element.get("d", ""))
    except ValueError as error:
        sheet.wrong(Kind.PATH_OPEN, where, str(error), "straight lines, closed by Z")
        return
    if any(not np.isfinite(ring).all() or np.abs(ring).max() > 1e7 for ring, _ in rings):
        sheet.wrong(Kind.PATH_OPEN, where, "a number without measure", "places on the film")
        return
    rings = [(sheet.run_mm(ring), closed) for ring, closed in rings]
    if layer == "weed" or (layer != "marks" and element.get("data-part") == "piece"):
        _line(sheet, element, rings, layer, where)
        return
    whole = [ring for ring, _ in rings if len(ring) >= 3 and abs(area_mm2(ring)) > 1e-6]
    if len(whole) < len(rings) or not all(closed for _, closed in rings) or not rings:
        found = "an open path" if whole else "a path without area"
        sheet.wrong(Kind.PATH_OPEN, where, found, "one closed ring")
    if not whole:
        return
    if layer == "marks":
        _mark(sheet, element, whole, where)
    else:
        _cut(sheet, element, whole, layer, where)


def _mark(
    sheet: _Sheet, element: etree._Element, rings: list[NDArray[np.float64]], where: str
) -> None:
    number = _whole(element.get("data-mark"))
    if number is None:
        sheet.wrong(Kind.MARK_EXTRA, where, "a mark without a number", "data-mark")
        return
    sheet.marks.append(CutMark(number=number, rings=tuple(rings)))


def _line(
    sheet: _Sheet,
    element: etree._Element,
    lines: list[tuple[NDArray[np.float64], bool]],
    layer: str,
    where: str,
) -> None:
    """A piece of a contour, or a weed line: open or closed, but one."""
    if len(lines) != 1 or len(lines[0][0]) < 2:
        sheet.wrong(Kind.PATH_OPEN, where, count(len(lines), "line"), "one line a path")
        return
    points, closed = lines[0]
    label = None if layer == "weed" else _label(sheet, element, where)
    if layer != "weed" and label is None:
        return
    piece = CutPiece(layer=layer, label=label, points=points, closed=closed, order=sheet.order)
    (sheet.weeds if layer == "weed" else sheet.pieces).append(piece)


def _label(sheet: _Sheet, element: etree._Element, where: str) -> tuple[int, int] | None:
    """Whose line it is; None, and a finding, where that is nobody the summary knows."""
    said = element.get("data-decal")
    decal = _whole(said) or sheet.names.get(said or "")
    copy = _whole(element.get("data-copy"))
    if decal is None or copy is None or decal > len(sheet.said.decals):
        found = f"decal {said}, copy {element.get('data-copy')}"
        sheet.wrong(Kind.CUT_EXTRA, where, found, "a known copy")
        return None
    return decal, copy


def _cut(
    sheet: _Sheet,
    element: etree._Element,
    rings: list[NDArray[np.float64]],
    layer: str,
    where: str,
) -> None:
    if len(rings) > 1:
        sheet.wrong(Kind.PATH_OPEN, where, count(len(rings), "ring"), "one closed ring a path")
    label = _label(sheet, element, where)
    if label is None:
        return
    for ring in rings:
        sheet.paths.append(CutPath(layer=layer, label=label, ring=ring, order=sheet.order))


def _who(sheet: _Sheet, element: etree._Element, layer: str) -> str:
    if layer == "marks":
        return f"mark {element.get('data-mark')}"
    if layer == "weed":
        return f"weed line {len(sheet.weeds) + 1}"
    decal, copy = _whole(element.get("data-decal")), element.get("data-copy")
    name = sheet.said.name(decal) if decal else element.get("data-decal")
    return f"{name}, copy {copy}"


def _whole(text: str | None) -> int | None:
    """A whole number from 1, at most ten million."""
    if text is None or not text.isascii() or not text.isdigit() or len(text) > 8:
        return None
    return int(text) or None
