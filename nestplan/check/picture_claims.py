"""The rendered pages: every copy looks like its decal, and nothing else is there.

Geometry says where ink may be; only a picture says what ink is there. Pages are looked
at window by window, each copy in the first window that holds all of it.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry.base import BaseGeometry

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.looks import (
    IMAGE_PX,
    ROUND_PX,
    Grid,
    Look,
    allowed_mm2,
    blurred,
    grid_of,
    look_of,
    seen_at,
    wrong_mm2,
)
from nestplan.check.odd import Odd, told
from nestplan.check.outlines import Pose, parts_of
from nestplan.check.pairing import Judge
from nestplan.check.pdf_content import Key, Matrix, Unreadable, moved, through
from nestplan.check.pdf_pages import PdfFile, PdfPage, Picture
from nestplan.check.picture import Box, Pixels, Rendered, Window, opened, page_of
from nestplan.check.poses import pose_from
from nestplan.check.print_claims import Printed, page_file, usual_pictures
from nestplan.check.said import Said
from nestplan.check.words import place
from nestplan.figures import count, fixed

PER_MM = 4.0  # pixels: 100 an inch, enough for a stroke of half a millimetre
WINDOW_MM = 400.0
WINDOW_PIXELS = 24_000_000  # a hundred megabytes
STRAY_DARK = 0.15  # of black: paler is the rim of something that was explained
STRAY_MM = 0.6  # round what is explained: antialiasing and the width of lines
STRAY_MM2 = 0.5  # a speck smaller than this is not reported


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Member:
    """A copy on a page: where it is and how it should look there."""

    pair: Printed
    pose: Pose  # page millimetres
    low_mm: float
    high_mm: float


def picture_claims(
    said: Said,
    judge: Judge,
    file: PdfFile,
    pages: Sequence[PdfPage],
    pairs: Sequence[Printed],
) -> list[Claim]:
    """Look at every copy and at everything between them. raises: Unreadable."""
    odds: dict[int, list[Odd]] = {}
    stray: list[Finding] = []
    looks = _Looks(said, judge, file, pairs)
    with opened(file.data) as document:
        for _, page in zip(said.frames, pages, strict=False):
            if page.odd:
                continue
            here = [_member(judge, pair) for pair in pairs if pair.page == page.number]
            per_mm = _per_mm(page, here)
            with page_of(document, page.number, page.width_mm, page.length_mm) as rendered:
                words = rendered.words_mm(page.unit_mm)
                for window, core, members in _windows(rendered, page, here, per_mm):
                    soft = np.asarray(blurred(window.pixels))
                    for member in members:
                        odd = looks.judged(member, window, soft)
                        odds.setdefault(page.number, []).extend(odd)
                    stray += _stray(said, page, window, core, words)
    against = []
    for page in pages:
        there = Counter(pair.copy.key[0] for pair in pairs if pair.page == page.number)
        against += told(said, page_file(page), odds.get(page.number, []), there)
    return [
        Claim(
            says=f"seen at {PER_MM * 25.4:.0f} pixels an inch, "
            f"{count(len(pairs), 'copy looks', 'copies look')} like the decal",
            against=tuple(against),
        ),
        Claim(says="no ink is seen outside decals, marks, bars and words", against=tuple(stray)),
    ]


def _member(judge: Judge, pair: Printed) -> _Member:
    lie = judge.lie(pair.placed.picture, pair.copy.contour)
    onto = (lie.pose or Pose(x_mm=0.0, y_mm=0.0)).matrix()
    pose, _ = pose_from(through(onto, pair.placed.matrix))
    put = moved(pair.placed.picture.outline, pair.placed.matrix)
    _, low, _, high = put.bounds
    return _Member(pair=pair, pose=pose, low_mm=low, high_mm=high)


def _per_mm(page: PdfPage, members: Sequence[_Member]) -> float:
    """Pixels a millimetre that keep a window small enough."""
    tallest = max((member.high_mm - member.low_mm for member in members), default=0.0)
    return min(PER_MM, sqrt(WINDOW_PIXELS / (page.width_mm * (WINDOW_MM + 2 * tallest + 4))))


def _windows(
    rendered: Rendered, page: PdfPage, members: Sequence[_Member], per_mm: float
) -> Iterator[tuple[Window, tuple[float, float], list[_Member]]]:
    """Windows from the leading end on; the core of each is looked at for stray ink."""
    tallest = max((member.high_mm - member.low_mm for member in members), default=0.0)
    step = max(WINDOW_MM, tallest)
    for k in range(max(1, ceil(page.length_mm / step))):
        low, high = k * step, min((k + 1) * step, page.length_mm)
        here = [
            member
            for member in members
            if (low <= member.low_mm or k == 0) and (member.low_mm < high or high >= page.length_mm)
        ]
        top = max([high, *(member.high_mm for member in here)]) + 1
        box = 0.0, low - 1, page.width_mm, min(top, high + tallest + 1)
        yield rendered.window(box, per_mm), (low, high), here


class _Looks:
    """The look of every decal, made when first asked for."""

    def __init__(self, said: Said, judge: Judge, file: PdfFile, pairs: Sequence[Printed]) -> None:
        self.said, self.judge, self.file = said, judge, file
        self.usual = usual_pictures(pairs)
        self.pictures = {pair.placed.picture.form.key: pair.placed.picture for pair in pairs}
        self.grids: dict[tuple[int, float], Grid] = {}
        self.looks: dict[tuple[Key, int, float], Look] = {}

    def judged(self, member: _Member, window: Window, soft: Pixels) -> list[Odd]:
        """What is odd in a copy's picture."""
        decal, own = member.pair.copy.key[0], member.pair.placed.picture
        usual = self.pictures[self.usual.get(decal, own.form.key)]
        look = self._look(usual, decal, window.across)
        seen = seen_at(window, soft, look.grid, member.pose)
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
            self.grids[decal, per_mm] = grid_of(contour, per_mm)
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


