"""Where a way may enter rings: each ring cut into short pieces.

A piece stands for all its points, and two pieces are as far apart as their nearest points. So
whatever is proven of ways through pieces holds for ways through points, with nothing to be
taken off for the pieces' length.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Entries:
    """Pieces of rings, those of a ring one after the other.

    ring: (k,) whose piece. span_mm: (k, 2) from where to where along the ring.
    """

    ring: NDArray[np.int64]
    span_mm: NDArray[np.float64]
    line: NDArray[np.object_]  # (k,) shapely lines

    @property
    def length_mm(self) -> NDArray[np.float64]:
        """Of each piece."""
        return np.diff(self.span_mm, axis=1).ravel()


def entries_of(
    rings: list[NDArray[np.float64]], pieces: int, whole: NDArray[np.bool_] | None = None
) -> Entries:
    """So many pieces of each ring (n, 2), equally long; of those that are `whole` (m,) one."""
    many = np.where(whole, 1, pieces) if whole is not None else np.full(len(rings), pieces)
    spans = [
        np.linspace(0.0, shapely.LinearRing(ring).length, each + 1)
        for ring, each in zip(rings, many.tolist(), strict=True)
    ]
    owner = np.repeat(np.arange(len(rings)), many)
    ends = np.concatenate([np.column_stack([span[:-1], span[1:]]) for span in spans])
    return Entries(ring=owner, span_mm=ends, line=_lines(rings, owner, ends))


def halved(
    rings: list[NDArray[np.float64]], entries: Entries, which: NDArray[np.bool_]
) -> tuple[Entries, NDArray[np.int64]]:
    """Some pieces (k,) in two halves each; and of which piece each is now a part."""
    parent = np.repeat(np.arange(len(which)), np.where(which, 2, 1))
    span = entries.span_mm[parent]
    first = np.flatnonzero(which) + np.arange(which.sum())
    middle = entries.span_mm[which].mean(axis=1)
    span[first, 1] = span[first + 1, 0] = middle
    owner = entries.ring[parent]
    return Entries(ring=owner, span_mm=span, line=_lines(rings, owner, span)), parent


def _lines(
    rings: list[NDArray[np.float64]], owner: NDArray[np.int64], span_mm: NDArray[np.float64]
) -> NDArray[np.object_]:
    """The part of its ring that each span covers."""
    lines: list[shapely.LineString] = []
    known: dict[int, tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
    for ring, (low, high) in zip(owner.tolist(), span_mm.tolist(), strict=True):
        if ring not in known:
            closed = np.vstack([rings[ring], rings[ring][:1]])
            legs = np.hypot(*np.diff(closed, axis=0).T)
            known[ring] = closed, np.concatenate([[0.0], np.cumsum(legs)])
        closed, along = known[ring]
        ends = np.column_stack([np.interp([low, high], along, closed[:, k]) for k in (0, 1)])
        between = closed[(along > low) & (along < high)]
        lines.append(shapely.LineString(np.vstack([ends[:1], between, ends[1:]])))
    return np.array(lines, dtype=object)
