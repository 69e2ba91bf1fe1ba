"""The print PDF's content against the cut layer: the same copies, in the same places.

Nothing here looks at the summary's places. A copy's print is where its form's clip
lies, after all matrices; it must be the contour that is cut, grown by the bleed.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nestplan.check.cut_copy import Copy
from nestplan.check.cut_layer import CutLayer
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.moved_together import UNMOVED, Together, moved_together
from nestplan.check.odd import Odd, told
from nestplan.check.outlines import SAME_MM, Points, Pose, stretched_to
from nestplan.check.pairing import Judge, nearest, pose_on_film
from nestplan.check.pdf_content import Key
from nestplan.check.pdf_pages import PdfPage, Placed
from nestplan.check.poses import PoseKinds, pose_from, pose_odds
from nestplan.check.printed_marks import middle, printed_marks
from nestplan.check.said import Said, SaidFrame
from nestplan.check.words import holes_words, place
from nestplan.figures import count, fixed

_KINDS = PoseKinds(
    moved=Kind.PRINT_MOVED,
    turned=Kind.PRINT_TURNED,
    size=Kind.PRINT_SIZE,
    mirrored=Kind.PRINT_MIRRORED,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Printed:
    """A copy and the picture that is printed under it. page: its number."""

    copy: Copy
    placed: Placed
    page: int


def print_claims(
    said: Said,
    judge: Judge,
    pages: Sequence[PdfPage],
    layers: Sequence[CutLayer],
    copies: Sequence[Copy],
    planned_only: Sequence[Copy],
) -> tuple[list[Printed], dict[int, Together], list[Claim]]:
    """Pair every print with its cut and compare them.

    planned_only: copies of the summary that the cut layer lacks; their print is no surprise.
    Returns the pairs, how each page (by number) is moved as a whole, and the claims.
    """
    pairs: list[Printed] = []
    moves: dict[int, Together] = {}
    there: list[Finding] = []
    same: list[Finding] = []
    for frame, page, layer in zip(said.frames, pages, layers, strict=False):
        here = [copy for copy in copies if copy.frame == frame.index]
        ghosts = [copy for copy in planned_only if copy.frame == frame.index]
        paired, against = _paired(said, judge, frame, page, here, ghosts)
        there += against
        moves[page.number], against = _compared(said, judge, frame, page, layer, paired)
        same += against
        pairs += paired
    words = count(len(pairs), "copy", "copies")
    return (
        pairs,
        moves,
        [
            Claim(
                says=f"every cut has its print and every print its cut: {words}",
                against=tuple(there),
            ),
            Claim(
                says=f"print and cut agree in place, turn, size and holes within {SAME_MM:g} mm",
                against=tuple(same),
            ),
        ],
    )


def page_file(page: PdfPage) -> str:
    """A page as findings call it."""
    return f"print.pdf, page {page.number}"


def _paired(
    said: Said,
    judge: Judge,
    frame: SaidFrame,
    page: PdfPage,
    copies: Sequence[Copy],
    ghosts: Sequence[Copy],
) -> tuple[list[Printed], list[Finding]]:
    """Each copy with the picture that lies nearest, and what is left over on either side."""
    origin = np.array([said.page_x0_mm, frame.y0_mm])
    everyone = [*copies, *ghosts]
    seen = np.array([placed.centre_mm for placed in page.placed]).reshape(-1, 2) + origin
    meant = np.array([copy.pose.put(copy.contour.print_centre)[0] for copy in everyone]).reshape(
        -1, 2
    )
    match = nearest(everyone, meant, page.placed, seen)
    if len(meant) > 3 and len(seen) > 3:
        stretched = stretched_to(meant, seen)
        again = nearest(everyone, stretched, page.placed, seen)
        if _fitting(again, stretched, seen) > _fitting(match, meant, seen):
            match = again
    paired = [
        Printed(copy=everyone[i], placed=page.placed[j], page=page.number)
        for i, j in sorted(match.items())
        if i < len(copies)
    ]
    against = [
        Finding(
            kind=Kind.PRINT_MISSING,
            where=f"{page_file(page)}, {said.copy_name(*copy.key)}",
            found="no print",
            meant=f"its print at {place(*meant[i].tolist())}",
        )
        for i, copy in enumerate(everyone)
        if i not in match
    ]
    for j in sorted(set(range(len(page.placed))) - set(match.values())):
        name = said.stray_name(judge.whose(page.placed[j].picture))
        against.append(
            Finding(
                kind=Kind.PRINT_EXTRA,
                where=f"{page_file(page)}, {name}",
                found=f"a print at {place(*seen[j].tolist())}",
                meant="a contour round it",
            )
        )
    return paired, against


def _fitting(match: Mapping[int, int], meant: Points, seen: Points) -> int:
    """How many pairs lie within a tenth of a millimetre."""
    return sum(bool(np.hypot(*(meant[i] - seen[j])) < 0.1) for i, j in match.items())


def _compared(
    said: Said,
    judge: Judge,
    frame: SaidFrame,
    page: PdfPage,
    layer: CutLayer,
    pairs: Sequence[Printed],
) -> tuple[Together, list[Finding]]:
    """Every pair of a page, less what all of the page has in common."""
    origin = np.array([said.page_x0_mm, frame.y0_mm])
    found = [pose_on_film(judge, pair.copy.contour, pair.placed, origin) for pair in pairs]
    places = [
        ((pair.copy.pose.x_mm, pair.copy.pose.y_mm), (pose.x_mm, pose.y_mm))
        for pair, (pose, _) in zip(pairs, found, strict=True)
        if pose is not None
    ]
    marks, _ = printed_marks(said, frame, page, layer)
    places += [(middle(each.meant), middle(each.seen)) for each in marks if each.seen is not None]
    both = np.array(places).reshape(-1, 2, 2)
    together = moved_together(both[:, 0], both[:, 1])
    odds: list[Odd] = []
    usual = usual_pictures(pairs)
    for pair, (pose, stretch) in zip(pairs, found, strict=True):
        if pose is not None and together is not UNMOVED:
            matrix = pose.matrix()
            back = np.linalg.inv(together.linear)
            pose, stretch = pose_from(np.vstack([matrix[:2] @ back, together.back(matrix[2:])]))
        odds += _odds(said, judge, pair, pose, stretch, usual)
    there = Counter(pair.copy.key[0] for pair in pairs)
    return together, _whole_page(page, together) + told(said, page_file(page), odds, there)


def _whole_page(page: PdfPage, together: Together) -> list[Finding]:
    if together is UNMOVED:
        return []
    kind = Kind.PRINT_SIZE if together.is_sized else Kind.PRINT_MOVED
    kind = Kind.PRINT_TURNED if together.is_turned else kind
    where = f"{page_file(page)}, the whole page"
    return [Finding(kind=kind, where=where, found=together.words, meant="as they are cut")]


def usual_pictures(pairs: Sequence[Printed]) -> dict[int, Key]:
    """The picture that more than half of a decal's copies carry, by decal from 1."""
    carried: dict[int, list[Key]] = defaultdict(list)
    for pair in pairs:
        carried[pair.copy.key[0]].append(pair.placed.picture.form.key)
    usual = {decal: Counter(keys).most_common(1)[0] for decal, keys in carried.items()}
    return {decal: key for decal, (key, n) in usual.items() if 2 * n > len(carried[decal])}


