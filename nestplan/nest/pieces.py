"""A task as the search sees it: variants of shapes, pieces that move, pieces that do not.

Shapes lie about their centre of area here, so that turns which change nothing are found;
placements are turned back into the task's own centres at the end.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.outline import turn
from nestplan.geometry.same import SAME_MM
from nestplan.nest.convex_parts import Area
from nestplan.nest.fields import Form, Variant, form_of
from nestplan.nest.placements import Placements
from nestplan.nest.rough import ROUGH_MM, rough
from nestplan.nest.task import Obstacle, Task

SAME_SHARE = 1e-7  # of its area: a turned shape that differs by less is the same shape
FIELDS_MOST = 1500  # with more pairs of shapes and angles, some angles are left out
COARSER_DEG = (30.0, 45.0, 90.0, 180.0, 360.0)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Where the movable pieces lie: their centres of area and their variants. Read-only."""

    x_mm: Floats
    y_mm: Floats
    variant: NDArray[np.int64]

    def __post_init__(self) -> None:
        for array in (self.x_mm, self.y_mm, self.variant):
            array.flags.writeable = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """All that a search needs to know of a task; rows of arrays as named.

    forms, variants: those of the shapes first, then those of the obstacles. Forms may be rough,
               boxes of variants never are.
    apart_mm:  (forms, forms) least distances; -1 for two obstacles, which never meet.
    kinds:     (pieces, 2) first variant and number of variants; fixed pieces last.
    rooms_mm:  (variants, 2) least and greatest x of the centre of area.
    fixed_mm:  (obstacles, 2) where their centres lie.
    shape:     (movable,) index into the task's shapes.
    centres_mm: (shapes, 2) centre of area from the centre of the box at angle 0.
    """

    forms: tuple[Form, ...]
    variants: tuple[Variant, ...]
    apart_mm: Floats
    kinds: NDArray[np.int32]
    rooms_mm: Floats
    fixed_mm: Floats
    shape: NDArray[np.intp]
    centres_mm: Floats
    width_mm: float
    length_likely_mm: float

    @property
    def movable(self) -> int:
        """Pieces that may be moved."""
        return len(self.shape)

    def placements(self, places: Places) -> Placements:
        """The task's own placements."""
        centre = np.empty((self.movable, 2))
        angle = np.empty(self.movable)
        for number in np.unique(places.variant).tolist():
            rows = np.flatnonzero(places.variant == number)
            variant = self.variants[number]
            off = turn(self.centres_mm[[variant.form]], variant.angle_deg)[0]
            centre[rows, 0] = places.x_mm[rows] - off[0]
            centre[rows, 1] = places.y_mm[rows] - off[1]
            angle[rows] = variant.angle_deg
        return Placements(shape=self.shape, centre_mm=centre, angle_deg=angle)

    def places(self, placements: Placements) -> Places | None:
        """The search's own places, or None where a copy lies at an angle it has no variant of."""
        order = np.argsort(placements.shape, kind="stable")
        x, y = np.empty(self.movable), np.empty(self.movable)
        variants = np.empty(self.movable, dtype=np.int64)
        for row, index in enumerate(order.tolist()):
            shape, angle = int(placements.shape[index]), float(placements.angle_deg[index])
            number = self.variant_at(shape, angle)
            if number is None:
                return None
            off = turn(self.centres_mm[[shape]], angle)[0]
            x[row], y[row] = placements.centre_mm[index] + off
            variants[row] = number
        return Places(x_mm=x, y_mm=y, variant=variants)

    def variant_at(self, shape: int, angle_deg: float) -> int | None:
        """Which variant covers what a shape turned by an angle covers; None: no allowed one."""
        box = self.forms[shape].box(angle_deg)
        for number, variant in enumerate(self.variants):
            if variant.form != shape:
                continue
            if abs(variant.angle_deg - angle_deg) < 1e-9:
                return number
            if np.abs(np.subtract(box, variant.box_mm)).max() < SAME_MM and _same(
                self.forms[shape], variant.angle_deg, angle_deg
            ):
                return number
        return None


def pieces_of(task: Task, *, haste: bool = False) -> Pieces | None:
    """The pieces of a task; None when a shape fits the strip at no angle.

    haste: forms are rough, so that their fields are made soon.
    """
    centred = [_about_centre(shape.outline.region) for shape in task.shapes]
    forms = [form_of(region) for region, _ in centred]
    variants: list[Variant] = []
    rooms: list[tuple[float, float]] = []
    spans: list[tuple[int, int]] = []
    step_deg = _angle_step(task)
    for index, shape in enumerate(task.shapes):
        first = len(variants)
        for variant in _variants(index, forms[index], _coarser(shape.angles_deg, step_deg)):
            left, _, right, _ = variant.box_mm
            low, high = shape.edge_mm - left, task.width_mm - shape.edge_mm - right
            if low <= high + SAME_MM:
                variants.append(variant)
                rooms.append((low, max(low, high)))
        spans.append((first, len(variants) - first))
        if len(variants) == first:
            return None
    fixed = _obstacles(task.obstacles, len(forms))
    kinds = [spans[i] for i, shape in enumerate(task.shapes) for _ in range(shape.copies)]
    kinds += [(len(variants) + k, 1) for k in fixed.which]
    area = sum(shape.copies * shape.outline.area_mm2 for shape in task.shapes)
    longest = max(max(f.box(0.0)[2:]) - min(f.box(0.0)[:2]) for f in forms)
    if haste:
        forms = [form_of(rough(region)) for region, _ in centred]
    return Pieces(
        forms=(*forms, *fixed.forms),
        variants=(*variants, *fixed.variants),
        apart_mm=_apart(task, fixed.apart_mm, ROUGH_MM if haste else 0.0),
        kinds=np.array(kinds, dtype=np.int32),
        rooms_mm=np.array(rooms + [(0.0, 0.0)] * len(fixed.variants)),
        fixed_mm=fixed.centres_mm,
        shape=np.repeat(np.arange(len(task.shapes)), [s.copies for s in task.shapes]),
        centres_mm=np.array([centre for _, centre in centred]),
        width_mm=task.width_mm,
        length_likely_mm=2.0 * area / task.width_mm + 2.0 * longest,
    )


