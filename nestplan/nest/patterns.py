"""Patterns for copies of one shape: files of pieces at a pitch, laid into each other.

A file is a shape repeated, or the shape and another turn of it alternating. The next file is
the same, or the same turned by half a turn, shifted along and slid until it touches. Files run
across the film or along it. Together that is every lattice with one piece or two to a cell.
Pitch, offset and shifts are chosen for this very width and number: stretched so that a whole
number fills the width, or so that files lie deeper.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import ceil

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.same import SAME_MM
from nestplan.nest.densest import densest_lattices
from nestplan.nest.engine import Budget, Tell, silent
from nestplan.nest.exits import FAR
from nestplan.nest.file_plan import OFFSETS, SHIFTS, STARTS, Plan, improved
from nestplan.nest.files_of_one import File, Files
from nestplan.nest.pieces import Pieces, Places, pieces_of
from nestplan.nest.placements import Layout, Placements, settled
from nestplan.nest.task import Task

Floats = NDArray[np.float64]

COPIES_LEAST = 4
STRETCHES = (1.01, 1.025, 1.05, 1.08, 1.12, 1.17, 1.25)
PROMISING = 1.12  # times the shortest at the tightest pitch: what is stretched too
HOPEFUL = 150
REFINED = 12  # patterns improved, the shortest first
REFINED_FREE = 4  # where the angle is improved too, which costs the most
FINISHED = 3  # of those, laid out at last
COARSE_MM, FINE_MM = 0.1, 1e-5  # steps down to which patterns are improved
PAIRS_MOST = 40  # pairs of turns tried
REMEMBERED = 64
COUNTED = 300  # copies up to which the grid search counts every piece, not only on average


class Patterns:
    """The best pattern of files for one shape."""

    name = "patterns"

    def __call__(self, task: Task, budget: Budget, tell: Tell = silent) -> Layout | None:
        """The shortest pattern; None for several shapes, obstacles, or a handful of copies."""
        if len(task.shapes) != 1 or task.obstacles or task.copies < COPIES_LEAST:
            return None
        name = _name(task)
        if name not in _remembered:
            best = _shortest(task, budget.stopped, tell)
            if budget.stopped():  # perhaps not the best there is
                return best
            if len(_remembered) >= REMEMBERED:
                _remembered.clear()
            _remembered[name] = best
        return _remembered[name]


# Lanes, frames, bands and price breaks ask for the same again, and no step is spent here.
_remembered: dict[tuple[object, ...], Layout | None] = {}


def _name(task: Task) -> tuple[object, ...]:
    """All that a pattern depends on."""
    shape = task.shapes[0]
    return (
        tuple(ring.tobytes() for ring in shape.outline.rings),
        (shape.angles_deg, shape.any_angle, shape.edge_mm, shape.copies),
        (task.width_mm, task.apart_mm),
    )


def _shortest(task: Task, stopped: Callable[[], bool], tell: Tell) -> Layout | None:
    free = task.shapes[0].any_angle
    best: Layout | None = None
    rough = _distinct(_rough(_families(task, stopped), stopped))
    rough = rough[: REFINED_FREE if free else REFINED]
    plans = [_refined(plan, COARSE_MM, turns=free, stopped=stopped) for plan in rough]
    plans.sort(key=lambda plan: plan.length_mm)
    for plan in plans[:FINISHED]:
        if stopped() and best is not None:
            break
        placements = _laid(_refined(plan, FINE_MM, turns=free, stopped=stopped))
        if placements is None:
            continue
        layout = settled(task, placements, Patterns.name)
        if best is None or layout.length_mm < best.length_mm:
            best = layout
            tell(best.length_mm, 0.0)
    return best


@dataclass(frozen=True, slots=True, kw_only=True)
class _Family:
    """Files to be tried; lattice: of all their pairs and offsets only this one's, or None."""

    files: Files
    lattice: Plan | None = None


def _families(task: Task, stopped: Callable[[], bool]) -> list[_Family]:
    """Files across the film and along it, at the allowed turns or at those that pack densest."""
    shape = task.shapes[0]
    quarters = tuple(angle for angle in shape.angles_deg if angle % 90.0 == 0.0)
    listed = quarters if shape.any_angle and quarters else shape.angles_deg
    pieces = pieces_of(replace(task, shapes=(replace(shape, angles_deg=listed),)))
    families = []
    if pieces is not None:
        families += [_Family(files=Files(pieces, upright=up)) for up in (False, True)]
    if shape.any_angle:
        for lattice, _ in densest_lattices(task, stopped):
            along = Files(lattice.files.pieces, upright=True).turned_by(90.0)
            families += [_Family(files=files, lattice=lattice) for files in (lattice.files, along)]
    return families


