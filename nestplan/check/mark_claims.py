"""Marks of the cut layer against the summary: number, place and shape."""

from collections.abc import Mapping, Sequence
from math import pi

import numpy as np

from nestplan.check.cut_layer import CutLayer, CutMark
from nestplan.check.distance_claims import spacing_findings
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together
from nestplan.check.outlines import SAME_MM, Points, area_mm2, middle_of
from nestplan.check.said import Said, SaidFrame, SaidMark
from nestplan.check.words import place
from nestplan.figures import count, fixed

CHORD_MM = 0.03  # how far inside its circle a disc's chords may lie


def mark_claims(
    said: Said, layers: Sequence[CutLayer], moves: Mapping[int, Together]
) -> list[Claim]:
    """Every mark once, at its place, of its shape; along each edge near enough to the next.

    moves: how a frame's layer (by index) is moved as a whole; that is said elsewhere.
    """
    there: list[Finding] = []
    shaped: list[Finding] = []
    apart: list[Finding] = []
    number = 0
    for layer in layers:
        if not layer.read:
            continue
        number += len(layer.marks)
        there += _numbers(layer.frame)
        marks = _unmoved(layer.marks, moves.get(layer.frame.index, UNMOVED))
        there += _present(layer, marks)
        for mark in marks:
            shaped += _shape(said, layer, mark)
        apart += spacing_findings(said, layer.frame, layer.marks, layer.file)
    return [
        Claim(
            says=f"{count(number, 'mark')} in the cut layer where the summary has them",
            against=tuple(there),
        ),
        Claim(
            says=f"each is a {said.marks.shape} of {said.marks.size_mm:g} mm", against=tuple(shaped)
        ),
        Claim(
            says=f"along both edges the next mark is at most {said.marks.spacing_mm:g} mm away",
            against=tuple(apart),
        ),
    ]


def _numbers(frame: SaidFrame) -> list[Finding]:
    """A gap in the numbers is a mark that was taken out."""
    numbers = {mark.mark for mark in frame.marks}
    return [
        Finding(
            kind=Kind.MARK_MISSING,
            where=f"summary.json, frame {frame.index}, mark {number}",
            found=f"{count(len(numbers), 'mark')}, the last is number {max(numbers)}",
            meant="every number",
        )
        for number in sorted(set(range(1, min(max(numbers, default=0), 1000))) - numbers)
    ]


def _unmoved(marks: Sequence[CutMark], together: Together) -> list[CutMark]:
    if together is UNMOVED:
        return list(marks)
    return [
        CutMark(number=mark.number, rings=tuple(together.back(ring) for ring in mark.rings))
        for mark in marks
    ]


def _present(layer: CutLayer, marks: Sequence[CutMark]) -> list[Finding]:
    planned = {mark.mark: mark for mark in layer.frame.marks}
    against = []
    seen: set[int] = set()
    for mark in marks:
        where = f"{layer.file}, mark {mark.number}"
        middle = middle_of(mark.rings)
        if mark.number not in planned or mark.number in seen:
            found = place(*middle.tolist())
            meant = "every mark once" if mark.number in seen else "no such mark"
            against.append(Finding(kind=Kind.MARK_EXTRA, where=where, found=found, meant=meant))
            continue
        seen.add(mark.number)
        against += _moved(where, middle, planned[mark.number])
    for number in sorted(planned.keys() - seen):
        where = f"{layer.file}, mark {number}"
        meant = place(planned[number].x_mm, planned[number].y_mm)
        against.append(Finding(kind=Kind.MARK_MISSING, where=where, found="nothing", meant=meant))
    return against


def _moved(where: str, middle: Points, meant: SaidMark) -> list[Finding]:
    off = float(np.hypot(*(middle - (meant.x_mm, meant.y_mm))))
    if off <= SAME_MM:
        return []
    return [
        Finding(
            kind=Kind.MARK_MOVED,
            where=where,
            found=f"moved by {fixed(off, 2)} mm, to {place(*middle.tolist())}",
            meant=place(meant.x_mm, meant.y_mm),
        )
    ]


def _shape(said: Said, layer: CutLayer, mark: CutMark) -> list[Finding]:
    """Its width, its height, and the area that a disc or a square of that size has."""
    size = said.marks.size_mm
    wide, tall = np.ptp(np.vstack(mark.rings), axis=0).tolist()
    area = abs(sum(area_mm2(ring) for ring in mark.rings))
    ideal = {"disc": pi * size**2 / 4, "square": size**2}.get(said.marks.shape)
    edge = pi * size if said.marks.shape == "disc" else 4 * size
    against = []
    where = f"{layer.file}, mark {mark.number}"
    if max(abs(wide - size), abs(tall - size)) > SAME_MM:
        found = f"{fixed(wide, 2)} by {fixed(tall, 2)} mm"
        against.append(
            Finding(
                kind=Kind.MARK_SHAPE, where=where, found=found, meant=f"{fixed(size, 2)} mm wide"
            )
        )
    elif ideal is not None and abs(area - ideal) > CHORD_MM * edge:
        found = f"{fixed(area, 2)} mm² inside"
        meant = f"{fixed(ideal, 2)} mm²"
        against.append(Finding(kind=Kind.MARK_SHAPE, where=where, found=found, meant=meant))
    return against
