"""Frames and their marks, in run coordinates."""

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from nestplan.faults import Note
from nestplan.geometry.outline import Outline


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One printed registration mark; `number` counts from 1 within its frame.

    inside: it belongs to neither edge, so the spacing does not ask for it.
    """

    number: int
    x_mm: float
    y_mm: float
    inside: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """How good the marks of a frame are; shares of what is best, 1 at most.

    noise_bound: the least greatest standard deviation, in those of one mark, that mark noise
    could leave with this number of marks. noise_best: the bound over what the best set found for
    noise alone has. noise_here: the bound over what the chosen set has. total: the least
    greatest error found by exchange over that of the chosen set. moved, more: marks that stand
    elsewhere than evenly spaced, and beyond their number. gain: share by which the greatest
    error is below that of evenly spaced marks.
    """

    noise_bound: float
    noise_best: float
    noise_here: float
    total: float
    moved: int
    more: int
    gain: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What can be said of one bad mark.

    alike: greatest cosine of two marks' residuals. seen: least share of a bad mark's error
    that its own residual shows. times_noise: from how many standard deviations on a mark is
    named with at most one error in a hundred against the likest other; None: never.
    """

    alike: float
    seen: float
    times_noise: float | None

    @property
    def sure(self) -> bool:
        """Named, not only suspected."""
        return self.alike <= ALIKE and self.times_noise is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """How well the marks of a run stand.

    worth: of each frame; None for a cutter that fits nothing: its marks stay evenly spaced.
    named: of each frame. mistaken: greatest chance that readings of a frame fit another frame,
    or one that is turned round, better.
    """

    worth: tuple[Worth | None, ...]
    named: tuple[Named, ...]
    mistaken: float


ALIKE = 0.95  # cosine from which a mark is only suspected, together with others
SCALE_BAR_MM = 100.0  # long enough for a tape measure, short enough for the smallest frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Slug:
    """Where the printed words and scale bars of a frame go, in run coordinates.

    across_mm: start (x, y) of the bar that runs 100 mm in +x; blank room of 5 mm above
               its line (y to y + 5) and 2 mm beyond its ends is kept for ticks and label.
    along_mm:  start (x, y) of the bar that runs 100 mm in +y; room x to x + 5.
    text_mm:   box (left, bottom, right, top) for one line of text, upright; the line is
               set as small as needed to stay inside.
    code_mm:   (left, bottom, side) of the square code with its quiet zone; None: no room.
    """

    across_mm: tuple[float, float]
    along_mm: tuple[float, float]
    text_mm: tuple[float, float, float, float]
    code_mm: tuple[float, float, float] | None = None

    def moved_along(self, step_mm: float) -> "Slug":
        """The same farther along the feed."""
        left, bottom, right, top = self.text_mm
        code = self.code_mm
        return Slug(
            across_mm=(self.across_mm[0], self.across_mm[1] + step_mm),
            along_mm=(self.along_mm[0], self.along_mm[1] + step_mm),
            text_mm=(left, bottom + step_mm, right, top + step_mm),
            code_mm=None if code is None else (code[0], code[1] + step_mm, code[2]),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """A length of the run with its own marks, cut in one go.

    y0_mm:    leading end of the frame in run coordinates.
    strip_y0_mm: where the nest strip's y = 0 lies in run coordinates.
    safe:     where the centre of a mark could stand (run coordinates), shown on the proof.
    """

    index: int  # from 1
    y0_mm: float
    length_mm: float
    strip_y0_mm: float
    marks: tuple[Mark, ...]
    slug: Slug
    safe: BaseGeometry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MarkPlan:
    """All frames of a run.

    outline: one mark about its own centre, as printed (plain geometry from the shop file).
    """

    frames: tuple[Frame, ...]
    shape: str
    size_mm: float
    clear_mm: float
    spacing_mm: float
    outline: Outline
    length_used_mm: float  # film from the leading edge to the end of the tail
    notes: tuple[Note, ...]
    placement: Placement | None = None  # None: marks set by hand
