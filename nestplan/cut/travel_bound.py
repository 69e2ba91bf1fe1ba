"""How far the lifted knife must travel at least, whatever the order and the starts.

A way visits every ring at one point of it. A linear programme says how much of the way
enters each piece of each ring (`y`) and goes between two pieces (`x`): every ring is entered
once, a piece that is entered is left by two legs, and nothing that is entered may be cut off
from where the knife comes from: over the edge of any set S of pieces go at least twice as many
legs as enter a ring in S (the subtour inequalities of the generalised travelling salesman,
Fischetti, Salazar Gonzalez and Toth 1997, Operations Research 45(3), 378-394, from memory). One
case of it is asked for by name, since there are so many: from a piece to one other ring go no
more legs than enter the piece. What must come first is relaxed but for the phases, window by
window and kiss before through: they follow each other, joined by one leg each. Inside before
outside is left out, so that the bound holds for it too.

Regions round each ring are held from the start; what else is cut off is looked for. Legs that
the programme was not given are priced: where one costs less than the prices say, the prices
of both its ends give way. So the bound holds wherever the work ends. Within a piece a way
moves for nothing, so pieces that a way would enter may be halved, again and again.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.cut.entries import Entries, entries_of, halved
from nestplan.cut.programme import END, START, Programme, Solved
from nestplan.cut.proof import A_PLANS, LEAST_PIECES, Proof
from nestplan.cut.regions import regions
from nestplan.cut.subtours import subtours
from nestplan.nest import never

NEAR_RINGS = 5  # each piece has a leg to the nearest piece of each of these, to begin with
PRICED_MOST = 6  # legs times pieces that join the programme at once
UNSETTLED_MM = 1e-3  # a leg that would save less need not join
CUTS_MOST = 100  # that join in one round
PIECES_MOST = 1_600  # of all rings
ROUNDS = 3  # with the same pieces
ENTERED = 0.05  # of a way: a piece that is entered less is not halved
SHORTEST_MM = 1.0  # and no shorter one
USED = 1e-6  # of a way: a leg that is used less need not be kept


def travel_bound_mm(
    origin_mm: NDArray[np.float64] | None,
    rings: list[NDArray[np.float64]],
    phase: NDArray[np.int64],
    *,
    whole: NDArray[np.bool_] | None = None,
    proof: Proof = A_PLANS,
    rounds: int = ROUNDS,
) -> float:
    """Least travel from the origin through one point of every ring, phase after phase.

    origin_mm: (2,); None: the knife comes from anywhere. phase: (m,) phases follow by number.
    whole: (m,) which are left elsewhere than they are entered: never divided.
    proof: more pieces prove more; of many rings fewer are made, and of very many each ring is only
    held to be reached from its nearest neighbour. rounds: of work with the same pieces.
    """
    if not rings:
        return 0.0
    _, phase = np.unique(phase, return_inverse=True)
    pieces = min(proof.pieces, PIECES_MOST // len(rings))
    if pieces < LEAST_PIECES:
        return _nearest_sum(rings)
    whole = np.zeros(len(rings), np.bool_) if whole is None else whole
    entries = entries_of(rings, pieces, whole)
    programme = Programme(ring=entries.ring, phase=phase)
    programme.add_legs(*_first_legs(origin_mm, entries, phase))
    programme.cuts = regions(rings, entries)
    best, told, halvings, stopped = 0.0, len(programme.cuts), proof.halvings, never
    while True:
        solved, bound = _worked_out(programme, entries, rounds, stopped)
        best = max(best, bound)
        if solved is None:
            return max(best, _nearest_sum(rings))
        divided = (solved.entered > ENTERED) & (entries.length_mm > SHORTEST_MM)
        divided &= ~whole[entries.ring]
        if halvings == 0 or not divided.any() or proof.stopped():
            return best
        halvings, stopped = halvings - 1, proof.stopped
        entries, parent = halved(rings, entries, divided)
        found = [replace(cut, inside=cut.inside[parent]) for cut in programme.cuts[told:]]
        programme = _finer(programme, solved, entries, parent, origin_mm)
        programme.cuts = regions(rings, entries)
        told = len(programme.cuts)
        programme.cuts += found


def _worked_out(
    programme: Programme, entries: Entries, rounds: int, stopped: Callable[[], bool]
) -> tuple[Solved | None, float]:
    """Legs and cuts that help join the programme; the last answer, and the best bound."""
    best, middles = 0.0, _boxes(entries.line)[0]
    for last in range(1 - rounds, 1):
        solved = programme.solve()
        if solved is None:
            break
        lacking, legs, cost = _priced(programme, entries, solved)
        best = max(best, programme.proven(solved, lacking))
        if last == 0 or stopped():
            break
        crowded = programme.crowded(solved)
        found = subtours(
            programme.legs, programme.cost, solved.used, solved.entered, entries.ring, middles
        )
        if not (found or len(legs) or len(crowded)):
            break
        programme.add_legs(legs, cost)
        programme.add_singles(crowded)
        programme.cuts += found[:CUTS_MOST]
    return solved, best


def _finer(
    programme: Programme,
    solved: Solved,
    entries: Entries,
    parent: NDArray[np.int64],
    origin: NDArray[np.float64] | None,
) -> Programme:
    """The same way through halved pieces: the legs that it used, and the singles; no cuts."""
    legs, cost = _first_legs(origin, entries, programme.phase)
    used = programme.legs[(solved.used > USED) & (programme.legs[:, 0] >= 0)]
    first = np.searchsorted(parent, np.arange(len(programme.ring)))
    part = first, first + np.bincount(parent) - 1  # the same where a piece was left whole
    kept = [np.column_stack([a[used[:, 0]], b[used[:, 1]]]) for a in part for b in part]
    inner = legs[:, 0] >= 0
    between = np.unique(np.sort(np.concatenate([legs[inner], *kept]), axis=1), axis=0)
    apart = shapely.distance(entries.line[between[:, 0]], entries.line[between[:, 1]])
    finer = Programme(ring=entries.ring, phase=programme.phase)
    finer.add_legs(np.concatenate([between, legs[~inner]]), np.concatenate([apart, cost[~inner]]))
    for of in part:
        finer.add_singles(np.column_stack([of[programme.singles[:, 0]], programme.singles[:, 1]]))
    return finer


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
        near = np.argsort(away, kind="stable")
        near = near[np.isfinite(away[near])]
        _, nearest = np.unique(entries.ring[near], return_index=True)
        near = near[np.sort(nearest)[:NEAR_RINGS]]
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
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64]]:
    """By how much the worth of each piece is too high, and the legs that would help.

    All legs between two pieces are looked at, those that the programme has too. What the
    boxes of two pieces rule out is not measured.
    """
    line = entries.line
    middles, reach = _boxes(line)
    across, along = (middles[:, None, k] - middles[None, :, k] for k in (0, 1))
    away = np.maximum(np.hypot(across, along) - reach[:, None] - reach[None, :], 0.0)
    reduced = programme.reduced(away, solved)
    legs = np.argwhere(np.triu(reduced < 0.0, 1))
    cost = shapely.distance(line[legs[:, 0]], line[legs[:, 1]])
    exact = reduced[legs[:, 0], legs[:, 1]] + cost - away[legs[:, 0], legs[:, 1]]
    lacking = np.zeros(len(line))
    for end in (0, 1):  # each end gives way by half
        np.maximum.at(lacking, legs[:, end], -exact / 2)
    helps = np.argsort(exact, kind="stable")[: PRICED_MOST * len(line)]
    helps = helps[exact[helps] < -UNSETTLED_MM]
    return lacking, legs[helps], cost[helps]


def _boxes(line: NDArray[np.object_]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles (k, 2) of the pieces' boxes, and the half diagonals (k,)."""
    box = shapely.bounds(line)
    return (box[:, :2] + box[:, 2:]) / 2, np.hypot(*(box[:, 2:] - box[:, :2]).T) / 2
