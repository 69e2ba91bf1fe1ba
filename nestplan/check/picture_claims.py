"""The rendered pages: every copy looks like its decal, and nothing else is there.

Geometry says where ink may be; only a picture says what ink is there. Pages are looked
at window by window, each copy in the first window that holds all of it.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np

from nestplan.check.copy_looks import Looks, Member
from nestplan.check.findings import Claim, Finding
from nestplan.check.looks import PLACES_MOST, blurred
from nestplan.check.odd import Odd, told
from nestplan.check.outlines import Pose
from nestplan.check.pairing import Judge
from nestplan.check.pdf_content import moved, through
from nestplan.check.pdf_pages import PdfFile, PdfPage
from nestplan.check.picture import Rendered, Window, opened, page_of
from nestplan.check.poses import pose_from
from nestplan.check.print_claims import Printed, page_file
from nestplan.check.said import Said
from nestplan.check.stray_ink import stray_ink
from nestplan.figures import count

PER_MM = 4.0  # pixels: 100 an inch, enough for a stroke of half a millimetre
PER_MM_LEAST = 1.0  # coarser than this nothing is told apart
WINDOW_MM = 400.0
WINDOW_PIXELS = 24_000_000  # a hundred megabytes
PIXELS = 250_000_000  # of a whole run; a longer one is looked at less closely
PLACES = 60_000_000  # of all copies together


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How closely a run is looked at: pixels a millimetre, places a copy."""

    per_mm: float
    places: int


def effort_for(pages: Sequence[PdfPage], copies: int) -> Effort:
    """As closely as is useful, or as a long run can be looked at in a few minutes."""
    area = sum(page.width_mm * page.length_mm for page in pages)
    per_mm = max(PER_MM_LEAST, min(PER_MM, sqrt(PIXELS / max(area, 1.0))))
    return Effort(per_mm=per_mm, places=min(PLACES_MOST, max(1000, PLACES // max(copies, 1))))


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
    effort = effort_for(pages, len(pairs))
    looks = Looks(said, judge, file, pairs, effort.places)
    with opened(file.data) as document:
        for _, page in zip(said.frames, pages, strict=False):
            if page.odd:
                continue
            here = [_member(judge, pair) for pair in pairs if pair.page == page.number]
            with page_of(document, page.number, page.width_mm, page.length_mm) as rendered:
                words = rendered.words_mm(page.unit_mm)
                for window, core, members in _windows(rendered, page, here, effort.per_mm):
                    image = window.image()
                    soft = np.asarray(blurred(image))
                    for member in members:
                        odd = looks.judged(member, window, soft, rendered)
                        odds.setdefault(page.number, []).extend(odd)
                    stray += stray_ink(said, page, window, image, core, words)
    against = []
    for page in pages:
        there = Counter(pair.copy.key[0] for pair in pairs if pair.page == page.number)
        against += told(said, page_file(page), odds.get(page.number, []), there)
    return [
        Claim(
            says=f"seen at {effort.per_mm * 25.4:.0f} pixels an inch, "
            f"{count(len(pairs), 'copy looks', 'copies look')} like the decal",
            against=tuple(against),
        ),
        Claim(says="no ink is seen outside decals, marks, bars and words", against=tuple(stray)),
    ]


def _member(judge: Judge, pair: Printed) -> Member:
    lie = judge.lie(pair.placed.picture, pair.copy.contour)
    onto = (lie.pose or Pose(x_mm=0.0, y_mm=0.0)).matrix()
    pose, _ = pose_from(through(onto, pair.placed.matrix))
    put = moved(pair.placed.picture.outline, pair.placed.matrix)
    _, low, _, high = put.bounds
    return Member(pair=pair, pose=pose, low_mm=low, high_mm=high)


def _windows(
    rendered: Rendered, page: PdfPage, members: Sequence[Member], per_mm: float
) -> Iterator[tuple[Window, tuple[float, float], list[Member]]]:
    """Windows from the leading end on; the core of each is looked at for stray ink."""
    tallest = max((member.high_mm - member.low_mm for member in members), default=0.0)
    tallest = min(tallest, page.length_mm)
    step = max(WINDOW_MM, tallest)
    per_mm = min(per_mm, sqrt(WINDOW_PIXELS / (page.width_mm * (step + tallest + 4))))
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