def _about_centre(region: Area) -> tuple[Area, tuple[float, float]]:
    centre = shapely.centroid(region)
    shift = np.array([centre.x, centre.y])
    return shapely.transform(region, lambda points: points - shift), (centre.x, centre.y)


def _angle_step(task: Task) -> float:
    """How coarse allowed angles must be taken for the fields to stay few; 0: as they are."""
    for step in (0.0, *COARSER_DEG):
        counts = [len(_coarser(shape.angles_deg, step)) for shape in task.shapes]
        fields = sum(max(a, b) for i, a in enumerate(counts) for b in counts[i:])
        if fields <= FIELDS_MOST:
            return step
    return COARSER_DEG[-1]


def _coarser(angles_deg: tuple[float, ...], step_deg: float) -> tuple[float, ...]:
    if step_deg == 0.0:
        return angles_deg
    return tuple(a for a in angles_deg if a % step_deg == 0.0) or angles_deg[:1]


def _variants(index: int, form: Form, angles_deg: tuple[float, ...]) -> list[Variant]:
    """One variant for each allowed angle that makes a difference."""
    kept = _differing(shapely.to_wkb(form.region), angles_deg)
    return [Variant(form=index, angle_deg=angle, box_mm=form.box(angle)) for angle in kept]


@lru_cache(maxsize=500)  # a run nests the same shapes many times
def _differing(region: bytes, angles_deg: tuple[float, ...]) -> tuple[float, ...]:
    form, kept = Form(wkb=region), list[float]()
    for angle in angles_deg:
        if not any(_same(form, other, angle) for other in kept):
            kept.append(angle)
    return tuple(kept)


def _same(form: Form, one_deg: float, other_deg: float) -> bool:
    """Whether two turns of a form cover the same area."""
    one, other = form.box(one_deg), form.box(other_deg)
    if max(abs(p - q) for p, q in zip(one, other, strict=True)) > 1e-3 * (one[2] - one[0]):
        return False
    areas = [
        shapely.transform(form.region, lambda points, angle=angle: turn(points, angle))
        for angle in (one_deg, other_deg)
    ]
    differs = shapely.symmetric_difference(areas[0], areas[1]).area
    return bool(differs < SAME_SHARE * areas[0].area)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fixed:
    """Obstacles, equal ones sharing a form. which: (obstacles,) index into forms."""

    forms: list[Form]
    variants: list[Variant]
    apart_mm: list[float]
    which: list[int]
    centres_mm: Floats


def _obstacles(obstacles: tuple[Obstacle, ...], first_form: int) -> _Fixed:
    known: dict[tuple[bytes, float], int] = {}
    forms: list[Form] = []
    apart: list[float] = []
    which: list[int] = []
    centres = np.zeros((len(obstacles), 2))
    for row, obstacle in enumerate(obstacles):
        left, bottom, right, top = obstacle.outline.bounds_mm
        centres[row] = (left + right) / 2, (bottom + top) / 2
        region = obstacle.outline.moved(-centres[row, 0], -centres[row, 1]).region
        key = (np.round(shapely.get_coordinates(region), 9).tobytes(), obstacle.apart_mm)
        if key not in known:
            known[key] = len(forms)
            forms.append(form_of(region))
            apart.append(obstacle.apart_mm)
        which.append(known[key])
    variants = [
        Variant(form=first_form + k, angle_deg=0.0, box_mm=form.box(0.0))
        for k, form in enumerate(forms)
    ]
    return _Fixed(forms=forms, variants=variants, apart_mm=apart, which=which, centres_mm=centres)


def _apart(task: Task, obstacles_mm: list[float], more_mm: float) -> Floats:
    """`Pieces.apart_mm`; more_mm: for each of the two that is a shape."""
    shapes, fixed = len(task.shapes), len(obstacles_mm)
    apart = np.full((shapes + fixed, shapes + fixed), -1.0)
    apart[:shapes, :shapes] = np.array(task.apart_mm) + 2 * more_mm
    apart[:shapes, shapes:] = np.array(obstacles_mm) + more_mm
    apart[shapes:, :shapes] = np.array(obstacles_mm).reshape(-1, 1) + more_mm
    return apart
