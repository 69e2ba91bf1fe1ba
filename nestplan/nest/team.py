"""Threads that search for themselves and meet at fixed counts of evaluations.

The search goes in rounds, each longer than the one before: explore, then squeeze the best.
At a meeting, those left behind go on from the best; a thread that a meeting interrupts goes
on afterwards where it was. Nothing depends on how large the whole budget is, only where the
search ends: so a larger budget never gives a longer nest. What is found depends on the task,
the seed, the steps and the number of threads, never on how fast one of them runs.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np

from nestplan.nest.engine import Budget, Tell
from nestplan.nest.fields import pair_tables
from nestplan.nest.memory import Memory
from nestplan.nest.pieces import Pieces, Places
from nestplan.nest.search import Found, Search, Squeeze
from nestplan.nest.threads import all_done

EXPLORE_SHARE = 0.75
EXPLORE_SHARE_ALIKE = 0.5  # of equal copies with a pattern given: something else may be better
FEW = 150  # and for more of them it never is
ROUND_FIRST = 2_000_000  # evaluations of a thread in the first round, times 1 + n / 50
ROUND_GROWS = 1.5
MEETINGS_EXPLORING, MEETINGS_SQUEEZING = 2, 4
BEHIND = 0.004  # a thread this far behind goes on from the best
EVALUATIONS_A_STEP = 1000


class Team:
    """Searching threads, one memory each, over the same pieces and fields."""

    def __init__(self, pieces: Pieces, budget: Budget, tell: Tell) -> None:
        self._budget, self._tell = budget, tell
        self._stop = np.zeros(1, dtype=np.int64)
        workers = max(1, budget.workers)
        tables = pair_tables(pieces.forms, pieces.variants, pieces.apart_mm, workers)
        self._each = budget.steps * EVALUATIONS_A_STEP // workers
        self._alike = len(set(pieces.shape.tolist())) == 1
        self._pattern: Found | None = None
        self.given_is_legal = False
        self._searches = [
            Search(pieces, Memory(pieces, tables, stop=self._stop), (budget.seed, number))
            for number in range(workers)
        ]

    def search(self, given: Places | None) -> Found:
        """The shortest layout found within the budget, or until told to stop.

        given: a layout to start from; one that overlaps is mended, or given up where it can't be.
        """
        with ThreadPoolExecutor(len(self._searches)) as pool:
            try:
                self._search(pool, given)
            finally:
                self._stop[0] = 1  # an error in one thread ends the others too
        return self._best()

    def _search(self, pool: ThreadPoolExecutor, given: Places | None) -> None:
        n = self._searches[0].memory.movable
        found = self._searches[0].legal(given) if given is not None else None
        squeezed_only = found is not None and self._alike and n > FEW
        self.given_is_legal = found is not None
        if not squeezed_only:
            self._all(pool, Search.begin)
        if found is None and given is not None:
            self._all(pool, partial(Search.mend, places=given, until=self._each))
        if found is not None and self._alike and not squeezed_only:
            self._pattern = found
        elif found is not None:
            for search in self._searches:
                search.offer(found)
        begin, long = 0, int(ROUND_FIRST * (1 + n / 50))
        while begin < self._each and not self._stop[0]:
            share = 0.0 if squeezed_only else EXPLORE_SHARE
            if self._pattern is not None:
                share = EXPLORE_SHARE_ALIKE
            self._round(pool, begin, begin + long, share)
            begin, long = begin + long, int(long * ROUND_GROWS)

    def _round(self, pool: ThreadPoolExecutor, begin: int, end: int, share: float) -> None:
        """Explore for a share of the evaluations from begin to end, then squeeze the best."""
        turn = begin + int(share * (end - begin))
        for k in range(MEETINGS_EXPLORING if turn > begin else 0):
            until = begin + (turn - begin) * (k + 1) // MEETINGS_EXPLORING
            self._all(pool, partial(Search.explore, until=min(until, self._each)))
            self._meet(BEHIND)
        own = [search.best for search in self._searches]
        best = self._best()
        for search in self._searches:
            search.take(best)
        from_pattern = best is self._pattern
        squeeze = Squeeze(begin=turn, end=end, warm=share != EXPLORE_SHARE)
        for k in range(MEETINGS_SQUEEZING):
            until = turn + (end - turn) * (k + 1) // MEETINGS_SQUEEZING
            self._all(pool, partial(Search.compress, until=min(until, self._each), squeeze=squeeze))
            self._meet(0.0)
        if from_pattern:  # the pattern is squeezed; exploring goes on without it
            self._pattern = self._best()
            for search, found in zip(self._searches, own, strict=True):
                if found is not None:
                    search.take(found)

    def _all(self, pool: ThreadPoolExecutor, work: Callable[[Search], None]) -> None:
        """Let every thread do its work, asking meanwhile whether to stop."""

        def meanwhile() -> None:
            if self._budget.stopped():
                self._stop[0] = 1
            self._say()

        all_done(pool, [partial(work, search) for search in self._searches], meanwhile)

    def _say(self) -> None:
        if any(search.best is not None for search in self._searches):
            spent = sum(search.spent for search in self._searches)
            share = spent / max(1, self._each * len(self._searches))
            self._tell(self._best().length_mm, min(1.0, share))

    def _best(self) -> Found:
        found = [search.best for search in self._searches if search.best is not None]
        if self._pattern is not None:
            found.append(self._pattern)
        return min(found, key=_length)

    def _meet(self, behind: float) -> None:
        """Threads whose best is this share longer than the best of all go on from that one."""
        best = min((s.best for s in self._searches if s.best is not None), key=_length)
        for search in self._searches:
            if search.best is None or search.best.length_mm > best.length_mm * (1.0 + behind):
                search.take(best)


def _length(found: Found) -> float:
    return found.length_mm
