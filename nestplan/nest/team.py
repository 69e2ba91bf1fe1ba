"""Threads that search for themselves and meet at fixed shares of the budget.

At a meeting, those left behind go on from the best. A thread that a meeting interrupts goes
on afterwards where it was. What is found depends on the task, the seed, the steps and the
number of threads, never on how fast one of them runs.
"""

from collections.abc import Callable
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from functools import partial

import numpy as np

from nestplan.nest.engine import Budget, Tell
from nestplan.nest.fields import pair_tables
from nestplan.nest.memory import Memory
from nestplan.nest.pieces import Pieces, Places
from nestplan.nest.search import Found, Search, Squeeze

EXPLORE_SHARE = 0.75
EXPLORE_SHARE_ALIKE = 0.5  # of equal copies with a pattern given: something else may be better
FEW = 150  # and for more of them it never is
MEETINGS_EXPLORING, MEETINGS_SQUEEZING = 4, 12
BEHIND = 0.004  # a thread this far behind goes on from the best
POLL_S = 0.1
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
        self._searches = [
            Search(pieces, Memory(pieces, tables, stop=self._stop), (budget.seed, number))
            for number in range(workers)
        ]

    def search(self, given: Places | None) -> Found:
        """The shortest layout found within the budget, or until told to stop."""
        share = EXPLORE_SHARE
        if given is not None and self._alike:
            share = EXPLORE_SHARE_ALIKE if self._searches[0].memory.movable <= FEW else 0.0
        with ThreadPoolExecutor(len(self._searches)) as pool:
            try:
                return self._search(pool, given, share)
            finally:
                self._stop[0] = 1  # an error in one thread ends the others too

    def _search(
        self, pool: ThreadPoolExecutor, given: Places | None, explore_share: float
    ) -> Found:
        if given is None or explore_share > 0.0:
            self._all(pool, Search.begin)
        if given is not None and not (self._alike and explore_share > 0.0):
            self._offer(given)
        turn = int(explore_share * self._each)
        for k in range(MEETINGS_EXPLORING if turn else 0):
            until = turn * (k + 1) // MEETINGS_EXPLORING
            self._all(pool, partial(Search.explore, until=until))
            self._meet(BEHIND)
        if given is not None:
            self._offer(given)  # equal copies: a pattern against what was found without one
        self._meet(-1.0)
        begin = max(turn, *(search.spent for search in self._searches), 0)
        for k in range(MEETINGS_SQUEEZING):
            until = begin + (self._each - begin) * (k + 1) // MEETINGS_SQUEEZING
            squeeze = Squeeze(begin=begin, end=self._each, warm=given is not None and self._alike)
            self._all(pool, partial(Search.compress, until=until, squeeze=squeeze))
            self._meet(0.0)
        return self._best()

    def _offer(self, given: Places) -> None:
        for search in self._searches:
            search.offer(given)

    def _all(self, pool: ThreadPoolExecutor, work: Callable[[Search], None]) -> None:
        """Let every thread do its work, asking meanwhile whether to stop."""
        running = {pool.submit(work, search) for search in self._searches}
        while running:
            done, running = wait(running, timeout=POLL_S, return_when=FIRST_EXCEPTION)
            for future in done:
                future.result()
            if self._budget.stopped():
                self._stop[0] = 1
            self._say()

    def _say(self) -> None:
        lengths = [search.best.length_mm for search in self._searches if search.best is not None]
        if lengths:
            spent = sum(search.spent for search in self._searches)
            share = spent / max(1, self._each * len(self._searches))
            self._tell(min(lengths), min(1.0, share))

    def _best(self) -> Found:
        found = [search.best for search in self._searches if search.best is not None]
        return min(found, key=lambda one: one.length_mm)

    def _meet(self, behind: float) -> None:
        """Threads whose best is this share longer than the best of all go on from that one."""
        best = self._best()
        for search in self._searches:
            if search.best is None or search.best.length_mm > best.length_mm * (1.0 + behind):
                search.take(best)
