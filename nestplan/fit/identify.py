"""Which sheet, which frame, which mark: what the geometry says against what the table says.

Numbers in a table are believed where the geometry agrees. Where it does not, the difference
is named and nothing is corrected in silence. `Trouble` is what stands in the way of a verdict.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt
from typing import Literal

import numpy as np

from nestplan import figures
from nestplan.fit.maps import can_fit, fit_map, turned_back
from nestplan.fit.match import (
    STRAY,
    STRETCH_MOST,
    Array,
    Pairing,
    flat,
    linear,
    paired,
    pairings,
    stretches,
)
from nestplan.fit.noise import Noise, residuals
from nestplan.fit.seen import Seen

SURE = 9.0  # log-likelihood by which the best must lead: another is taken in 1 of 8 000 cases
ROUGHEST = 4.0  # residuals so many times what the shop's figures expect are another sheet
BENT_MOST_MM = 1.0  # more between two rows of marks is another sheet
SEEN_SHARE = 0.6  # of a frame's marks must be seen where nobody numbered them
LEAST_MARKS = 4
UNITS = (
    (25.4, "the numbers are 25.4 times too small: inches under a heading of millimetres"),
    (1 / 25.4, "the numbers are 25.4 times too large: millimetres under a heading of inches"),
    (10.0, "the numbers are 10 times too small: centimetres under a heading of millimetres"),
    (0.1, "the numbers are 10 times too large: a heading of millimetres over tenths"),
    (1000.0, "the numbers are 1000 times too small: metres under a heading of millimetres"),
)

Kind = Literal["cannot", "again"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Why there is no verdict on the print. kind: cannot be judged, or measure again."""

    kind: Kind
    what: str
    do: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Identity:
    """What the points are taken for. odds_wrong: of the runner-up, as far as there is one."""

    pairing: Pairing | None
    trouble: Trouble | None
    notes: tuple[str, ...] = ()
    odds_wrong: float | None = None
    runner_up: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """A frame's marks as planned: its number, theirs (N,), and where they are (N, 2)."""

    index: int
    numbers: Sequence[int]
    marks_mm: Array


