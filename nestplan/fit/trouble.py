"""What stands in the way of a verdict, in words: other sheets, frames, sizes, numbers."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from nestplan import figures
from nestplan.fit.match import MATCHED_MM, STRETCH_MOST, Array, Pairing, linear
from nestplan.fit.seen import Seen

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
class Layout:
    """A frame's marks as planned: its number, theirs (N,), and where they are (N, 2)."""

    index: int
    numbers: Sequence[int]
    marks_mm: Array


def contradiction(
    seen: Seen, layouts: Sequence[Layout], asked: int, best: Pairing, said: Pairing
) -> Trouble | None:
    """What the table says otherwise than the sheet, mark by mark."""
    layout = layouts[best.frame]
    if layout.index != asked:
        return other_frame(asked, layout.index)
    own = {
        int(seen.marks[a]): int(layout.numbers[b])
        for a, b in zip(best.seen.tolist(), best.planned.tolist(), strict=True)
    }
    wrong = {mark: true for mark, true in own.items() if mark != true}
    if not wrong:
        spare = sorted(set(seen.marks.tolist()) - set(own))
        if not spare:
            return None
        inches = _in_inches(seen, best, layout, spare)
        if inches:
            return Trouble(
                kind="again",
                what=f"{names_of(inches)} seem to be in another unit than the rest: inches among "
                "millimetres",
                do="put all lines of the table into one unit",
            )
        return Trouble(
            kind="again",
            what=f"{names_of(spare)} as measured lie where no mark was printed",
            do=f"measure {names_of(spare)} again",
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


def _in_inches(seen: Seen, best: Pairing, layout: Layout, spare: Sequence[int]) -> list[int]:
    """Those of the marks left over that lie where they should in inches."""
    planned, there = layout.marks_mm[best.planned], seen.points_mm[best.seen]
    matrix = linear(planned, there)
    found = []
    for mark in spare:
        place = layout.marks_mm[list(layout.numbers).index(mark)]
        expected = (place - planned.mean(axis=0)) @ matrix.T + there.mean(axis=0)
        point = seen.points_mm[seen.marks.tolist().index(mark)]
        if min(np.hypot(*(point * f - expected)) for f in (25.4, 1 / 25.4)) < MATCHED_MM:
            found.append(mark)
    return found


def _half_turned(said: Pairing, best: Pairing, layout: Layout, seen: Seen) -> bool:
    """Whether the sheet lies the other way round than the table would have it."""
    angles = []
    for way in (said, best):
        turned = linear(layout.marks_mm[way.planned], seen.points_mm[way.seen])
        angles.append(np.degrees(np.arctan2(turned[1, 0] - turned[0, 1], np.trace(turned))))
    return bool(abs((angles[0] - angles[1]) % 360 - 180) < 20)


def wrong_size(whole: float, low: float, high: float) -> Trouble:
    """whole, low, high: mean, least and greatest stretch of the sheet as numbered."""
    for factor, words in UNITS:
        if abs(whole * factor - 1) < 0.03:
            return cannot(words, "put the unit right: x_mm,y_mm or x_in,y_in")
    if high / low > 1 + 2 * STRETCH_MOST:
        what = (
            f"the print is {figures.percent(100 * (low - 1), 1)} to "
            f"{figures.percent(100 * (high - 1), 1)} larger than planned, one way against the other"
        )
        return cannot(what, "look whether this is the plan's sheet, and each axis in its unit")
    larger = "larger" if whole > 1 else "smaller"
    return cannot(
        f"everything is {figures.percent(100 * abs(whole - 1), 1)} {larger} than planned",
        "measure the printed 100 mm bars: if they are off as much, print again at actual size; "
        "if not, put the measuring right",
    )


def stranger(best: Pairing | None, points: int) -> Trouble:
    """points: how many were measured; best: the way that explains most of them."""
    most = len(best.seen) if best is not None else 0
    what = (
        f"no way of laying the marks on any frame of this plan explains them: at best {most} of "
        f"{points} come near a planned place, and they do not go together"
        if most
        else "no way of laying the marks on any frame of this plan explains them"
    )
    return cannot(
        what,
        "look whether this is the plan's sheet, whether some marks are in another unit, and "
        "measure again",
    )


def part_of_sheet(frames: Collection[int], seen: int, planned: int) -> Trouble:
    """frames: of which it may be a part; seen, planned: how many marks."""
    whose = f"frame {min(frames)}" if len(frames) == 1 else "a frame"
    return cannot(
        f"only part of a sheet: {seen} of the {planned} marks of {whose} are there, too few to "
        "judge all of it by",
        "show the whole frame, from its first pair of marks to its last, or measure those that "
        "are missing",
    )


def other_frame(asked: int, index: int) -> Trouble:
    """asked: the frame that was said; index: the one that it is."""
    return cannot(
        f"these are the marks of frame {index}, not of frame {asked} as said",
        f"take the sheet of frame {asked}, or measure these marks as frame {index}",
    )


def in_a_mirror(declared: bool) -> Trouble:
    """declared: whether the table says which way y counts."""
    if declared:
        return cannot(
            "the marks are those of the sheet in a mirror",
            "show the printed side; of a table, put its header line right (y=up or y=down)",
        )
    return cannot(
        "the marks are those of the sheet in a mirror",
        "where y counts downward, as on a screen, write the line y=down above the table; else "
        "measure from the printed side",
    )


def cannot(what: str, do: str) -> Trouble:
    """What keeps anybody from judging the print."""
    return Trouble(kind="cannot", what=what, do=do)


def listed(numbers: Sequence[int]) -> str:
    """1, 2 and 3."""
    return ", ".join(str(n) for n in numbers[:-1]) + f" and {numbers[-1]}"


def names_of(numbers: Sequence[int]) -> str:
    """mark 1, or marks 1, 2 and 3."""
    return f"mark {numbers[0]}" if len(numbers) == 1 else f"marks {listed(numbers)}"
