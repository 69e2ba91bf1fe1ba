"""A long run in pieces that stand side by side, parted between frames."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from nestplan.marks import Frame, MarkPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmPiece:
    """A length of film drawn in one piece, with the frames on it."""

    y_from_mm: float
    y_to_mm: float
    frames: tuple[Frame, ...]


def pieces_of(marks: MarkPlan, most: int) -> tuple[FilmPiece, ...]:
    """The run in at most so many pieces, the longest as short as may be, frames whole."""
    frames = marks.frames
    ends = [(a.y0_mm + a.length_mm + b.y0_mm) / 2 for a, b in pairwise(frames)]
    ends.append(marks.length_used_mm)
    low, high = 0.0, marks.length_used_mm
    while high - low > 0.5:
        middle = (low + high) / 2
        cut = _cut_at(ends, middle)
        if cut is not None and len(cut) <= most:
            high = middle
        else:
            low = middle
    cut = _cut_at(ends, high)
    assert cut is not None, "one piece holds the run"
    pieces, start, first = [], 0.0, 0
    for last in cut:
        pieces.append(
            FilmPiece(y_from_mm=start, y_to_mm=ends[last], frames=frames[first : last + 1])
        )
        start, first = ends[last], last + 1
    return tuple(pieces)


def _cut_at(ends: Sequence[float], most_mm: float) -> list[int] | None:
    """Index of the last frame of each piece, none longer than most_mm; None if one must be."""
    cut: list[int] = []
    start = 0.0
    for index, end in enumerate(ends):
        if end - start > most_mm + 1e-9:
            before = ends[index - 1] if index else 0.0
            if not index or before <= start or end - before > most_mm + 1e-9:
                return None
            cut.append(index - 1)
            start = before
    return [*cut, len(ends) - 1]
