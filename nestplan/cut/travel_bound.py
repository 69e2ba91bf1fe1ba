"""How far the lifted knife must travel at least, whatever the order and the starts.

A way visits every ring at one point of it. A linear programme says how much of the way
enters each piece of each ring (`y`) and goes between two pieces (`x`): every ring is entered
once, a piece that is entered is left by two legs, and nothing that is entered may be cut off
from where the knife comes from: over the edge of any set S of pieces go at least twice as many
legs as enter a ring in S (the subtour inequalities of the generalised travelling salesman,
Fischetti, Salazar Gonzalez and Toth 1997, Operations Research 45(3), 378-394, from memory). What
must come first is relaxed but for the phases, window by window and kiss before through: they
follow each other, joined by one leg each. Inside before outside is left out, so that the
bound holds for it too.

Legs that the programme was not given are priced: the least reduced cost, if below zero, is
taken off once for each leg of a way. So the bound holds wherever the work ends.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.cut.entries import Entries, entries_of
from nestplan.cut.programme import END, START, Programme, Solved
from nestplan.cut.subtours import Subtour, subtours

NEAR_LEGS = 8  # of each piece, to begin with
PRICED_MOST = 6  # legs times pieces that join the programme at once
ENTERED = 1e-6
CUTS_MOST = 60  # that join in one round
PIECES_OF_RING, PIECES_MOST = 8, 1_200
ROUNDS, PRICED_ROUNDS = 6, 4  # with new cuts, and then without


def travel_bound_mm(
    origin_mm: NDArray[np.float64] | None,
    rings: list[NDArray[np.float64]],
    phase: NDArray[np.int64],
    *,
    pieces: int | None = None,
    rounds: int = ROUNDS,
) -> float:
    """Least travel from the origin through one point of every ring, phase after phase.

    origin_mm: (2,); None: the knife comes from anywhere. phase: (m,) phases follow by number.
    pieces: of each ring; absent: eight, fewer for many rings. Of more rings than there are
    pieces in all, each is only held to be reached from its nearest neighbour.
    """
    if not rings:
        return 0.0
    _, phase = np.unique(phase, return_inverse=True)
    if pieces is None:
        pieces = min(PIECES_OF_RING, PIECES_MOST // len(rings))
    if pieces == 0:
        return _nearest_sum(rings)
    entries = entries_of(rings, pieces)
    programme = Programme(ring=entries.ring, phase=phase)
    programme.add_legs(*_first_legs(origin_mm, entries, phase))
    bound, middles = 0.0, _boxes(entries.line)[0]
    for k in range(rounds + PRICED_ROUNDS):
        solved = programme.solve()
        least, legs, cost = _priced(programme, entries, solved)
        bound = max(bound, solved.length_mm + least * len(phase))
        found: list[Subtour] = []
        if k < rounds:
            found = subtours(
                programme.legs,
                programme.cost,
                solved.used,
                solved.entered,
                entries.ring,
                middles,
            )
        if not (found or len(legs)):
            break
        programme.add_legs(legs, cost)
        programme.cuts += found[:CUTS_MOST]
    return bound


def _nearest_sum(rings: list[NDArray[np.float64]]) -> float:
    """Every ring but the first is reached from another, none of which is nearer than this."""
    lines = np.array([shapely.LinearRing(ring) for ring in rings])
    if len(lines) == 1:
        return 0.0
    _, apart = shapely.STRtree(lines).query_nearest(
        lines, exclusive=True, return_distance=True, all_matches=False
    )
    return float(apart.sum() - apart.max())


def _first_legs(
    origin: NDArray[np.float64] | None, entries: Entries, phase: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The nearest legs of each piece, and all from the start and to the end."""
    line, of_piece = entries.line, phase[entries.ring]
    middles, reach = _boxes(line)
    pairs = []
    for a in range(len(line)):
        away = np.hypot(*(middles - middles[a]).T) - reach
        away[(entries.ring == entries.ring[a]) | (np.abs(of_piece - of_piece[a]) > 1)] = np.inf
        near = np.argsort(away, kind="stable")[:NEAR_LEGS]
        near = near[np.isfinite(away[near])]
        pairs.append(np.column_stack([np.full(len(near), a), near]))
    begins = np.searchsorted(entries.ring, np.argsort(phase, kind="stable"))
    pairs.append(np.column_stack([begins[:-1], begins[1:]]))  # a way, so that there is one
    between = np.unique(np.sort(np.concatenate(pairs), axis=1), axis=0)
    first, last = np.flatnonzero(of_piece == 0), np.flatnonzero(of_piece == phase.max())
    from_start = np.zeros(len(first))
    if origin is not None:
        from_start = shapely.distance(line[first], shapely.Point(*origin.tolist()))
    legs = [
        between,
        np.column_stack([np.full(len(first), START), first]),
        np.column_stack([np.full(len(last), END), last]),
    ]
    apart = shapely.distance(line[between[:, 0]], line[between[:, 1]])
    return np.concatenate(legs), np.concatenate([apart, from_start, np.zeros(len(last))])


def _priced(
    programme: Programme, entries: Entries, solved: Solved
) -> tuple[float, NDArray[np.int64], NDArray[np.float64]]:
    """The least reduced cost of all legs that are not there, and the legs that would help.

    Legs from the start and to the end are all there. What the boxes of two pieces rule out
    is not measured.
    """
    line = entries.line
    middles, reach = _boxes(line)
    across, along = (middles[:, None, k] - middles[None, :, k] for k in (0, 1))
    away = np.hypot(across, along) - reach[:, None] - reach[None, :]
    reduced = programme.reduced(np.maximum(away, 0.0), solved)
    legs = np.argwhere(np.triu(reduced < -ENTERED, 1))
    cost = shapely.distance(line[legs[:, 0]], line[legs[:, 1]])
    surplus = cost - np.maximum(away, 0.0)[legs[:, 0], legs[:, 1]]
    exact = reduced[legs[:, 0], legs[:, 1]] + surplus
    helps = np.argsort(exact, kind="stable")[: PRICED_MOST * len(line)]
    helps = helps[exact[helps] < -ENTERED]
    return float(min(exact.min(initial=0.0), 0.0)), legs[helps], cost[helps]


def _boxes(line: NDArray[np.object_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles (k, 2) of the pieces' boxes, and the half diagonals (k,)."""
    box = shapely.bounds(line)
    return (box[:, :2] + box[:, 2:]) / 2, np.hypot(*(box[:, 2:] - box[:, :2]).T) / 2
