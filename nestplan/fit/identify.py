"""Which sheet, which frame, which mark: what the geometry says against what the table says.

Numbers in a table are believed where the geometry agrees. Where it does not, the difference
is named and nothing is corrected in silence. `Trouble` is what stands in the way of a verdict.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from nestplan import figures
from nestplan.fit.maps import can_fit, fit_map, turned_back
from nestplan.fit.match import (
    STRAY,
    STRETCH_MOST,
    Array,
    Pairing,
    flat,
    paired,
    pairings,
    stretches,
)
from nestplan.fit.noise import Noise, residuals
from nestplan.fit.seen import Seen
from nestplan.fit.trouble import (
    Layout,
    Trouble,
    cannot,
    contradiction,
    in_a_mirror,
    listed,
    other_frame,
    part_of_sheet,
    stranger,
    wrong_size,
)

SURE = 9.0  # log-likelihood by which the best must lead: another is taken in 1 of 8 000 cases
ROUGHEST = 4.0  # residuals so many times what the shop's figures expect are another sheet
BENT_MOST_MM = 1.0  # more between two rows of marks is another sheet
SEEN_SHARE = 0.6  # of a frame's marks must be seen where nobody numbered them
LEAST_MARKS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Identity:
    """What the points are taken for. odds_wrong: of the runner-up, as far as there is one."""

    pairing: Pairing | None
    trouble: Trouble | None
    notes: tuple[str, ...] = ()
    odds_wrong: float | None = None
    runner_up: str = ""


def identify(
    seen: Seen, layouts: Sequence[Layout], noise: Noise, *, asked: int | None, declared: bool
) -> Identity:
    """Name the points. asked: the frame that the table or --frame names."""
    points = seen.points_mm
    if len(points) < LEAST_MARKS:
        return _no(
            cannot(
                f"{figures.count(len(points), 'mark')} are too few: nothing would tell a misread "
                "one from stretch and skew",
                "measure all marks of the frame",
            )
        )
    if flat(points):
        return _no(
            cannot(
                "the marks lie in a line: nothing tells how the print is stretched across it",
                "measure marks along both edges of the film",
            )
        )
    ways = pairings(points, [each.marks_mm for each in layouts], noise, mirrored=False)
    if asked is not None and bool((seen.marks > 0).all()):
        return _numbered(seen, layouts, noise, asked, ways, declared)
    return _unnumbered(seen, layouts, noise, asked, ways, declared)


def _numbered(
    seen: Seen,
    layouts: Sequence[Layout],
    noise: Noise,
    asked: int,
    ways: list[Pairing],
    declared: bool,
) -> Identity:
    """Every point has a number: is it the one that its place gives it?"""
    row = next(k for k, each in enumerate(layouts) if each.index == asked)
    layout = layouts[row]
    rows = np.array([list(layout.numbers).index(mark) for mark in seen.marks.tolist()])
    order = np.arange(len(rows))

    def as_said(mirrored: bool) -> Pairing | None:
        return paired(row, layout.marks_mm, seen.points_mm, order, rows, noise, mirrored=mirrored)

    said = as_said(False)
    best = ways[0] if ways else None
    if said is None:
        return _no(
            cannot(
                "the marks lie in a line as numbered: nothing tells how the print is stretched",
                "measure marks along both edges of the film, and look at their numbers",
            )
        )
    factor2 = _factor2([said, *ways])
    low, high = _stretch(said, layout.marks_mm, seen.points_mm)
    at_size = low > 1 - STRETCH_MOST and high < 1 + STRETCH_MOST
    near = best is None or said.plausibility(factor2) > best.plausibility(factor2) - SURE
    if at_size and near and (_smooth(said) or _bends(said, layout, seen, noise)):
        return _agreed(said, ways, layouts, factor2)
    if low < 0:
        mirror = as_said(True)
        if mirror is not None and _smooth(mirror):
            return _no(in_a_mirror(declared))
    if best is not None and _smooth(best) and best.spare <= max(1, len(rows) // 4):
        trouble = contradiction(seen, layouts, asked, best, said)
        if trouble is not None:
            return _no(trouble)
    if not at_size and low > 0:
        return _no(wrong_size(sqrt(low * high), low, high))
    return _no(stranger(best, len(rows)))


def _unnumbered(
    seen: Seen,
    layouts: Sequence[Layout],
    noise: Noise,
    asked: int | None,
    ways: list[Pairing],
    declared: bool,
) -> Identity:
    """Points without numbers, or with some only: the best way that agrees with them."""
    ways = [way for way in ways if _agrees(way, seen, layouts)]
    good = [way for way in ways if _smooth(way) and _enough(way, layouts)]
    mirrors = pairings(seen.points_mm, [each.marks_mm for each in layouts], noise, mirrored=True)
    mirrors = [way for way in mirrors if _smooth(way) and _enough(way, layouts)]
    if not good:
        if mirrors:
            return _no(in_a_mirror(declared))
        parts = [way for way in ways if _smooth(way) and _at_size(way) and not way.spare]
        if parts:
            whose = {layouts[way.frame].index for way in parts}
            planned = max(len(layouts[way.frame].numbers) for way in parts)
            return _no(part_of_sheet(whose, len(parts[0].seen), planned))
        return _no(stranger(ways[0] if ways else None, len(seen.points_mm)))
    factor2 = _factor2(good)
    best = good[0]
    if mirrors and mirrors[0].plausibility(factor2) > best.plausibility(factor2) + SURE:
        return _no(in_a_mirror(declared))
    if asked is not None and layouts[best.frame].index != asked:
        those = [way for way in good if layouts[way.frame].index == asked]
        if not those or those[0].plausibility(factor2) < best.plausibility(factor2) - SURE:
            return _no(other_frame(asked, layouts[best.frame].index))
        best = those[0]
    low, high = best.stretch
    if not _at_size(best):
        return _no(wrong_size(sqrt(low * high), low, high))
    rivals = [way for way in _rivals(best, good, factor2) if way.frame != best.frame]
    if rivals and asked is None:
        frames = sorted({layouts[way.frame].index for way in [best, *rivals]})
        return _no(
            cannot(
                f"frames {listed(frames)} have the same marks: nothing tells which one this is",
                "say which with --frame",
            )
        )
    return _agreed(best, good, layouts, factor2)


def _agreed(
    said: Pairing, ways: list[Pairing], layouts: Sequence[Layout], factor2: float
) -> Identity:
    """The pairing stands unless the same frame would fit otherwise as well."""
    rivals = _rivals(said, ways, factor2)
    same = [way for way in rivals if way.frame == said.frame]
    if same:
        way = "turned by half" if len(same[0].seen) == len(said.seen) else "moved along by a mark"
        return _no(
            cannot(
                f"the marks fit as well with the sheet {way}: nothing tells how it lay",
                "measure every mark of the frame; where all were measured, this frame's marks look "
                "the same both ways round, and only a new plan or the eye can tell",
            )
        )
    notes = tuple(
        f"frame {index} has the same marks: that this is frame {layouts[said.frame].index} is "
        "believed as said"
        for index in sorted({layouts[way.frame].index for way in rivals})
    )
    others = [way for way in ways if way.key != said.key]
    odds, name = None, ""
    if others:
        gap = said.plausibility(factor2) - others[0].plausibility(factor2)
        odds = 1 / (1 + exp(min(gap, 700.0)))
        other = layouts[others[0].frame].index
        name = (
            "the same frame, lying otherwise"
            if others[0].frame == said.frame
            else (f"frame {other}")
        )
    return Identity(pairing=said, trouble=None, notes=notes, odds_wrong=odds, runner_up=name)


def _rivals(said: Pairing, ways: list[Pairing], factor2: float) -> list[Pairing]:
    """Other ways that are as good, or nearly; those that only leave points out are no others."""
    bar = said.plausibility(factor2) - SURE
    own = dict(zip(said.seen.tolist(), said.planned.tolist(), strict=True))
    return [
        way
        for way in ways
        if way.plausibility(factor2) > bar
        and (
            way.frame != said.frame
            or any(
                own.get(a, b) != b
                for a, b in zip(way.seen.tolist(), way.planned.tolist(), strict=True)
            )
        )
    ]


def _agrees(way: Pairing, seen: Seen, layouts: Sequence[Layout]) -> bool:
    """Whether a way gives every numbered point its own number."""
    numbers = layouts[way.frame].numbers
    return all(
        seen.marks[a] in (0, numbers[b])
        for a, b in zip(way.seen.tolist(), way.planned.tolist(), strict=True)
    )


def _enough(way: Pairing, layouts: Sequence[Layout]) -> bool:
    planned = len(layouts[way.frame].numbers)
    return len(way.seen) >= max(LEAST_MARKS, SEEN_SHARE * planned)


def _at_size(way: Pairing) -> bool:
    low, high = way.stretch
    return low > 1 - STRETCH_MOST and high < 1 + STRETCH_MOST


def _smooth(way: Pairing) -> bool:
    """Whether what an affine fit leaves could be a print, one mark forgiven."""
    forgiven = way.left.square > way.square
    square = way.square - (2 * STRAY if forgiven else 0.0)
    dof = way.left.dof - 2 * forgiven
    return square <= ROUGHEST**2 * max(dof, 1)


def _bends(said: Pairing, layout: Layout, seen: Seen, noise: Noise) -> bool:
    """Whether the film bends a little between rows of marks: strips explain what is left."""
    planned, there = layout.marks_mm[said.planned], seen.points_mm[said.seen]
    if not can_fit("strips", planned):
        return False
    printed = turned_back(planned, there).back(there)
    left = printed - fit_map("affine", planned, printed).at(planned)
    strips = residuals("strips", noise, planned, printed)
    small = float(np.hypot(*left.T).max()) <= BENT_MOST_MM
    return small and strips.square <= ROUGHEST**2 * max(strips.dof, 1)


def _factor2(ways: Sequence[Pairing]) -> float:
    """Variance of the likeliest way over that of the shop's figures, at least 1."""
    best = max(ways, key=lambda way: way.plausibility(1.0))
    return min(max(best.square / max(best.left.dof, 1), 1.0), ROUGHEST**2)


def _stretch(said: Pairing, marks: Array, points: Array) -> tuple[float, float]:
    """Stretches as numbered, without the one mark that is dearest, where it is dear."""
    falls, _ = said.left.without()
    rows = np.arange(len(falls))
    if falls.max() > 2 * STRAY:
        kept = rows[rows != int(falls.argmax())]
        if not flat(marks[said.planned[kept]]):
            rows = kept
    return stretches(marks[said.planned[rows]], points[said.seen[rows]])


def _no(trouble: Trouble) -> Identity:
    return Identity(pairing=None, trouble=trouble)