def _stray(
    said: Said, page: PdfPage, window: Window, core: tuple[float, float], words: Sequence[Box]
) -> list[Finding]:
    """Ink that nothing explains, in the core of a window."""
    rows = window.places()[1]
    inside = (rows >= core[0]) & (rows < core[1])
    dark = (window.pixels[..., :3] < 255 * (1 - STRAY_DARK)).any(axis=2)
    dark &= inside[:, None]
    dark &= ~_explained(page, window, words)
    found = float(dark.sum()) / (window.across * window.along)
    if found < STRAY_MM2:
        return []
    x, y = window.places()
    r, c = np.nonzero(dark)
    frame = said.frames[page.number - 1]
    at = place(float(np.median(x[c])) + said.page_x0_mm, float(np.median(y[r])) + frame.y0_mm)
    return [
        Finding(
            kind=Kind.STRAY_INK,
            where=page_file(page),
            found=f"{fixed(found, 1)} mm² of ink about {at}",
            meant="blank film",
        )
    ]


def _explained(page: PdfPage, window: Window, words: Sequence[Box]) -> NDArray[np.bool_]:
    """Pixels where decals, marks, bars and words are, a little more all round."""
    tall, wide = window.pixels.shape[:2]
    mask = Image.new("1", (wide, tall))
    draw = ImageDraw.Draw(mask)
    grown: dict[Key, BaseGeometry] = {}
    shapes: list[BaseGeometry] = []
    low = window.top_mm - tall / window.along
    for placed in page.placed:
        key = placed.picture.form.key
        if key not in grown:
            size = sqrt(abs(float(np.linalg.det(placed.matrix[:2])))) or 1.0
            grown[key] = shapely.buffer(placed.picture.outline, STRAY_MM / size, quad_segs=2)
        if _reaches(placed.centre_mm[1], grown[key], low, window.top_mm):
            shapes.append(moved(grown[key], placed.matrix))
    shapes += [shapely.buffer(shape, STRAY_MM, quad_segs=2) for shape, _ in page.fills]
    shapes += [shapely.box(*box).buffer(STRAY_MM, join_style="mitre") for box in words]
    for bar in page.bars:
        shapes.append(shapely.LineString([bar.start, bar.end]).buffer(5.0, join_style="mitre"))
    parts = [part for shape in shapes for part in parts_of(shape)]
    for part in sorted(parts, key=lambda part: -part.area):
        draw.polygon(_pixels(window, part.exterior), fill=1)
        for hole in part.interiors:
            draw.polygon(_pixels(window, hole), fill=0)
    return np.asarray(mask)


def _reaches(y_mm: float, shape: BaseGeometry, low_mm: float, high_mm: float) -> bool:
    left, bottom, right, top = shape.bounds
    reach = float(np.hypot(right - left, top - bottom)) * 2
    return low_mm - reach <= y_mm <= high_mm + reach


def _pixels(window: Window, ring: shapely.LinearRing) -> list[tuple[float, float]]:
    points = np.asarray(ring.coords)
    columns = (points[:, 0] - window.left_mm) * window.across
    rows = (window.top_mm - points[:, 1]) * window.along
    return list(zip(columns.tolist(), rows.tolist(), strict=True))
