"""A long run in pieces that stand side by side, parted between frames."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from nestplan.files.proof_scale import View, round_scale
from nestplan.files.proof_sheet import Box
from nestplan.files.run import Run
from nestplan.marks import Frame, MarkPlan

GAP_MM = 4.0  # between two pieces and what is written beside them
PIECES_MOST = 12
PIECES_WEIGHT = 0.75  # one piece is easier to read than several at a third larger scale
LEAST_MM = (5.0, 20.0)  # across and along: a smaller drawing is of no use


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


@dataclass(frozen=True, slots=True, kw_only=True)
class PiecesFit:
    """At which scale and in which pieces the run is drawn."""

    denominator: float
    pieces: tuple[FilmPiece, ...]

    @property
    def longest_mm(self) -> float:
        """The longest piece, on paper."""
        longest = max(piece.y_to_mm - piece.y_from_mm for piece in self.pieces)
        return longest / self.denominator


Fits = Callable[[float, float], tuple[PiecesFit, float] | None]


def pieces_fit(run: Run, *, side_mm: float, taken_mm: Callable[[int, float], float]) -> Fits:
    """How the run is best drawn in a room so wide and tall, and what that is worth.

    side_mm: paper beside each piece. taken_mm: of the height, for so many pieces in a room so
    wide, by all else.
    """
    width = run.job.roll.width_mm
    most = min(PIECES_MOST, len(run.marks.frames))
    parted = {k: pieces_of(run.marks, k) for k in range(1, most + 1)}

    def fits(wide_mm: float, tall_mm: float) -> tuple[PiecesFit, float] | None:
        best: tuple[PiecesFit, float] | None = None
        for k, pieces in parted.items():
            across = wide_mm - k * side_mm - (k - 1) * GAP_MM
            along = tall_mm - taken_mm(k, wide_mm)
            if across < LEAST_MM[0] or along < LEAST_MM[1]:
                break
            longest = max(piece.y_to_mm - piece.y_from_mm for piece in pieces)
            denominator = round_scale(max(k * width / across, longest / along))
            worth = (1.0 if len(pieces) == 1 else PIECES_WEIGHT) / denominator
            if best is None or worth > best[1] * 1.02:
                best = PiecesFit(denominator=denominator, pieces=pieces), worth
        return best

    return fits


def views_of(run: Run, fit: PiecesFit, room: Box, *, sides_mm: tuple[float, float]) -> list[View]:
    """Where each piece is drawn, side by side in the middle of a room.

    sides_mm: paper at the left and right of each piece.
    """
    left, bottom, right, top = room
    pitch = run.job.roll.width_mm / fit.denominator + sum(sides_mm) + GAP_MM
    used = pitch * len(fit.pieces) - GAP_MM
    x = left + (right - left - used) / 2 + sides_mm[0]
    y = bottom + (top - bottom - fit.longest_mm) / 2
    return [
        View(
            x0_mm=0.0,
            y0_mm=piece.y_from_mm,
            page_x_mm=x + index * pitch,
            page_y_mm=y,
            denominator=fit.denominator,
        )
        for index, piece in enumerate(fit.pieces)
    ]


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