def _odds(
    said: Said,
    judge: Judge,
    pair: Printed,
    pose: Pose | None,
    stretch: float,
    usual: Mapping[int, Key],
) -> list[Odd]:
    copy, picture = pair.copy, pair.placed.picture
    lie = judge.lie(picture, copy.contour)

    def odd(kind: Kind, found: str, meant: str) -> Odd:
        return Odd(key=copy.key, kind=kind, found=found, meant=meant)

    if picture.form.key != usual.get(copy.key[0], picture.form.key):
        for decal, key in usual.items():
            if key == picture.form.key and decal != copy.key[0]:
                return [odd(Kind.PRINT_SWAPPED, f"the print of {said.name(decal)}", "its own")]
    other = judge.whose(picture) if pose is None else None
    if other not in (None, copy.key[0]):
        return [odd(Kind.PRINT_SWAPPED, f"the print of {said.name(other)}", "its own")]
    if lie.holes != lie.holes_meant:
        return [
            odd(
                Kind.PRINT_HOLE,
                f"{holes_words(lie.holes)} in the print",
                f"{holes_words(lie.holes_meant)} as cut",
            )
        ]
    if pose is None:
        found = f"up to {fixed(lie.off_mm, 2)} mm from the contour with its bleed"
        return [odd(Kind.PRINT_SHAPE, found, "the contour grown by its bleed")]
    odds = pose_odds(_KINDS, copy.key, pose, copy.pose, copy.contour.reach_mm)
    if stretch * copy.contour.reach_mm > 2 * SAME_MM:
        odds.append(
            odd(Kind.PRINT_SIZE, f"stretched one way by {fixed(100 * stretch, 2)} %", "true size")
        )
    return odds
