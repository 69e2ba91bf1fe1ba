"""The contours that stand in the print, off and never printed, against those that are cut."""

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from nestplan.check.cut_layer import CutLayer
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together
from nestplan.check.odd import Odd, told
from nestplan.check.outlines import Points, area_mm2
from nestplan.check.pdf_pages import Line, PdfFile, PdfPage
from nestplan.check.print_claims import page_file
from nestplan.check.said import Said, SaidFrame
from nestplan.check.words import place
from nestplan.figures import fixed

OFF_MM = 0.02  # rings of both files are written to 0.0001 mm and put through one more matrix
AREA_SHARE = 1e-3
NEAR_MM = 5.0  # a contour that lies so far off is still the same one, moved
STEPS = {"kiss": ("Structural", "PartialCutting"), "through": ("Structural", "Cutting")}
CUTS = {step[1]: cut for cut, step in STEPS.items()}


def contour_claims(
    said: Said,
    file: PdfFile,
    pages: Sequence[PdfPage],
    layers: Sequence[CutLayer],
    moves: Mapping[int, Together],
) -> list[Claim]:
    """Every ring in its place, in the colour and the layer of its step; none where none is wanted.

    moves: how a page (by number) is moved as a whole; that is said elsewhere.
    """
    wanted = said.printer().contours_in_print
    drawn: list[Finding] = []
    held: list[Finding] = []
    for frame, page, layer in zip(said.frames, pages, layers, strict=False):
        lines = [line for line in page.lines if line.colour in CUTS]
        held += _layers(file, page, lines)
        if wanted and layer.read:
            together = moves.get(page.number, UNMOVED)
            drawn += _compared(said, frame, page, layer, lines, together)
        elif lines and not wanted:
            found = f"{len(lines)} contours"
            drawn.append(_finding(Kind.CONTOUR_DRAWN, page_file(page), found, "none"))
    return [
        Claim(
            says="the contours in the print are those that are cut"
            if wanted
            else "no contours stand in the print",
            against=tuple(drawn),
        ),
        Claim(
            says="each lies in the layer and colour of its step, switched off, and overprints",
            against=tuple(held),
        ),
    ]


def _layers(file: PdfFile, page: PdfPage, lines: Sequence[Line]) -> list[Finding]:
    """What is wrong with layers and colours, each thing once a page."""
    against: dict[tuple[str, str], None] = {}
    for line in lines:
        layer = file.layers.get(line.layer) if line.layer is not None else None
        step = STEPS[CUTS[line.colour]]
        if layer is None:
            against["no layer of the document", f"a layer for {step[1]}"] = None
            continue
        if layer.step != step:
            found = "/".join(part for part in layer.step if part) or "no step"
            against[f"{line.colour} in a layer for {found}", "/".join(step)] = None
        if layer.shown:
            against[f"the layer {layer.name!r} is on", "off: contours are not printed"] = None
        if not line.over:
            against[f"{line.colour} knocks out what lies below", "it overprints"] = None
    return [_finding(Kind.LAYER_WRONG, page_file(page), *words) for words in against]


def _compared(
    said: Said,
    frame: SaidFrame,
    page: PdfPage,
    layer: CutLayer,
    lines: Sequence[Line],
    together: Together,
) -> list[Finding]:
    origin = np.array([said.page_x0_mm, frame.y0_mm])
    drawn = [(line.colour, ring + origin) for line in lines for ring in line.rings]
    if together is not UNMOVED:
        drawn = [(colour, together.back(ring)) for colour, ring in drawn]
    drawn, lost = _but_weeds(layer, drawn)
    paths = [path for path in layer.paths if path.layer in STEPS]
    match = _matched([path.ring for path in paths], [ring for _, ring in drawn])
    odds = []
    for k, path in enumerate(paths):
        meant = STEPS[path.layer][1]

        def odd(found: str, meant: str, key: tuple[int, int] = path.label) -> None:
            odds.append(Odd(key=key, kind=Kind.CONTOUR_DRAWN, found=found, meant=meant))

        if k not in match:
            odd("no contour in the print", "the one that is cut")
            continue
        colour, ring = drawn[match[k]]
        off = float(np.abs(_box(ring) - _box(path.ring)).max())
        area = abs(abs(area_mm2(ring)) - abs(area_mm2(path.ring)))
        if off > OFF_MM:
            odd(f"a contour up to {fixed(off, 2)} mm off", "the one that is cut")
        elif area > max(AREA_SHARE * abs(area_mm2(path.ring)), 0.01):
            odd(f"a contour whose area differs by {fixed(area, 2)} mm²", "the one that is cut")
        elif colour != meant:
            odd(f"a contour in {colour}", meant)
    there = Counter({label[0]: n for label, n in _copies(layer).items()})
    findings = told(said, page_file(page), dict.fromkeys(odds), there)
    findings += [_finding(Kind.CONTOUR_DRAWN, page_file(page), *words) for words in lost]
    for j in sorted(set(range(len(drawn))) - set(match.values())):
        at = f"a contour at {place(*_box(drawn[j][1]).reshape(2, 2).mean(axis=0).tolist())}"
        findings.append(_finding(Kind.CONTOUR_DRAWN, page_file(page), at, "a cut there"))
    return findings


def _but_weeds(
    layer: CutLayer, drawn: Sequence[tuple[str, Points]]
) -> tuple[list[tuple[str, Points]], list[tuple[str, str]]]:
    """What is drawn apart from weed lines, and what is wrong with those."""
    left, lost = list(drawn), []
    for number, weed in enumerate(layer.weeds, start=1):
        line = shapely.LineString(weed.line)
        box = _box(weed.points)
        for k, (colour, ring) in enumerate(left):
            alike = colour == STEPS["kiss"][1] and float(np.abs(_box(ring) - box).max()) <= OFF_MM
            if alike and shapely.hausdorff_distance(line, shapely.LineString(ring)) <= OFF_MM:
                del left[k]
                break
        else:
            lost.append((f"weed line {number} is not in the print", "the one that is cut"))
    return left, lost


def _copies(layer: CutLayer) -> Counter[tuple[int, int]]:
    """How many copies of each decal are cut, under (decal, 0)."""
    return Counter((decal, 0) for decal, _ in {path.label for path in layer.paths})


def _matched(meant: Sequence[Points], seen: Sequence[Points]) -> dict[int, int]:
    """Nearest pairs of rings by their boxes, each ring once."""
    if not meant or not seen:
        return {}
    ones, others = (np.array([_box(ring) for ring in rings]) for rings in (meant, seen))
    centres = [(boxes[:, :2] + boxes[:, 2:]) / 2 for boxes in (ones, others)]
    tree = shapely.STRtree(shapely.points(centres[1]))
    i, j = tree.query(shapely.points(centres[0]), predicate="dwithin", distance=NEAR_MM)
    cost = np.abs(ones[i] - others[j]).max(axis=1)
    match: dict[int, int] = {}
    taken: set[int] = set()
    for k in np.argsort(cost, kind="stable").tolist():
        a, b = int(i[k]), int(j[k])
        if a not in match and b not in taken and cost[k] <= NEAR_MM:
            match[a] = b
            taken.add(b)
    return match


def _box(ring: Points) -> Points:
    return np.concatenate([ring.min(axis=0), ring.max(axis=0)])


def _finding(kind: Kind, where: str, found: str, meant: str) -> Finding:
    return Finding(kind=kind, where=where, found=found, meant=meant)
