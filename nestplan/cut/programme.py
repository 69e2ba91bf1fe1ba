"""The linear programme of a way through pieces of rings, that grows by legs and by cuts.

What the solver leaves unsettled in the prices is settled in `proven`, so that a bound rests
on no tolerance of it.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array, hstack, vstack

from nestplan.cut.interior import least
from nestplan.cut.subtours import Subtour, over_edge

SLACK = 0.01  # of a leg; a single that is missed by less is not worth a row
START, END = -1, -2  # in `legs`: where the knife comes from, and where it may end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """length_mm: the least. entered, used: of pieces and legs.

    Prices: worth (k,) of a leg's end at each piece; joined (2 + joins,) of the start, the end
    and each join of phases; cuts and singles, none below zero.
    """

    length_mm: float
    entered: NDArray[np.float64]
    used: NDArray[np.float64]
    worth: NDArray[np.float64]
    joined: NDArray[np.float64]
    cuts: NDArray[np.float64]
    singles: NDArray[np.float64]


@dataclass(slots=True, kw_only=True, eq=False)
class Programme:
    """Rows: a ring each, a piece each, start, end, a join of two phases each; then the cuts,
    then the singles.

    ring: (k,) whose piece; phase: (m,) of the rings, 0, 1 ... without gaps.
    singles: (n, 2) a piece and another ring, between which go no more legs than enter the piece.
    """

    ring: NDArray[np.int64]
    phase: NDArray[np.int64]
    legs: NDArray[np.int64] = field(default_factory=lambda: np.empty((0, 2), dtype=np.int64))
    cost: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    cuts: list[Subtour] = field(default_factory=list)
    singles: NDArray[np.int64] = field(default_factory=lambda: np.empty((0, 2), dtype=np.int64))

    def add_legs(self, legs: NDArray[np.int64], cost: NDArray[np.float64]) -> None:
        """Let the way use these legs (n, 2) of pieces; START and END stand first."""
        self.legs = np.vstack([self.legs, legs])
        self.cost = np.concatenate([self.cost, cost])

    def add_singles(self, singles: NDArray[np.int64]) -> None:
        """Hold these pieces and rings (n, 2) as singles too."""
        if len(singles):
            self.singles = np.unique(np.vstack([self.singles, singles]), axis=0)

    def solve(self) -> Solved | None:
        """The least length of a way; None where the solver gives up."""
        pieces, rings, joins = len(self.ring), len(self.phase), int(self.phase.max())
        sums = np.concatenate([np.ones(rings), np.zeros(pieces), np.ones(2 + joins)])
        cost = np.concatenate([np.zeros(pieces), self.cost])
        most = vstack([self._cut_rows(), self._single_rows()]).tocsr()
        answer = least(cost, self._rows(), sums, most)
        if answer is None:
            return None
        length_mm, at, price, cuts = answer
        first = rings + pieces
        return Solved(
            length_mm=length_mm,
            entered=at[:pieces],
            used=at[pieces:],
            worth=price[rings:first],
            joined=price[first:],
            cuts=cuts[: len(self.cuts)],
            singles=cuts[len(self.cuts) :],
        )

    def crowded(self, solved: Solved) -> NDArray[np.int64]:
        """Pieces and rings (n, 2) between which go more legs than enter the piece."""
        a, b = self.legs.T
        inner = a >= 0
        a, b, used = a[inner], b[inner], solved.used[inner]
        between = np.zeros((len(self.ring), len(self.phase)))
        np.add.at(between, (a, self.ring[b]), used)
        np.add.at(between, (b, self.ring[a]), used)
        return np.argwhere(between > solved.entered[:, None] + SLACK)

    def reduced(self, cost: NDArray[np.float64], solved: Solved) -> NDArray[np.float64]:
        """Reduced costs (k, k) of legs between pieces; infinite where there can be none.

        cost: (k, k) of the legs, or something below.
        """
        of_piece = self.phase[self.ring]
        worth, left = solved.worth.copy(), cost.copy()
        live = np.flatnonzero(solved.cuts > 0)
        if len(live):
            inside = np.array([self.cuts[k].inside for k in live], dtype=np.float64)
            weighed = inside * solved.cuts[live][:, None]
            worth += weighed.sum(axis=0)
            left += 2 * (inside.T @ weighed)  # a leg inside or outside is over no edge
        left -= worth[:, None] + worth[None, :]
        if len(self.singles):
            single = self._single_prices(solved)[:, self.ring]
            left += single + single.T
        apart = np.abs(of_piece[:, None] - of_piece[None, :])
        joins = np.append(solved.joined[2:], 0.0)
        left -= np.where(apart == 1, joins[np.minimum(of_piece[:, None], of_piece)], 0.0)
        left[(apart > 1) | (self.ring[:, None] == self.ring[None, :])] = np.inf
        return left

    def proven(self, solved: Solved, lacking: NDArray[np.float64]) -> float:
        """What the prices prove, whatever the solver left undone.

        lacking: (k,) by which the worth of each piece must fall so that no leg between two
        pieces costs less than its prices say. The way pays the least price of entering each
        ring, and those of start, end and joins.
        """
        worth = solved.worth - lacking
        over, inside = np.zeros(len(self.legs)), np.zeros(len(self.ring))
        for cut, price in zip(self.cuts, solved.cuts, strict=True):
            if price > 0:
                over += price * over_edge(self.legs, cut.inside)
                inside += price * (cut.inside & (self.ring == cut.ring))
        a, b = self.legs.T
        ends = [(self.cost - worth[b] - over)[a == end].min() for end in (START, END)]
        entering = np.full(len(self.phase), np.inf)
        single = self._single_prices(solved).sum(axis=1)
        np.minimum.at(entering, self.ring, 2 * (worth + inside) - single)
        return float(entering.sum() + sum(ends) + solved.joined[2:].sum())

    def _rows(self) -> csr_array:
        pieces, rings = len(self.ring), len(self.phase)
        ends = rings + pieces
        a, b = self.legs.T
        column = pieces + np.arange(len(self.legs))
        from_ends = np.where(a == START, ends, ends + 1)
        of_piece = self.phase[self.ring]
        joined = (a >= 0) & (of_piece[a] != of_piece[b])
        each = np.arange(pieces)
        rows = [
            (self.ring, each, 1.0),
            (rings + each, each, -2.0),
            (rings + b, column, 1.0),
            (np.where(a >= 0, rings + a, from_ends), column, 1.0),
            (ends + 2 + np.minimum(of_piece[a], of_piece[b])[joined], column[joined], 1.0),
        ]
        values = np.concatenate([np.full(len(row), value) for row, _, value in rows])
        where = tuple(np.concatenate([part[k] for part in rows]) for k in (0, 1))
        shape = (ends + 2 + int(self.phase.max()), pieces + len(self.legs))
        return coo_array((values, where), shape=shape).tocsr()

    def _cut_rows(self) -> csr_array:
        """Twice what enters the cut's ring inside, less what goes over the edge: at most 0."""
        if not self.cuts:
            return csr_array((0, len(self.ring) + len(self.legs)))
        inside = np.array([cut.inside for cut in self.cuts])
        of_cut = np.array([cut.ring for cut in self.cuts])
        own = csr_array(inside & (self.ring[None, :] == of_cut[:, None]), dtype=np.float64)
        over = csr_array([over_edge(self.legs, row) for row in inside], dtype=np.float64)
        return hstack([2.0 * own, -over]).tocsr()

    def _single_rows(self) -> csr_array:
        """The legs of each single, less what enters its piece: at most 0."""
        pieces, many = len(self.ring), len(self.singles)
        row = np.full((pieces, len(self.phase)), -1)
        row[self.singles[:, 0], self.singles[:, 1]] = np.arange(many)
        a, b = self.legs.T
        inner = np.flatnonzero(a >= 0)
        there, back = row[a[inner], self.ring[b[inner]]], row[b[inner], self.ring[a[inner]]]
        columns = pieces + np.concatenate([inner[there >= 0], inner[back >= 0]])
        rows = np.concatenate([there[there >= 0], back[back >= 0]])
        values = np.concatenate([np.ones(len(rows)), np.full(many, -1.0)])
        where = np.append(rows, np.arange(many)), np.append(columns, self.singles[:, 0])
        return coo_array((values, where), shape=(many, pieces + len(self.legs))).tocsr()

    def _single_prices(self, solved: Solved) -> NDArray[np.float64]:
        """Of legs from each piece to each ring (k, m), beside all else."""
        prices = np.zeros((len(self.ring), len(self.phase)))
        prices[self.singles[:, 0], self.singles[:, 1]] = solved.singles
        return prices
