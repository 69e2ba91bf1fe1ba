"""In which order the knife follows which line."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.figures import count, path, short
from nestplan.job import Cut

CutKind = Literal["kiss", "weed", "through"]
KINDS: tuple[CutKind, ...] = ("kiss", "weed", "through")  # in cutting order
# waste is parted once the decals are cut; film that is cut through no longer lies still
NO_DECAL = -1  # of a weed line
NO_RING = -1  # of a stroke that several rings share


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutStroke:
    """What the knife follows from down to up, in run coordinates; it starts at row 0.

    A closed ring, or an open line: a ring with the knife run on past its start, a piece of a
    contour between tabs, edges that copies share, a weed line.
    decal: index into the artwork's decals; copy: from 1; ring: index into the contour's rings,
    behind them those of the backing, which `is_backing` tells apart. Shared edges are the
    first copy's; a weed line is nobody's. window: of web travel, from 0 in each frame.
    one_way: an open line that the knife follows from its first point only. overcut_mm: of a
    ring that is drawn longer than once round.
    """

    kind: CutKind
    decal: int
    copy: int
    ring: int
    points_mm: NDArray[np.float64]  # (n, 2); of a closed one the first point is not repeated
    is_backing: bool = False
    window: int = 0
    closed: bool = True
    one_way: bool = False
    overcut_mm: float = 0.0

    @property
    def path_mm(self) -> NDArray[np.float64]:
        """All the knife's way (k, 2), back to the first point where it is closed."""
        points = self.points_mm
        return np.vstack([points, points[:1]]) if self.closed else points

    @property
    def end_mm(self) -> NDArray[np.float64]:
        """Where the knife is lifted (2,)."""
        end: NDArray[np.float64] = self.points_mm[0 if self.closed else -1]
        return end

    @property
    def tool(self) -> Cut:
        """How deep it is cut: weed lines as a kiss cut."""
        return "kiss" if self.kind == "weed" else self.kind

    @property
    def is_line(self) -> bool:
        """The knife is lifted elsewhere than it was put down, not only by an overcut."""
        return not self.closed and not self.overcut_mm

    @property
    def is_piece(self) -> bool:
        """Part of a contour, or more than it, but not the ring itself."""
        return self.decal != NO_DECAL and (not self.closed or self.ring == NO_RING)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameCut:
    """One frame in cutting order: window by window, kiss cuts, weed lines, through cuts.

    tabs_mm: (k, 2, 2) both ends of every tab.
    """

    index: int  # from 1
    strokes: tuple[CutStroke, ...]
    tabs_mm: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2, 2)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """What the cut has beyond the contours, or less, counted.

    overcut_mm: run on at each closed line. tabs: bridges left, tab_mm wide each. weed_lines,
    weed_mm: strokes and their length. shared_mm: length of edges that two contours share.
    untabbed: decals (indices) with holes that have no room for tabs.
    """

    overcut_mm: float = 0.0
    tabs: int = 0
    tab_mm: float = 0.0
    weed_lines: int = 0
    weed_mm: float = 0.0
    shared_mm: float = 0.0
    untabbed: tuple[int, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """Each in a few words, for people."""
        shared = f"{path(self.shared_mm)} of shared edges cut once" if self.shared_mm else ""
        tabs = f"{count(self.tabs, 'tab')} of {short(self.tab_mm, 2)} mm" if self.tabs else ""
        weed = count(self.weed_lines, "weed line") if self.weed_lines else ""
        over = f"overcut {short(self.overcut_mm, 2)} mm" if self.overcut_mm else ""
        return tuple(filter(None, (shared, tabs, weed, over)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutPlan:
    """The cut of a whole run.

    contours counts copies; length_mm is knife down; travel_mm is knife up, from the
    first mark of each frame through every stroke. travel_bound_mm: less it cannot be,
    whatever the order and the starts.
    """

    frames: tuple[FrameCut, ...]
    contours: int
    length_mm: float
    travel_mm: float
    travel_bound_mm: float = 0.0
    extras: Extras = Extras()
