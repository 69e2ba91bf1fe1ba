"""Lines across the film: whatever lies side by side on one must fit its width.

Every line across the grown strip crosses grown contours in chords that do not overlap. A
function f with f(x1) + f(x2) + ... <= 1 whenever x1 + x2 + ... <= 1 (dual feasible) turns
that into a weight: the chords on one line weigh at most 1, so the frames together are at
least as long as all copies weigh, each summed over the lines that cross it. f(x) = x is the
area bound; others know that of boxes wider than a third only two lie side by side. Where a
copy may be turned it takes its lighter turn, so the best mixture of such functions is a
linear program: any mixture is dual feasible too, and gives a bound.

source: Lueker 1983; Fekete and Schepers, Math. Program. 91 (2001) 11-31; Martello, Monaci
and Vigo, INFORMS J. Comput. 15 (2003) 310-319; all from memory. They weigh boxes; to weigh
any convex contour by its chords is ours.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import floor

import numpy as np
from scipy.optimize import linprog

from nestplan.nest.bound_contours import Floats, convex_inside, grown_area_mm2
from nestplan.nest.bound_profiles import Profile, grown_profile
from nestplan.nest.bound_radii import Radii, best_choices, grown_width_mm
from nestplan.nest.bound_single import angles_that_fit
from nestplan.nest.task import Shape, Task

CHOICES_MOST = 2  # choices of radii
SHARES_MOST = 30  # u_k up to this k
EPSILONS_MOST = 24  # of U_epsilon and phi_epsilon each
ROWS_MOST = 800  # turns of all shapes in the linear program; more are mixed no further
WIDE_SHARE = 4  # a convex part that fits so often side by side proves next to nothing
HAIR = 1e-8  # of the width: a chord counts as longer than a step only by so much


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weight:
    """A dual feasible function: steps up just beyond `steps`, and x itself within `own`."""

    steps: Floats
    jumps: Floats
    own: tuple[float, float] = (1.0, 1.0)

    def of(self, x: Floats) -> Floats:
        """Weights of lengths in parts of the width."""
        stepped = ((x[..., np.newaxis] > self.steps) * self.jumps).sum(axis=-1)
        low, high = self.own
        weight: Floats = stepped + np.where((x > low) & (x <= high), x, 0.0)
        return weight


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scale:
    """Many weights at once: every step of all, and which weight it belongs to."""

    weights: tuple[Weight, ...]
    width_mm: float

    def lengths_mm(self, profile: Profile) -> Floats:
        """Weights of all chords of a contour, summed over the lines that cross it."""
        steps = np.concatenate([weight.steps for weight in self.weights])
        jumps = np.concatenate([weight.jumps for weight in self.weights])
        begins = np.cumsum([0, *(len(weight.steps) for weight in self.weights[:-1])])
        longer = profile.where_longer_mm((steps + HAIR) * self.width_mm)
        own = np.array([weight.own for weight in self.weights])
        areas = profile.area_where_longer_mm2(own * self.width_mm) / self.width_mm
        lengths: Floats = np.add.reduceat(longer * jumps, begins) + areas[:, 0] - areas[:, 1]
        return lengths


def u(k: int) -> Weight:
    """u_k: of any length more than j parts in k + 1, j parts in k."""
    return Weight(steps=np.arange(1, k + 1) / (k + 1), jumps=np.full(k, 1 / k))


def big_u(epsilon: float) -> Weight:
    """U_epsilon: shorter than epsilon is nothing, what leaves less than epsilon is all."""
    return Weight(steps=np.array([1 - epsilon]), jumps=np.array([1.0]), own=(epsilon, 1 - epsilon))


def phi(epsilon: float) -> Weight:
    """phi_epsilon: up to a half all that is not too small counts alike, above it the rest does."""
    q = floor(1 / epsilon)
    steps, jumps = [epsilon, 0.5], [1 / q, 1 - floor(0.5 / epsilon) / q - 1 / q]
    for j in range(floor(0.5 / epsilon), 0, -1):
        if 1 - j * epsilon > 0.5:
            steps.append(1 - j * epsilon)
            jumps.append(1 / q)
        else:
            jumps[1] += 1 / q
    return Weight(steps=np.array(steps), jumps=np.array(jumps))


def lines_across_mm(task: Task, frames: int) -> float:
    """The greatest length that a mixture of the weights proves."""
    choices = best_choices(task, frames)[:CHOICES_MOST]
    return max(_all_weigh_mm(task, radii) - 2 * max(radii) * frames for radii in choices)


@lru_cache(maxsize=64)  # asked again for every number of frames
def _all_weigh_mm(task: Task, radii: Radii) -> float:
    """What all grown copies weigh together; 0 where no chords are known."""
    width_mm = grown_width_mm(task, radii)
    profiles = [_profiles_across(task, s, r) for s, r in zip(task.shapes, radii, strict=True)]
    if not any(profiles):
        return 0.0
    table = _table(task, radii, profiles, _scale(profiles, width_mm))
    return _best_mixture_mm(table, np.array([float(shape.copies) for shape in task.shapes]))


def _profiles_across(task: Task, shape: Shape, radius_mm: float) -> list[Profile]:
    """The grown copy's profile across the film at each angle at which it fits.

    Convex parts of outlines with bays are looked for only where they may be wide.
    """
    long_mm = max(shape.outline.width_mm, shape.outline.height_mm)
    if long_mm * WIDE_SHARE < task.width_mm and convex_inside(shape.outline) is None:
        return []
    angles = [] if shape.any_angle else angles_that_fit(task, shape)
    found = [grown_profile(shape.outline, radius_mm, (a + 90.0) % 360.0) for a in angles]
    return [profile for profile in found if profile is not None]


def _scale(profiles: list[list[Profile]], width_mm: float) -> Scale:
    """The functions worth trying for these chords."""
    longest = np.array([p.longest_mm for turns in profiles for p in turns]) / width_mm
    shares = min(SHARES_MOST, floor(1 / max(longest.min(), 1e-9)) + 1)
    near = np.concatenate((longest, 1 - longest)) - 2 * HAIR
    epsilons = np.unique(np.round(near[(near > 0.005) & (near < 0.5)], 9))
    if len(epsilons) > EPSILONS_MOST:
        few = np.linspace(0, len(epsilons) - 1, EPSILONS_MOST).round().astype(int)
        epsilons = epsilons[few]
    made = [u(k) for k in range(1, shares + 1)]
    made += [make(float(e)) for e in epsilons for make in (big_u, phi)]
    return Scale(weights=tuple(made), width_mm=width_mm)


def _table(task: Task, radii: Radii, profiles: list[list[Profile]], scale: Scale) -> list[Floats]:
    """For each shape (turns, weights + 1): its length by each weight, the last f(x) = x."""
    table = []
    for shape, radius_mm, turns in zip(task.shapes, radii, profiles, strict=True):
        area = grown_area_mm2(shape.outline, radius_mm) / scale.width_mm
        rows = [np.append(scale.lengths_mm(profile), area) for profile in turns]
        only_area = np.append(np.zeros(len(scale.weights)), area)
        table.append(np.array(rows or [only_area]))
    return table


def _best_mixture_mm(table: list[Floats], copies: Floats) -> float:
    """All copies' length by the best mixture of weights, each at its lightest turn."""

    def length_mm(mixture: Floats) -> float:
        lightest = np.array([(rows @ mixture).min() for rows in table])
        return float(copies @ lightest)

    functions = table[0].shape[1]
    best = max(length_mm(single) for single in np.eye(functions))
    shape_of = np.repeat(np.arange(len(table)), [len(rows) for rows in table])
    if len(shape_of) > ROWS_MOST:
        return best
    # greatest copies . z with z of a shape <= its rows . mixture, the mixture adding up to 1
    above = np.zeros((len(shape_of), len(table)))
    above[np.arange(len(shape_of)), shape_of] = 1.0
    limits = np.hstack((above, -np.vstack(table)))
    found = linprog(
        -np.concatenate((copies, np.zeros(functions))),
        limits,
        np.zeros(len(limits)),
        np.concatenate((np.zeros(len(table)), np.ones(functions)))[np.newaxis],
        [1.0],
    )
    if not found.success:
        return best
    mixture = np.maximum(found.x[len(table) :], 0.0)
    return max(best, length_mm(mixture / max(1.0, float(mixture.sum()))))
