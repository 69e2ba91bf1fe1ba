"""The proof against cut and print: what the client approved is what will be made.

A proof draws each frame to some scale, somewhere on a page. Where, is found from the
pictures themselves: one scale and one shift must lay them on the copies as they are cut.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from nestplan.check.cut_copy import Copy
from nestplan.check.cut_layer import CutLayer
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.odd import Odd, told
from nestplan.check.outlines import region_of
from nestplan.check.pairing import Judge
from nestplan.check.pdf_content import Ink
from nestplan.check.pdf_pages import PdfPage, Placed
from nestplan.check.printed_marks import middle
from nestplan.check.proof_drawing import (
    MARK_MM,
    PLACE_MM,
    Drawing,
    best_drawing,
    drawn_odds,
    mark_shapes,
    match_copies,
)
from nestplan.check.said import Said, SaidFrame
from nestplan.check.words import place

LABEL_MM = 6.0  # on paper: nearer to a mark its number may stand


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """A copy and the picture that the proof has for it."""

    copy: Copy
    placed: Placed


def proof_claims(
    said: Said,
    judge: Judge,
    pages: Sequence[PdfPage],
    layers: Sequence[CutLayer],
    copies: Sequence[Copy],
) -> tuple[list[Shown], list[Claim]]:
    """Find every frame on the proof; its copies and marks must be where they are cut."""
    shown: list[Shown] = []
    without: list[Finding] = []
    places: list[Finding] = []
    marks: list[Finding] = []
    used: set[int] = set()
    for frame, layer in zip(said.frames, layers, strict=True):
        here = [copy for copy in copies if copy.frame == frame.index]
        if not here:
            continue
        drawing = best_drawing(judge, pages, here, layer, used)
        if drawing is None:
            without.append(
                Finding(
                    kind=Kind.PROOF_WITHOUT,
                    where=f"proof.pdf, frame {frame.index}",
                    found="no drawing that fits its cut layer",
                    meant="its copies to scale",
                )
            )
            continue
        used.add(drawing.page.number)
        got, against = _copies(said, judge, frame, drawing, here)
        shown += got
        places += against
        marks += _marks(frame, layer, drawing)
    return shown, [
        Claim(says="the proof shows every frame to scale", against=tuple(without)),
        Claim(
            says=f"every copy on the proof is where it is cut, within {PLACE_MM:g} mm of film",
            against=tuple(places),
        ),
        Claim(says="the proof shows the marks of the cut layers", against=tuple(marks)),
    ]


def _copies(
    said: Said, judge: Judge, frame: SaidFrame, drawing: Drawing, copies: Sequence[Copy]
) -> tuple[list[Shown], list[Finding]]:
    file = f"proof.pdf, page {drawing.page.number}"
    match = match_copies(drawing, copies)
    odds: list[Odd] = []
    shown = []
    for i, copy in enumerate(copies):
        if i not in match:
            odds.append(
                Odd(key=copy.key, kind=Kind.PROOF_PLACE, found="not shown", meant="its picture")
            )
            continue
        placed = drawing.placed[match[i]]
        shown.append(Shown(copy=copy, placed=placed))
        odds += drawn_odds(judge, copy, placed)
    there = Counter(copy.key[0] for copy in copies)
    against = told(said, file, odds, there)
    ends = frame.y0_mm, frame.y0_mm + frame.length_mm
    for j in sorted(set(range(len(drawing.placed))) - set(match.values())):
        x, y = drawing.placed[j].centre_mm
        if ends[0] <= y <= ends[1] and 0 <= x <= said.roll.width_mm:
            name = said.stray_name(judge.whose(drawing.placed[j].picture))
            against.append(
                Finding(
                    kind=Kind.PROOF_PLACE,
                    where=f"{file}, {name}",
                    found=f"a copy at {place(x, y)}",
                    meant="no copy is cut there",
                )
            )
    return shown, against


def _marks(frame: SaidFrame, layer: CutLayer, drawing: Drawing) -> list[Finding]:
    """Filled shapes as large as a mark, in the colour of the marks that were found."""
    file = f"proof.pdf, page {drawing.page.number}"
    if not layer.marks:
        return []
    marks = {mark.number: region_of(mark.rings) for mark in layer.marks}
    alike = mark_shapes(drawing, next(iter(marks.values())))
    against = []
    inks: set[Ink] = set()
    found: list[BaseGeometry] = []
    for number, mark in marks.items():
        hits = [each for each in alike if _apart(each[0], mark) <= MARK_MM]
        if not hits:
            left, bottom, right, top = mark.bounds
            against.append(
                Finding(
                    kind=Kind.PROOF_MARK,
                    where=f"{file}, mark {number}",
                    found="nothing",
                    meant=f"a mark at {place((left + right) / 2, (bottom + top) / 2)}",
                )
            )
        inks |= {ink for _, ink in hits}
        found += [shape for shape, _ in hits]
    for shape, ink in alike:
        x, y = middle(shape)
        inside = frame.y0_mm <= y <= frame.y0_mm + frame.length_mm
        alone = all(_apart(shape, each) > LABEL_MM / drawing.scale for each in found)
        if inside and ink in inks and alone:
            against.append(
                Finding(
                    kind=Kind.PROOF_MARK,
                    where=f"{file}, frame {frame.index}",
                    found=f"a mark at {place(x, y)}",
                    meant=f"no such mark in {layer.file}",
                )
            )
    return against


def _apart(one: BaseGeometry, other: BaseGeometry) -> float:
    return float(np.hypot(*np.subtract(middle(one), middle(other))))
