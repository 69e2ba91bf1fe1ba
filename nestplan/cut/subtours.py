"""Which sets of pieces a half-way solution cuts off from where the knife comes from.

For a ring r and a set S of pieces without the start: over the edge of S go at least twice as
many legs as enter r in S. The worst set for each ring is a least cut (scipy's maximum flow).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow
from scipy.spatial import KDTree

STEPS = 100_000  # capacities are whole numbers to scipy
SLACK = 0.02  # of a leg; a cut that is missed by less is not worth a row
NEAR_TIMES = (0.15, 0.4, 1.0)  # of the mean leg: what is joined by such short legs is a place
FLOWS_MOST = 12  # rings whose worst set is looked for in a round
ENDS = 2  # columns START = -1 and END = -2 of `legs` are one point: the knife's begin and end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subtour:
    """inside: (k,) whether a piece belongs to S; ring: whose entering must be reached."""

    inside: NDArray[np.bool_]
    ring: int


def over_edge(legs: NDArray[np.int64], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which legs (n, 2) go over the edge of the set; START and END lie outside."""
    within = np.append(inside, [False, False])  # -1 and -2 count from the end
    return np.asarray(within[legs[:, 0]] != within[legs[:, 1]])


def subtours(
    legs: NDArray[np.int64],
    cost: NDArray[np.float64],
    used: NDArray[np.float64],
    entered: NDArray[np.float64],
    ring: NDArray[np.int64],
    middles: NDArray[np.float64],
) -> list[Subtour]:
    """Sets that are cut off, each with the ring that says so most; empty: there are none.

    A piece that nothing enters goes with the nearest that is entered, else the way would
    just move to it. middles: (k, 2) where each piece lies.
    """
    live = used > 1e-9
    legs, cost, used = legs[live], cost[live], used[live]
    touched = np.unique(legs[legs >= 0])
    nearest = touched[KDTree(middles[touched]).query(middles)[1]]
    nearest[touched] = touched
    found = _places(legs, cost, used, entered, ring, nearest)
    return found or _least_cuts(legs, used, entered, ring, nearest)


def _told(
    inside: NDArray[np.bool_],
    legs: NDArray[np.int64],
    used: NDArray[np.float64],
    entered: NDArray[np.float64],
    ring: NDArray[np.int64],
) -> Subtour | None:
    over = used[over_edge(legs, inside)].sum()
    share = np.bincount(ring[inside], weights=entered[inside])
    most = int(share.argmax())
    if over >= 2 * share[most] - SLACK:
        return None
    return Subtour(inside=inside, ring=most)


def _places(
    legs: NDArray[np.int64],
    cost: NDArray[np.float64],
    used: NDArray[np.float64],
    entered: NDArray[np.float64],
    ring: NDArray[np.int64],
    nearest: NDArray[np.int64],
) -> list[Subtour]:
    """What hangs together by short legs alone: rings as wholes, and pieces."""
    pieces, rings = len(ring), int(ring.max()) + 1
    mean = float((cost * used).sum() / max(used.sum(), 1e-9))
    found: dict[bytes, Subtour] = {}
    for times in (np.inf, *NEAR_TIMES):
        near = legs[(cost <= times * mean) & (legs[:, 0] >= 0)]
        for of, size in ((ring, rings), (np.arange(pieces), pieces)):
            graph = csr_array((np.ones(len(near)), (of[near[:, 0]], of[near[:, 1]])), (size, size))
            _, part = connected_components(graph, directed=False)
            part_of = part[of] if size == rings else part[nearest]
            for k in np.flatnonzero(np.bincount(part) > 1).tolist():
                inside = part_of == k
                told = _told(inside, legs, used, entered, ring)
                if told is not None:
                    found.setdefault(inside.tobytes(), told)
    return sorted(found.values(), key=lambda cut: -entered[cut.inside & (ring == cut.ring)].sum())


def _least_cuts(
    legs: NDArray[np.int64],
    used: NDArray[np.float64],
    entered: NDArray[np.float64],
    ring: NDArray[np.int64],
    nearest: NDArray[np.int64],
) -> list[Subtour]:
    """The worst set of each ring, those that are entered in most places first."""
    pieces, rings = len(ring), int(ring.max()) + 1
    start, end = pieces, pieces + 1
    a, b = np.where(legs < 0, start, legs).T
    flow = np.rint(used * STEPS).astype(np.int32)
    spread = np.bincount(ring, weights=entered**2, minlength=rings)
    found: dict[bytes, Subtour] = {}
    for each in np.argsort(spread, kind="stable")[:FLOWS_MOST].tolist():
        own = np.flatnonzero((ring == each) & (entered > 1e-9))
        sink = np.rint(2 * entered[own] * STEPS).astype(np.int32)
        graph = csr_array(
            (
                np.concatenate([flow, flow, sink]),
                (np.concatenate([a, b, own]), np.concatenate([b, a, np.full(len(own), end)])),
            ),
            (pieces + 2, pieces + 2),
        )
        graph.sum_duplicates()
        result = maximum_flow(graph, start, end)
        if result.flow_value >= (2 - SLACK) * STEPS:
            continue
        left = (graph - result.flow).tocsr()
        left.data = np.where(left.data > 0, left.data, 0)
        left.eliminate_zeros()
        reached = breadth_first_order(left, start, return_predecessors=False)
        inside = np.ones(pieces, dtype=bool)
        inside[reached[reached < pieces]] = False
        told = _told(inside[nearest], legs, used, entered, ring)
        if told is not None:
            found.setdefault(told.inside.tobytes(), told)
    return list(found.values())
