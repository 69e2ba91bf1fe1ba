"""Where on a proof a frame is drawn, and to what scale: found from its pictures and marks."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_copy import Copy
from nestplan.check.cut_layer import CutLayer
from nestplan.check.findings import Kind
from nestplan.check.odd import Odd
from nestplan.check.outlines import Points, middle_of, region_of, tree_of
from nestplan.check.pairing import Judge, nearest, pose_on_film
from nestplan.check.pdf_content import Ink
from nestplan.check.pdf_pages import PdfPage, Placed
from nestplan.check.poses import PoseKinds, pose_odds
from nestplan.check.printed_marks import middle
from nestplan.check.words import holes_words

PLACE_MM = 0.1  # on the film; a proof is drawn with fewer digits, at a twentieth
ROUGH_MM = 2.0  # while the scale is only known from one matrix
SHARE = 0.5  # of a frame's copies that must be found before a drawing is taken for it
SAMPLE = 24  # copies that a guess is tried on first
GUESSES = 400  # shifts that are tried a page
MARK_MM = 0.2  # how near a mark must be drawn
SIZE_SHARE, AREA_SHARE = 0.02, 0.15  # how far a drawn mark's size and area may be off

_KINDS = PoseKinds(
    moved=Kind.PROOF_PLACE,
    turned=Kind.PROOF_PLACE,
    size=Kind.PROOF_PLACE,
    mirrored=Kind.PROOF_PLACE,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """A frame as the proof draws it: run = page / scale - shift."""

    page: PdfPage
    scale: float
    shift: NDArray[np.float64]  # (2,), run millimetres
    placed: tuple[Placed, ...]  # in run coordinates, all that are drawn at this scale

    def run(self, points: Points) -> Points:
        """Page points (n, 2) in run coordinates."""
        moved: Points = points / self.scale - self.shift
        return moved


def best_drawing(
    judge: Judge,
    pages: Sequence[PdfPage],
    copies: Sequence[Copy],
    layer: CutLayer,
    used: set[int],
) -> Drawing | None:
    """The drawing on which most copies and marks are where they are cut; None: not even half.

    used: pages that other frames were found on; they are tried last.
    """
    groups = [
        (abs(len(group) - len(copies)), page.number in used, page.number, page, group)
        for page in pages
        for group in _by_scale(page)
        if len(group) >= SHARE * len(copies)
    ]
    best, best_fits = None, -1
    for *_, page, group in sorted(groups, key=lambda each: each[:3]):
        drawing = _laid(page, group, copies, layer)
        if drawing is None:
            continue
        fits = _fits(judge, drawing, copies, layer)
        if fits > best_fits:
            best, best_fits = drawing, fits
        if fits == len(copies) + len(layer.marks):
            break  # nothing can fit better
    return best


def _by_scale(page: PdfPage) -> list[list[Placed]]:
    """The pictures of a page, those that are drawn to one scale together."""
    groups: dict[int, list[Placed]] = {}
    for placed in page.placed:
        size = abs(float(np.linalg.det(placed.matrix[:2])))
        if size > 1e-12:
            groups.setdefault(round(log(size) * 1000), []).append(placed)
    return list(groups.values())


def _fits(judge: Judge, drawing: Drawing, copies: Sequence[Copy], layer: CutLayer) -> int:
    """How many copies and marks are just where the drawing has them."""
    match = match_copies(drawing, copies)
    good = sum(not drawn_odds(judge, copies[i], drawing.placed[j]) for i, j in match.items())
    if not layer.marks:
        return good
    marks = [region_of(mark.rings) for mark in layer.marks]
    drawn = [middle(shape) for shape, _ in mark_shapes(drawing, marks[0])]
    places = np.array(drawn).reshape(-1, 2)
    near = [np.hypot(*(places - middle(mark)).T).min(initial=np.inf) for mark in marks]
    return good + sum(bool(each <= MARK_MM) for each in near)


def mark_shapes(drawing: Drawing, mark: BaseGeometry) -> list[tuple[BaseGeometry, Ink]]:
    """Filled shapes of a drawing, in run coordinates, that are as large as a mark."""
    fills = (
        (shapely.transform(shape, drawing.run), ink)
        for shape, ink in drawing.page.fills
        if not shape.is_empty
    )
    return [(shape, ink) for shape, ink in fills if _alike(shape, mark)]


def match_copies(drawing: Drawing, copies: Sequence[Copy]) -> dict[int, int]:
    """Copies to pictures of a drawing, by their places in both."""
    seen = np.array([each.centre_mm for each in drawing.placed])
    return nearest(copies, _centres(copies), drawing.placed, seen)


def _laid(
    page: PdfPage, group: Sequence[Placed], copies: Sequence[Copy], layer: CutLayer
) -> Drawing | None:
    scale = float(np.median([abs(np.linalg.det(each.matrix[:2])) ** 0.5 for each in group]))
    drawn = np.array([each.centre_mm for each in group])
    meant = _centres(copies)
    fills = [middle(shape) for shape, _ in page.fills if not shape.is_empty]
    marks = [middle_of(mark.rings) for mark in layer.marks]
    all_drawn = np.vstack([drawn, np.reshape(fills, (-1, 2))])
    all_meant = np.vstack([meant, np.reshape(marks, (-1, 2))])
    shift = _shift(drawn / scale, meant, all_drawn / scale, all_meant)
    if shift is None:
        return None
    scale, shift = _refined(all_drawn, all_meant, scale, shift)
    runs = []
    for each in group:
        matrix = each.matrix / scale
        matrix[2] -= shift
        runs.append(Placed(picture=each.picture, matrix=matrix))
    return Drawing(page=page, scale=scale, shift=shift, placed=tuple(runs))


def _centres(copies: Sequence[Copy]) -> Points:
    return np.array([copy.pose.put(copy.contour.print_centre)[0] for copy in copies])


def _refined(drawn: Points, meant: Points, scale: float, shift: Points) -> tuple[float, Points]:
    """The scale and shift again, from all places that agree with most of the others."""
    for within in (ROUGH_MM, ROUGH_MM / 2, ROUGH_MM / 4, PLACE_MM, PLACE_MM):
        tree = tree_of(drawn / scale - shift)
        ones, others = tree.query_nearest(
            np.asarray(shapely.points(meant)), max_distance=ROUGH_MM, all_matches=False
        )
        if not len(ones):
            return scale, shift
        off = drawn[others] / scale - meant[ones]
        shift = np.median(off, axis=0)
        good = np.hypot(*(off - shift).T) <= within
        a, b = meant[ones][good], drawn[others][good]
        if len(a) >= 2 and np.ptp(a, axis=0).max() > 1:
            a0, b0 = a.mean(axis=0), b.mean(axis=0)
            scale = float(((a - a0) * (b - b0)).sum() / ((a - a0) ** 2).sum())
            shift = b0 / scale - a0
    return scale, shift


def _shift(drawn: Points, meant: Points, all_drawn: Points, all_meant: Points) -> Points | None:
    """The shift that most copies and marks agree on, tried from pictures, likely ones first.

    drawn, meant: centres of pictures and copies; all_: those of shapes and marks too.
    """
    tree = tree_of(all_drawn)
    sample = all_meant[:: max(1, len(all_meant) // SAMPLE)]
    likely = np.median(drawn, axis=0) - np.median(meant, axis=0)
    best, best_share = None, SHARE
    for anchor in (0, len(meant) // 2, len(meant) - 1):
        guesses = drawn - meant[anchor]
        near = np.argsort(np.hypot(*(guesses - likely).T), kind="stable")[:GUESSES]
        for guess in guesses[near]:
            tried = shapely.points(sample + guess)
            share = _share(tree, tried)
            if share > best_share or (best is None and share == best_share):
                best, best_share = guess, share
            if share == 1:
                return best
    return best


def _share(tree: shapely.STRtree, points: NDArray[np.object_]) -> float:
    hits = tree.query(points, predicate="dwithin", distance=ROUGH_MM)[0]
    return len(np.unique(hits)) / len(points)


def drawn_odds(judge: Judge, copy: Copy, placed: Placed) -> list[Odd]:
    lie = judge.lie(placed.picture, copy.contour)
    pose, _ = pose_on_film(judge, copy.contour, placed, np.zeros(2))
    if lie.holes != lie.holes_meant:
        found, meant = holes_words(lie.holes), f"{holes_words(lie.holes_meant)} as cut"
        return [Odd(key=copy.key, kind=Kind.PROOF_OUTLINE, found=found, meant=meant)]
    if pose is None:
        return [
            Odd(
                key=copy.key,
                kind=Kind.PROOF_OUTLINE,
                found="another outline",
                meant="the contour with its bleed",
            )
        ]
    return pose_odds(_KINDS, copy.key, pose, copy.pose, copy.contour.reach_mm, PLACE_MM)


def _alike(shape: BaseGeometry, mark: BaseGeometry) -> bool:
    """As wide and as tall, and about as large: on paper a disc may have few corners."""
    one, other = (
        (g.bounds[2] - g.bounds[0], g.bounds[3] - g.bounds[1], g.area) for g in (shape, mark)
    )
    parts = zip(one, other, (SIZE_SHARE, SIZE_SHARE, AREA_SHARE), strict=True)
    return all(abs(a - b) <= share * b + 1e-9 for a, b, share in parts)