# ---------------------------------------------------------------- the first, coarse search


def _rough(families: list[_Family], stopped: Callable[[], bool]) -> list[Plan]:
    """Patterns on a grid of offsets, stretches and shifts, measured by tables, shortest first.

    Only what is promising at the tightest pitch is tried at others.
    """
    tight: list[Plan] = []
    for plan in (plan for family in families for plan in _tightest(family)):
        if stopped() and tight:
            break
        tight += _measured(plan)
    if not tight:
        return []
    tight.sort(key=lambda plan: plan.length_mm)
    enough = PROMISING * tight[0].length_mm
    hopeful = [plan for plan in _distinct(tight, most=3) if plan.length_mm <= enough][:HOPEFUL]
    looser = [
        found
        for plan, stretch in product(hopeful, STRETCHES)
        if not stopped()
        for found in _measured(replace(plan, stretch=stretch), only=plan.drifts)
    ]
    return sorted(tight + looser, key=lambda plan: plan.length_mm)


def _tightest(family: _Family) -> Iterator[Plan]:
    """Every pair of variants at every offset, not stretched, not yet measured."""
    files, known = family.files, family.lattice
    if known is not None:
        for turned in (False, True):
            yield Plan(
                files=files,
                one=known.one,
                other=known.other,
                offset_mm=known.offset_mm,
                turned=turned,
            )
        return
    pairs: list[tuple[int, int | None]] = [(a, None) for a in files.variants]
    pairs += [(a, files.half[a]) for a in files.variants if a <= (files.half[a] or 0)]
    pairs += [(a, b) for a, b in product(files.variants, repeat=2) if a <= b]
    for one, other in list(dict.fromkeys(pairs))[:PAIRS_MOST]:
        offsets = [0.0] if other is None else _offsets(files, one, other)
        for offset, turned in product(offsets, (False, True)):
            yield Plan(files=files, one=one, other=other, offset_mm=offset, turned=turned)


def _offsets(files: Files, one: int, other: int) -> list[float]:
    """Evenly over the reach, and those at which both pieces stand level, below or above."""
    reach = files.reach_mm(one)
    even = np.linspace(-reach, reach, OFFSETS + 1)[1:-1].tolist()
    return sorted({0.0, *files.level(one, other), *even})