def identify(
    seen: Seen, layouts: Sequence[Layout], noise: Noise, *, asked: int | None, declared: bool
) -> Identity:
    """Name the points. asked: the frame that the table or --frame names."""
    points = seen.points_mm
    if len(points) < LEAST_MARKS:
        return _cannot(
            f"{figures.count(len(points), 'mark')} are too few: nothing would tell a misread one "
            "from stretch and skew",
            "measure all marks of the frame",
        )
    if flat(points):
        return _cannot(
            "the marks lie in a line: nothing tells how the print is stretched across it",
            "measure marks along both edges of the film",
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
        return _cannot(
            "the marks lie in a line as numbered: nothing tells how the print is stretched",
            "measure marks along both edges of the film, and look at their numbers",
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
            return _cannot(_mirror_words(declared), _mirror_do(declared))
    if best is not None and _smooth(best) and best.spare <= max(1, len(rows) // 4):
        trouble = _contradiction(seen, layouts, asked, best, said)
        if trouble is not None:
            return Identity(pairing=None, trouble=trouble)
    if not at_size and low > 0:
        return _wrong_size(sqrt(low * high), low, high)
    return _stranger(best, len(rows), seen)


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
            return _cannot(_mirror_words(declared), _mirror_do(declared))
        return _stranger(ways[0] if ways else None, len(seen.points_mm), seen)
    factor2 = _factor2(good)
    best = good[0]
    if mirrors and mirrors[0].plausibility(factor2) > best.plausibility(factor2) + SURE:
        return _cannot(_mirror_words(declared), _mirror_do(declared))
    if asked is not None and layouts[best.frame].index != asked:
        those = [way for way in good if layouts[way.frame].index == asked]
        if not those or those[0].plausibility(factor2) < best.plausibility(factor2) - SURE:
            return _other_frame(asked, layouts[best.frame].index)
        best = those[0]
    low, high = best.stretch
    if low < 1 - STRETCH_MOST or high > 1 + STRETCH_MOST:
        return _wrong_size(sqrt(low * high), low, high)
    rivals = [way for way in _rivals(best, good, factor2) if way.frame != best.frame]
    if rivals and asked is None:
        frames = sorted({layouts[way.frame].index for way in [best, *rivals]})
        return _cannot(
            f"frames {_listed(frames)} have the same marks: nothing tells which one this is",
            "say which with --frame",
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
        return _cannot(
            f"the marks fit as well with the sheet {way}: nothing tells how it lay",
            "measure every mark of the frame; where all were measured, this frame's marks look "
            "the same both ways round, and only a new plan or the eye can tell",
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


def _contradiction(
    seen: Seen, layouts: Sequence[Layout], asked: int, best: Pairing, said: Pairing
) -> Trouble | None:
    """What the table says otherwise than the sheet, mark by mark."""
    layout = layouts[best.frame]
    if layout.index != asked:
        return _other_frame(asked, layout.index).trouble
    own = {
        int(seen.marks[a]): int(layout.numbers[b])
        for a, b in zip(best.seen.tolist(), best.planned.tolist(), strict=True)
    }
    wrong = {mark: true for mark, true in own.items() if mark != true}
    if not wrong:
        spare = sorted(set(seen.marks.tolist()) - set(own))
        if not spare:
            return None
        return Trouble(
            kind="again",
            what=f"{_marks(spare)} as measured lie where no mark was printed",
            do=f"measure {_marks(spare)} again",
        )
    if len(wrong) == 2 and all(wrong.get(true) == mark for mark, true in wrong.items()):
        a, b = sorted(wrong)
        return Trouble(
            kind="again",
            what=f"marks {a} and {b} are swapped in the table, by their places on the sheet",
            do=f"look at marks {a} and {b} on the sheet and put their numbers right",
        )
    if len(wrong) == len(own) and _half_turned(said, best, layout, seen):
        return Trouble(
            kind="cannot",
            what="the numbers are those of a sheet turned by half: mark "
            f"{min(wrong)} of the table is mark {wrong[min(wrong)]} on the sheet",
            do="find mark 1 on the proof and on the sheet, and number the marks anew",
        )
    told = ", ".join(f"{mark} is {true}" for mark, true in sorted(wrong.items())[:6])
    return Trouble(
        kind="again",
        what=f"the numbers in the table are mixed up, by their places on the sheet: {told}",
        do="number the marks as the proof does, and measure again where in doubt",
    )


def _half_turned(said: Pairing, best: Pairing, layout: Layout, seen: Seen) -> bool:
    """Whether the sheet lies the other way round than the table would have it."""
    angles = []
    for way in (said, best):
        turned = linear(layout.marks_mm[way.planned], seen.points_mm[way.seen])
        angles.append(np.degrees(np.arctan2(turned[1, 0] - turned[0, 1], np.trace(turned))))
    return bool(abs((angles[0] - angles[1]) % 360 - 180) < 20)


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


def _wrong_size(whole: float, low: float, high: float) -> Identity:
    for factor, words in UNITS:
        if abs(whole * factor - 1) < 0.03:
            return _cannot(words, "put the unit right: x_mm,y_mm or x_in,y_in")
    if high / low > 1 + 2 * STRETCH_MOST:
        what = (
            f"the print is {figures.percent(100 * (low - 1), 1)} to "
            f"{figures.percent(100 * (high - 1), 1)} larger than planned, one way against the other"
        )
        return _cannot(what, "look whether this is the plan's sheet, and each axis in its unit")
    larger = "larger" if whole > 1 else "smaller"
    return _cannot(
        f"everything is {figures.percent(100 * abs(whole - 1), 1)} {larger} than planned",
        "measure the printed 100 mm bars: if they are off as much, print again at actual size; "
        "if not, put the measuring right",
    )


def _stranger(best: Pairing | None, points: int, seen: Seen) -> Identity:
    most = len(best.seen) if best is not None else 0
    what = (
        f"no way of laying the marks on any frame of this plan explains them: at best {most} of "
        f"{points} come near a planned place, and they do not go together"
        if most
        else "no way of laying the marks on any frame of this plan explains them"
    )
    return _cannot(
        what,
        "look whether this is the plan's sheet, whether some marks are in another unit, and "
        "measure again",
    )


def _other_frame(asked: int, index: int) -> Identity:
    return _cannot(
        f"these are the marks of frame {index}, not of frame {asked} as said",
        f"take the sheet of frame {asked}, or measure these marks as frame {index}",
    )


def _mirror_words(declared: bool) -> str:
    said = " as its header has y" if declared else ""
    return f"the marks are those of the sheet in a mirror{said}"


def _mirror_do(declared: bool) -> str:
    if declared:
        return "put the header line right (y=up or y=down), or measure from the printed side"
    return (
        "where y counts downward, as on a screen, write the line y=down above the table; else "
        "measure from the printed side"
    )


def _cannot(what: str, do: str) -> Identity:
    return Identity(pairing=None, trouble=Trouble(kind="cannot", what=what, do=do))


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(n) for n in numbers[:-1]) + f" and {numbers[-1]}"


def _marks(numbers: Sequence[int]) -> str:
    return f"mark {numbers[0]}" if len(numbers) == 1 else f"marks {_listed(numbers)}"
