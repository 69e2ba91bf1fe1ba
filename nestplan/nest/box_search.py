"""Threads that search for an order of boxes, and meet at fixed counts of evaluations.

Each aims at a strip a little shorter than the best so far and anneals an order that leaves
nothing out of it (`skyline.py`). Where a strip stays too short until the search has cooled,
the next aim is nearer. Nothing depends on how large the budget is, only where the search
ends, so a larger one never gives a longer layout; nothing depends on how fast a thread runs.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from threading import Event

import numpy as np

from nestplan.nest import skyline
from nestplan.nest.grown_boxes import GrownBoxes, Ints, Packed
from nestplan.nest.threads import all_done

EVALUATIONS_A_STEP = 10_000  # 0.1 ms on a core like those the steps were set on
CHUNK = 5_000_000  # evaluations between two looks at the stop
MEETING_FIRST = 10_000_000  # evaluations of a thread before the first meeting
MEETINGS_GROW = 1.5
AIM_SHARE = 0.5  # of what the best is above the least
FINEST = 5000  # part of the length that is worth a search


def search(
    boxes: GrownBoxes,
    orders: Sequence[Sequence[int]],
    *,
    enough: int,
    evaluations: int,
    seeds: Sequence[Sequence[int]],
    stopped: Callable[[], bool],
    heard: Callable[[Packed], None],
) -> Packed | None:
    """The shortest packing found, or None: a thread for each seed, so many evaluations each.

    orders: rows, to fill first. enough: a length that need not be beaten.
    """
    packers = [Packer(boxes, enough=enough, seed=seed) for seed in seeds]
    stop = Event()
    with ThreadPoolExecutor(len(packers)) as pool:

        def each(work: Callable[[Packer], None]) -> None:
            all_done(pool, [partial(work, packer) for packer in packers], meanwhile)

        def meanwhile() -> None:
            if stopped():
                stop.set()
            if (shortest := _shortest(packers)) is not None:
                heard(shortest)

        try:
            each(partial(Packer.begin, orders=orders, most=evaluations, stop=stop))
            for until in _meetings(evaluations):
                for packer in packers:
                    packer.offer(_shortest(packers))
                each(partial(Packer.pack, until=until, stop=stop))
        finally:
            stop.set()  # an error in one thread ends the others too
    return _shortest(packers)


def _meetings(most: int) -> Iterator[int]:
    """At how many evaluations each thread waits for the others; the last is the end."""
    until, long = MEETING_FIRST, MEETING_FIRST
    while until < most:
        yield until
        long = int(long * MEETINGS_GROW)
        until += long
    yield most


def _shortest(packers: Sequence["Packer"]) -> Packed | None:
    known = [packer.best for packer in packers if packer.best is not None]
    return min(known, key=lambda packed: packed.length, default=None)


class Packer:
    """One thread's search."""

    def __init__(self, boxes: GrownBoxes, *, enough: int, seed: Sequence[int]) -> None:
        n, kinds = len(boxes.kind), boxes.kinds
        self.best: Packed | None = None
        self._boxes, self._enough = boxes, enough
        self._state = np.zeros(5, dtype=np.int64)
        self._state[skyline.RANDOM] = np.random.default_rng(seed).integers(1, 2**62)
        self._areas = np.array([0.0, boxes.area / n])
        self._order, self._trial = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
        self._sky = np.zeros((3, n + 3), dtype=np.int64)
        self._links, self._places = np.zeros(n, dtype=np.int64), np.zeros((n, 3), dtype=np.int64)
        self._seen = np.zeros(2 * len(kinds), dtype=np.int64)
        self._rows = np.argsort(boxes.kind, kind="stable")  # of each kind, one after the other
        self._long: int | None = None
        self._share = AIM_SHARE

    @property
    def spent(self) -> int:
        """Evaluations so far."""
        return int(self._state[skyline.COUNT])

    def begin(self, orders: Sequence[Sequence[int]], most: int, stop: Event) -> None:
        """Fill an endless strip in each order and go on from the best of them."""
        shortest: int | None = None
        for order in orders:
            if self.spent >= most or stop.is_set():
                return
            self._trial[:] = 2 * self._boxes.kind[list(order)]
            if self._filled(self._trial, self._boxes.endless) > 0.0:
                return  # a box is wider than the strip
            packed = self._packed()
            if shortest is None or packed.length < shortest:
                shortest = packed.length
                self._order[:] = self._trial
                self._keep(packed)

    def pack(self, until: int, stop: Event) -> None:
        """Search on, up to so many evaluations since the beginning."""
        while self.best is not None and self.best.length > self._enough:
            if self.spent >= until or stop.is_set():
                return
            if self._long is None:
                self._aim(self.best.length)
                continue
            self._state[skyline.UNTIL] = min(until, self.spent + CHUNK)
            ended = skyline.anneal(
                self._boxes.kinds,
                self._order,
                self._trial,
                self._boxes.wide,
                self._long,
                self._state,
                self._areas,
                self._sky,
                self._links,
                self._seen,
                self._places,
            )
            if ended == skyline.PACKED:
                self._order[:] = self._trial
                self._keep(self._packed())
            elif ended == skyline.COOLED:
                self._share /= 2
                self._long = None

    def offer(self, packed: Packed | None) -> None:
        """Aim below what another thread found, if it is shorter."""
        if packed is not None and self.best is not None and packed.length < self.best.length:
            self._keep(packed)

    def _aim(self, length: int) -> None:
        """Choose a shorter strip and see what the order leaves out of it."""
        boxes = self._boxes
        gain = max(boxes.grain, length // FINEST, int(self._share * (length - boxes.least)))
        long = max(length - gain, boxes.least) + 2 * boxes.half_most
        cost = self._filled(self._order, long)
        if cost == 0.0:
            self._trial[:] = self._order
            self._keep(self._packed())
            return
        self._long, self._areas[skyline.COST] = long, cost
        self._state[skyline.BEGAN] = self._state[skyline.COUNT]

    def _filled(self, order: Ints, long: int) -> float:
        return float(
            skyline.fill(
                self._boxes.kinds,
                order,
                self._boxes.wide,
                long,
                np.inf,
                self._state,
                self._sky,
                self._links,
                self._seen,
                self._places,
            )
        )

    def _packed(self) -> Packed:
        """The last filling, its places given to the copies of each kind in turn."""
        places = np.empty_like(self._places)
        places[self._rows] = self._places[np.argsort(self._trial >> 1, kind="stable")]
        return self._boxes.packed(places)

    def _keep(self, packed: Packed) -> None:
        if self.best is None or packed.length < self.best.length:
            self.best = packed
        self._long = None
