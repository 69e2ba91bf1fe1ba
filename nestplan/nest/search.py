"""One thread's search: shrink the strip, separate, disturb what will not separate, again.

Exploring looks for better orders; compressing squeezes the best one. All that decides
anything is counted in evaluations and drawn from the thread's own generator, never read
from a clock, so the same seed gives the same layout on a busy machine.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.nest import kernel
from nestplan.nest.memory import Memory
from nestplan.nest.pieces import Pieces, Places

Floats = NDArray[np.float64]

TRIES_FIRST = 200  # random places a piece in the first layout
SHRINK_MOST = 0.02
SHRINK_LEAST = 0.0006  # whole columns end nearer to the best than 0.25 %: it must not be overshot
FAILURES = 4  # so many, then shrink by half as much
POOL = 8
ATTEMPT = 400_000  # evaluations, times 1 + n / 50
SQUEEZE_FIRST, SQUEEZE_LAST = 0.002, 0.00002
MENDS = (1.0, 1.03, 1.1)  # so much longer may a layout that overlaps become when mended
SQUEEZE_FIRST_WARM = 0.02  # a given pattern of equal copies is worth a bolder squeeze


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """Legal places and the length they take."""

    places: Places
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Failure:
    """Places that still overlap, and by how much in all."""

    places: Places
    depth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Squeeze:
    """When, in evaluations, squeezing begins and ends; warm: a given layout is squeezed."""

    begin: int
    end: int
    warm: bool

    def shrink(self, spent: int) -> float:
        """By which share of the length to shrink next: ever less."""
        first = SQUEEZE_FIRST_WARM if self.warm else SQUEEZE_FIRST
        share = min(1.0, max(0.0, (spent - self.begin) / max(1, self.end - self.begin)))
        return float(first * (SQUEEZE_LAST / first) ** share)


class Search:
    """One thread. `best` is always legal once `begin` has run."""

    def __init__(self, pieces: Pieces, memory: Memory, seed: tuple[int, ...]) -> None:
        self._pieces = pieces
        self.memory = memory
        self._rng = np.random.default_rng(seed)
        memory.ints[kernel.RANDOM] = int(self._rng.integers(1, 2**62))
        self._slides = not len(pieces.fixed_mm)  # obstacles hold the strip's start in place
        self.best: Found | None = None
        self._shrink = SHRINK_MOST
        self._failures = 0
        self._pool: list[_Failure] = []
        self._target_mm = 0.0
        self._extents = _extents(pieces)

    @property
    def spent(self) -> int:
        """Evaluations so far."""
        return int(self.memory.ints[kernel.COUNT])

    @property
    def stopped(self) -> bool:
        """Whether somebody asked to stop."""
        return self.memory.stopped

    # ------------------------------------------------------------ start

    def begin(self) -> None:
        """A first legal layout from nothing: the largest pieces first, each as low as it goes."""
        pieces, memory = self._pieces, self.memory
        n = pieces.movable
        hull = np.array([form.region.convex_hull.area for form in pieces.forms])
        order = np.argsort(-(self._extents * hull[pieces.shape]), kind="stable")
        memory.order[:n] = order
        away = np.full(n, 1e12)
        variant = pieces.kinds[:n, 0].astype(np.int64)
        memory.lay(Places(x_mm=np.zeros(n), y_mm=away, variant=variant), 2e12)
        kernel.lay_all(memory.address, TRIES_FIRST)
        self._keep(memory.places())

    def legal(self, places: Places) -> Found | None:
        """Given places as the search sees them; None where they overlap."""
        _, high = self.memory.span_mm(places)
        self.memory.lay(places, high)
        return self._found(self.memory.places()) if self.memory.legal() else None

    def mend(self, places: Places, until: int) -> None:
        """Go on from given places that overlap, pushed apart, if that is shorter than the best."""
        _, high = self.memory.span_mm(places)
        for factor in MENDS:
            self.memory.lay(_drawn(places, factor), high * factor)
            self._cap_attempt()
            outcome = self._separate(until, rounds=40, strikes=2)
            if outcome == kernel.SEPARATED:
                self.offer(self._found(self.memory.places()))
            if outcome != kernel.FAILED:
                break
        self.memory.ints[kernel.STAGE] = 0

    def offer(self, found: Found) -> None:
        """Go on from a layout if it is shorter than the best."""
        if self.best is None or found.length_mm < self.best.length_mm:
            self.take(found)

    def take(self, found: Found) -> None:
        """Go on from a layout that another thread or engine found."""
        self.memory.ints[kernel.STAGE] = 0
        if found is not self.best:
            self._set_best(found)

    def _keep(self, places: Places) -> None:
        self._set_best(self._found(places))

    def _set_best(self, found: Found) -> None:
        """A new best, and everything that was tried from the last one forgotten."""
        self.best = found
        self._failures = 0
        self._pool = []

    def _found(self, places: Places) -> Found:
        low, high = self.memory.span_mm(places)
        if self._slides:
            places = Places(x_mm=places.x_mm, y_mm=places.y_mm - low, variant=places.variant)
            high -= low
        return Found(places=places, length_mm=high)

    # ------------------------------------------------------------ explore

    def explore(self, until: int) -> None:
        """Search for shorter layouts until so many evaluations are spent; may pause mid-way."""
        while self.spent < until and not self.stopped:
            if self.memory.ints[kernel.STAGE] == 0:
                self._next_attempt()
            outcome = self._separate(until, rounds=200, strikes=3)
            if outcome == kernel.PAUSED:
                return
            if outcome == kernel.SEPARATED:
                self._keep(self.memory.places())
            else:
                self._remember_failure()

    def _next_attempt(self) -> None:
        assert self.best is not None
        if not self._pool:
            self._target_mm = self.best.length_mm * (1.0 - self._shrink)
            self.memory.lay(self._shortened(self.best, self._target_mm), self._target_mm)
        else:
            pick = int(len(self._pool) * self._rng.random() ** 2)
            self.memory.lay(self._disturbed(self._pool[pick].places), self._target_mm)
        self._cap_attempt()

    def _remember_failure(self) -> None:
        assert self.best is not None
        depth_mm = float(self.memory.reals[kernel.LEAST])
        self._pool.append(_Failure(places=self.memory.places(), depth_mm=depth_mm))
        self._pool.sort(key=lambda failure: failure.depth_mm)
        del self._pool[POOL:]
        self._failures += 1
        if self._failures % FAILURES == 0 and self._shrink > SHRINK_LEAST:
            self._shrink = max(SHRINK_LEAST, self._shrink / 2)
            self._target_mm = self.best.length_mm * (1.0 - self._shrink)

    def _shortened(self, found: Found, length_mm: float) -> Places:
        """The pieces beyond a random line moved down, or all drawn together."""
        y = found.places.y_mm.copy()
        if self._rng.random() >= 0.7:
            return _drawn(found.places, length_mm / found.length_mm)
        cut = self._rng.random() * found.length_mm
        y[y > cut] -= found.length_mm - length_mm
        return Places(x_mm=found.places.x_mm, y_mm=y, variant=found.places.variant)

    def _disturbed(self, places: Places) -> Places:
        """One swap, three swaps, or all pieces of a random window in each other's places."""
        x, y, variant = places.x_mm.copy(), places.y_mm.copy(), places.variant.copy()
        chance = self._rng.random()
        if chance < 0.4:
            self._swap(x, y, variant)
        elif chance < 0.6:
            for _ in range(3):
                self._swap(x, y, variant)
        else:
            long = (0.08 + 0.12 * self._rng.random()) * self._target_mm
            wide = (0.3 + 0.7 * self._rng.random()) * self._pieces.width_mm
            left = self._rng.random() * (self._pieces.width_mm - wide)
            low = self._rng.random() * (self._target_mm - long)
            inside = np.flatnonzero(
                (x >= left) & (x <= left + wide) & (y >= low) & (y <= low + long)
            )
            order = self._rng.permutation(inside)
            x[inside], y[inside] = x[order], y[order]
        return Places(x_mm=x, y_mm=y, variant=variant)

    def _swap(self, x: Floats, y: Floats, variant: NDArray[np.int64]) -> None:
        """Two pieces of different shapes change places, one of them of the larger half.

        Where all are alike, two pieces are turned at random instead.
        """
        pieces, n = self._pieces, self._pieces.movable
        larger = np.argsort(-self._extents, kind="stable")[: max(1, n // 2)]
        i = int(larger[self._rng.integers(len(larger))])
        others = np.flatnonzero(pieces.shape != pieces.shape[i])
        if len(others):
            j = int(others[self._rng.integers(len(others))])
            x[i], x[j] = x[j], x[i]
            y[i], y[j] = y[j], y[i]
            return
        for k in self._rng.integers(n, size=2).tolist():
            first, many = pieces.kinds[k].tolist()
            variant[k] = first + int(self._rng.integers(many))

    # ------------------------------------------------------------ compress

    def compress(self, until: int, squeeze: Squeeze) -> None:
        """Squeeze the best ever more gently until so many evaluations are spent."""
        while self.spent < until and not self.stopped:
            assert self.best is not None
            if self.memory.ints[kernel.STAGE] == 0:
                length_mm = self.best.length_mm * (1.0 - squeeze.shrink(self.spent))
                self.memory.lay(self._shortened(self.best, length_mm), length_mm)
                self._cap_attempt()
            outcome = self._separate(until, rounds=40, strikes=2)
            if outcome == kernel.PAUSED:
                return
            if outcome == kernel.SEPARATED:
                self._keep(self.memory.places())

    # ------------------------------------------------------------ both

    def _cap_attempt(self) -> None:
        n = self._pieces.movable
        self.memory.ints[kernel.CAP] = self.spent + int(ATTEMPT * (1 + n / 50))

    def _separate(self, until: int, *, rounds: int, strikes: int) -> int:
        ints = self.memory.ints
        ints[kernel.LIMIT] = until
        ints[kernel.ROUNDS_MOST], ints[kernel.STRIKES_MOST] = rounds, strikes
        return int(kernel.separate(self.memory.address))


def _drawn(places: Places, factor: float) -> Places:
    """All places drawn together or apart along the strip."""
    return Places(x_mm=places.x_mm, y_mm=places.y_mm * factor, variant=places.variant)


def _extents(pieces: Pieces) -> Floats:
    """Mean extent of each movable piece at its first angle."""
    boxes = np.array([variant.box_mm for variant in pieces.variants])
    size: Floats = 0.5 * (boxes[:, 2] - boxes[:, 0] + boxes[:, 3] - boxes[:, 1])
    return size[pieces.kinds[: pieces.movable, 0]]