def _measured(plan: Plan, only: bool | None = None) -> Iterator[Plan]:
    """The plan at its best start and shift, drifting and not."""
    pair = plan.pair
    if pair is None:
        return
    pitch = pair[0].pitch_mm
    shift = np.linspace(0.0, pitch, SHIFTS, endpoint=False)
    there = plan.files.slide(*pair, shift, exact=False)
    returns = plan.files.slide(pair[1], pair[0], shift, exact=False)
    twice = plan.files.slide(pair[0], pair[0], shift, exact=False)
    numbers = np.arange(SHIFTS)
    for drifts in (False, True) if only is None else (only,):
        if not drifts:
            second = -numbers % SHIFTS
        elif plan.turned:
            second = np.full(SHIFTS, int(np.argmin(returns)))
        else:
            second = numbers
        back = np.maximum(returns[second], twice[(numbers + second) % SHIFTS] - there)
        slides = _Slides(shift=shift, back=shift[second], there=there, home=back)
        start, step, home, length = _best_start(plan, pair, slides)
        yield replace(
            plan, drifts=drifts, start_mm=start, shift_mm=step, back_mm=home, length_mm=length
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Slides:
    """Shifts (k,) to the second file and back, and how far up each slides."""

    shift: Floats
    back: Floats
    there: Floats
    home: Floats


def _best_start(
    plan: Plan, pair: tuple[File, File], slides: _Slides
) -> tuple[float, float, float, float]:
    """(start, shift, back, length) of the shortest.

    Starts: the first file flush with the edge, the second one, and a few between.
    """
    flush = -np.array([plan.files.span_u(file, 1)[0] for file in pair])
    between = np.linspace(0.0, pair[0].pitch_mm, STARTS, endpoint=False)
    many = len(slides.shift)
    starts = np.column_stack(
        [np.full(many, flush[0]), flush[1] - slides.shift, np.tile(between, (many, 1))]
    )
    length = _lengths(
        plan.files, pair, slides, starts, counted=plan.files.pieces.movable <= COUNTED
    )
    k, s = np.unravel_index(int(np.argmin(length)), length.shape)
    found = (starts[k, s], slides.shift[k], slides.back[k], length[k, s])
    start, shift, back, least = (float(value) for value in found)
    return start, shift, back, least


# ---------------------------------------------------------------- how long a pattern is


def _lengths(
    files: Files,
    pair: tuple[File, File],
    slides: _Slides,
    starts: Floats,
    *,
    counted: bool,
) -> Floats:
    """Lengths (shifts, starts) of all copies laid so; infinite where nothing fits.

    counted: every file for itself; otherwise files hold their average number.
    """
    if files.upright:
        return _lengths_along(files, pair, slides, starts, counted=counted)
    return _lengths_across(files, pair, slides, starts, counted=counted)


def _phases(slides: _Slides, starts: Floats, many: int) -> Floats:
    """(shifts, starts, many) where each of the first files begins; starts: (shifts, starts)."""
    number = np.arange(many)
    shifts = ((number + 1) // 2) * slides.shift[:, np.newaxis]
    shifts = shifts + (number // 2) * slides.back[:, np.newaxis]
    phases: Floats = shifts[:, np.newaxis, :] + starts[:, :, np.newaxis]
    return phases


def _rises(slides: _Slides, many: Floats) -> Floats:
    """How far up the file after so many others lies; `many` broadcasts with (shifts, 1)."""
    there, home = slides.there[:, np.newaxis], slides.home[:, np.newaxis]
    rises: Floats = np.ceil(many / 2) * there + np.floor(many / 2) * home
    return rises


def _lengths_across(
    files: Files,
    pair: tuple[File, File],
    slides: _Slides,
    starts: Floats,
    *,
    counted: bool,
) -> Floats:
    n, room = files.pieces.movable, _width_mm(files.pieces)
    fewest = max(1, files.most(pair[0], room) - 1)
    sampled = 2 * ceil(n / fewest / 2) + 4 if counted else 16
    phases = _phases(slides, starts, sampled)
    held = np.empty(phases.shape)
    for k in (0, 1):
        held[:, :, k::2] = files.held(pair[k], phases[:, :, k::2], room)
    if counted:
        total = np.cumsum(held, axis=2)
        others = (total < n).sum(axis=2)  # files before the last
        reached = total[:, :, -1] >= n
    else:
        mean = np.maximum(held.mean(axis=2), 1e-9)
        others, reached = np.ceil(n / mean) - 1, held.mean(axis=2) >= 1
    low = min(files.span_v(pair[0])[0], files.span_v(pair[1])[0] + float(slides.there.min()))
    last = np.where(others % 2 == 1, files.span_v(pair[1])[1], files.span_v(pair[0])[1])
    return np.where(reached, _rises(slides, others) + last - low, np.inf)


def _lengths_along(
    files: Files,
    pair: tuple[File, File],
    slides: _Slides,
    starts: Floats,
    *,
    counted: bool,
) -> Floats:
    n = files.pieces.movable
    many = _files_that_fit(files, pair, slides, _width_mm(files.pieces))
    lengths = np.full(starts.shape, np.inf)
    for count in sorted(set(many.tolist())):
        rows = np.flatnonzero(many == count)
        if count < 1:
            continue
        if counted:
            these = _Slides(
                shift=slides.shift[rows],
                back=slides.back[rows],
                there=slides.there[rows],
                home=slides.home[rows],
            )
            lengths[rows] = _least_length(files, pair, _phases(these, starts[rows], count), n)
        else:
            period = len(pair[0].pieces)
            lengths[rows] = (n / count + period / 2) * pair[0].pitch_mm / period
    return lengths


def _least_length(files: Files, pair: tuple[File, File], phases: Floats, n: int) -> Floats:
    """The length at which upright files of these phases (.., .., count) hold n pieces."""
    count = phases.shape[2]
    each = ceil(n / count) + 2 * len(pair[0].pieces) + 1
    tops = np.concatenate(
        [files.tops(pair[k], phases[:, :, k::2], each) for k in (0, 1)[: min(2, count)]], axis=2
    )
    flat = tops.reshape(*phases.shape[:2], -1)
    least: Floats = np.partition(flat, n - 1, axis=2)[:, :, n - 1]
    return least


def _files_that_fit(
    files: Files, pair: tuple[File, File], slides: _Slides, room: float
) -> NDArray[np.intp]:
    """How many upright files the film takes, at each shift."""
    (low0, high0), (low1, high1) = files.span_v(pair[0]), files.span_v(pair[1])
    both = slides.there + slides.home
    low = np.minimum(low0, slides.there + low1)
    odd = np.floor((room - (high0 - low) + 1e-9) / both)  # 2 k + 1 files
    even = np.floor((room - (slides.there + high1 - low) + 1e-9) / both)  # 2 k + 2 files
    fit = np.maximum(np.where(odd >= 0, 2 * odd + 1, 0), np.where(even >= 0, 2 * even + 2, 0))
    return fit.astype(np.intp)


def _width_mm(pieces: Pieces) -> float:
    """Width that outlines may span."""
    low, high = pieces.rooms_mm[0]
    left, _, right, _ = pieces.variants[0].box_mm
    return float(high - low + right - left)


# ---------------------------------------------------------------- the best ones made exact


def _distinct(plans: list[Plan], most: int = 2) -> list[Plan]:
    """The first few plans of each kind, in order."""
    seen: dict[tuple[object, ...], int] = {}
    kept = []
    for plan in plans:
        kind = (plan.files, plan.one, plan.other, plan.turned, plan.drifts)
        seen[kind] = seen.get(kind, 0) + 1
        if seen[kind] <= most:
            kept.append(plan)
    return kept


def _exact_length(plan: Plan) -> float:
    """Length of a plan by exact exits; infinite where it does not fit."""
    pair, rises = plan.pair, plan.rises_mm()
    if pair is None or rises is None:
        return float("inf")
    shift, back = np.array([plan.shift_mm]), np.array([plan.back_mm])
    slides = _Slides(shift=shift, back=back, there=rises[:1], home=rises[1:])
    start = np.array([[plan.start_mm]])
    return float(_lengths(plan.files, pair, slides, start, counted=True)[0, 0])


def _refined(plan: Plan, least_step_mm: float, *, turns: bool, stopped: Callable[[], bool]) -> Plan:
    """The plan made exact and improved, down to steps so small."""
    first = None if least_step_mm == COARSE_MM else COARSE_MM
    plan, length_mm = improved(
        plan,
        _exact_length,
        least_step_mm=least_step_mm,
        first_step_mm=first,
        turns=turns,
        stopped=stopped,
    )
    return replace(plan, length_mm=length_mm)


# ---------------------------------------------------------------- from a pattern to places


def _laid(plan: Plan) -> Placements | None:
    """All copies where the plan has them, files slid until they really touch."""
    pair, pieces = plan.pair, plan.files.pieces
    if pair is None or plan.length_mm == float("inf"):
        return None
    room = plan.length_mm if plan.files.upright else _width_mm(pieces)
    rows: list[list[tuple[int, float, float]]] = []
    phase, left = plan.start_mm, pieces.movable
    while left > 0:
        second = len(rows) % 2
        row = plan.files.fill(pair[second], phase, room)[:left]
        if not row:
            return None
        up = _on_top(plan.files, rows, row)
        rows.append([(v, u, w + up) for v, u, w in row])
        phase += plan.back_mm if second else plan.shift_mm
        left -= len(row)
    return _placed(plan, [piece for row in rows for piece in row])


def _on_top(
    files: Files, rows: list[list[tuple[int, float, float]]], row: list[tuple[int, float, float]]
) -> float:
    """Where a file comes to lie on those below it, of which not only the last may be met."""
    up = -FAR
    for number, below in enumerate(reversed(rows)):
        top = max(w for _, _, w in below) + files.tallest_mm
        if number >= 2 and top < up + min(w for _, _, w in row):
            break
        up = max(up, files.slide_finite(below, row))
    return up if rows else 0.0


def _placed(plan: Plan, laid: list[tuple[int, float, float]]) -> Placements | None:
    pieces = plan.files.pieces
    variant = np.array([v for v, _, _ in laid], dtype=np.int64)
    u = np.array([piece[1] for piece in laid])
    w = np.array([piece[2] for piece in laid])
    x, y = (w, u) if plan.files.upright else (u, w)
    rooms = pieces.rooms_mm[variant]
    x = x + float((rooms[:, 0] - x).max())  # as far left as the leftmost piece may go
    if (x > rooms[:, 1] + SAME_MM / 2).any():
        return None
    return pieces.placements(Places(x_mm=np.minimum(x, rooms[:, 1]), y_mm=y, variant=variant))
