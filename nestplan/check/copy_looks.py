"""Each copy's picture against the look of its decal; where it has another's, whose."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestplan.check.findings import Kind
from nestplan.check.looks import (
    IMAGE_PX,
    ROUND_PX,
    Grid,
    Look,
    allowed_mm2,
    grid_of,
    look_of,
    seen_at,
    seen_closer,
    wrong_mm2,
)
from nestplan.check.odd import Odd
from nestplan.check.outlines import Pose
from nestplan.check.pairing import Judge
from nestplan.check.pdf_content import Key, Matrix, Unreadable, through
from nestplan.check.pdf_pages import PdfFile, Picture
from nestplan.check.picture import Pixels, Rendered, Window
from nestplan.check.print_claims import Printed, usual_pictures
from nestplan.check.said import Said
from nestplan.figures import fixed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Member:
    """A copy on a page. pose: where its print lies, page mm; low, high: its extent along."""

    pair: Printed
    pose: Pose
    low_mm: float
    high_mm: float


class Looks:
    """The look of every decal, made when first asked for."""

    def __init__(
        self, said: Said, judge: Judge, file: PdfFile, pairs: Sequence[Printed], most: int
    ) -> None:
        self.said, self.judge, self.file, self.most = said, judge, file, most
        self.usual = usual_pictures(pairs)
        self.pictures = {pair.placed.picture.form.key: pair.placed.picture for pair in pairs}
        self.grids: dict[tuple[int, float], Grid] = {}
        self.looks: dict[tuple[Key, int, float], Look] = {}

    def judged(self, member: Member, window: Window, soft: Pixels, rendered: Rendered) -> list[Odd]:
        """What is odd in a copy's picture. rendered: its page, to be looked at closer."""
        decal, own = member.pair.copy.key[0], member.pair.placed.picture
        usual = self.pictures[self.usual.get(decal, own.form.key)]
        look = self._look(usual, decal, window.across)
        seen = seen_at(window, soft, look.grid, member.pose)
        wrong = wrong_mm2(look, seen)
        if wrong > allowed_mm2(look.grid) and own.pixel:
            seen = seen_closer(rendered, window.across, look.grid, member.pose)
            wrong = wrong_mm2(look, seen)
        if wrong <= allowed_mm2(look.grid):
            return []
        for other, key in self.usual.items():
            if other == decal or key == usual.form.key:
                continue
            like = wrong_mm2(self._look(self.pictures[key], decal, window.across), seen)
            if like <= allowed_mm2(look.grid):
                found = f"the art of {self.said.name(other)}"
                return [
                    Odd(
                        key=member.pair.copy.key,
                        kind=Kind.LOOKS_SWAPPED,
                        found=found,
                        meant="its own",
                    )
                ]
        found = f"other colours on {fixed(wrong, 1)} mm²"
        return [
            Odd(
                key=member.pair.copy.key,
                kind=Kind.LOOKS_WRONG,
                found=found,
                meant="the decal's own colours",
            )
        ]

    def _look(self, picture: Picture, decal: int, per_mm: float) -> Look:
        contour = self.judge.contours[decal - 1]
        if (decal, per_mm) not in self.grids:
            self.grids[decal, per_mm] = grid_of(contour, per_mm, self.most)
        key = picture.form.key, decal, per_mm
        if key not in self.looks:
            onto = upright(self.judge, picture, decal)
            round_px = IMAGE_PX if picture.pixel else ROUND_PX
            self.looks[key] = look_of(
                self.file.data,
                picture.form.key,
                onto,
                self.grids[decal, per_mm],
                round_px=round_px,
            )
        return self.looks[key]


def upright(judge: Judge, picture: Picture, decal: int) -> Matrix:
    """What to put before a form so that its art comes to lie on the decal, upright."""
    lie = judge.lie(picture, judge.contours[decal - 1])
    pose = lie.pose or Pose(x_mm=0.0, y_mm=0.0)
    back = _inverse(pose.matrix())
    own = _inverse(picture.form.matrix)
    return through(own, back)


def _inverse(matrix: Matrix) -> Matrix:
    linear = matrix[:2]
    if abs(float(np.linalg.det(linear))) < 1e-12:
        raise Unreadable("a form without size")
    back = np.linalg.inv(linear)
    return np.vstack([back, -matrix[2] @ back])
