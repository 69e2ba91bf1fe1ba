"""How far off each cut will be, and the chance of a white edge, once the marks are known.

The print at a place is estimated from the measured marks; the cutter then reads the marks
again and makes its own fit. What each of these adds to the error of a cut is linear in what
was drawn: film, printing, first reading, second reading.
"""

from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from nestplan.fit.maps import Kind, Map
from nestplan.fit.noise import Noise
from nestplan.fit.plan_folder import PlannedFrame
from nestplan.job import Corrects
from nestplan.marks import ErrorModel
from nestplan.marks.chance import PROVEN
from nestplan.marks.corrects import influence
from nestplan.marks.draws import Sheet, drawn_errors
from nestplan.marks.moments import Moments, left_over, moments_of
from nestplan.marks.radius import chance_beyond, radius_within

Array = NDArray[np.float64]

DRAWS, SEED = 2_000, 3
SURELY = 0.95  # a chance that needs no counting
DRAWN_MOST = 200  # places; the likeliest are drawn, the others are added as a sum


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Carried:
    """What is carried to n places from N marks, (n, 2, N, 2) each.

    film: of where the marks lie; reading: of how they were misread when they were measured;
    rereading: of how the cutter misreads them.
    """

    film: Array
    reading: Array
    rereading: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Odds:
    """What is predicted for one frame and one cut file.

    p95_mm: (copies,) 95 % radius of each copy at its worst point; worst_mm (copies, 2): that
    point, run coordinates. chance: of any copy outside its bleed; None where none has a bleed.
    drawn: whether it was counted; else it is an upper bound.
    """

    p95_mm: Array
    worst_mm: Array
    chance: float | None
    drawn: bool

    @property
    def worst(self) -> int:
        """Row of the copy with the greatest error."""
        return int(self.p95_mm.argmax())


def carried(
    frame: PlannedFrame, seen: NDArray[np.intp], full: Kind, corrects: Corrects, places_mm: Array
) -> Carried:
    """What a fit of the richest believed kind, and then the cutter, carry to places (n, 2).

    seen: rows of the marks that were measured; the others are foretold by the fit.
    """
    marks, own = frame.marks_mm, influence(corrects, frame.marks_mm, places_mm)
    form: Corrects = "none" if full == "shift" else full
    n, N = len(places_mm), len(marks)
    film, reading = np.zeros((n, 2, N, 2)), np.zeros((n, 2, N, 2))
    unseen = np.setdiff1d(np.arange(N), seen)
    fitted = influence(form, marks[seen], places_mm)
    if len(unseen):
        foretold = influence(form, marks[seen], marks[unseen])
        fitted = fitted - np.einsum("kaub,ubic->kaic", own[:, :, unseen], foretold)
        film[:, :, unseen] = own[:, :, unseen]
    film[:, :, seen] = fitted
    reading[:, :, seen] = fitted - own[:, :, seen]
    return Carried(film=film, reading=reading, rereading=own)


def odds(frame: PlannedFrame, noise: Noise, seen: NDArray[np.intp], full: Kind, off: "Aim") -> Odds:
    """The error of every copy of a frame, cut where `off` says."""
    places, model = frame.places_mm, _film_only(noise.model)
    ways = carried(frame, seen, full, noise.model.corrects, places)
    mean = off.cut.at(places) if off.cut is not None else off.own.at(places)
    mean = mean - off.printed.at(places)
    errors = _moments(model, noise, ways, frame.marks_mm, places, mean)
    radius = radius_within(errors.mean_mm, errors.covariance_mm2)
    copies = len(frame.names)
    worst = np.array([_first_of(frame.copy, c, radius) for c in range(copies)], dtype=np.intp)
    chance, drawn = _chance(frame, model, noise, ways, errors)
    return Odds(p95_mm=radius[worst], worst_mm=places[worst], chance=chance, drawn=drawn)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aim:
    """Where the print is believed to be, where the cutter's own fit of the plan goes, and
    where a corrected file goes (None: the plan's file is cut)."""

    printed: Map
    own: Map
    cut: Map | None


def error_at(
    frame: PlannedFrame, noise: Noise, seen: NDArray[np.intp], full: Kind, off: Aim, places: Array
) -> Array:
    """(n,) 95 % radius at any places (n, 2)."""
    ways = carried(frame, seen, full, noise.model.corrects, places)
    aimed = (off.cut or off.own).at(places) - off.printed.at(places)
    errors = _moments(_film_only(noise.model), noise, ways, frame.marks_mm, places, aimed)
    return radius_within(errors.mean_mm, errors.covariance_mm2)


def _film_only(model: ErrorModel) -> ErrorModel:
    """The model without what the measured marks have told: stretch and skew."""
    return replace(
        model,
        sensor_noise_mm=0.0,
        along_percent=0.0,
        across_percent=0.0,
        skew_mm_m=0.0,
        along_sd_percent=0.0,
        across_sd_percent=0.0,
        both_sd_percent=0.0,
        skew_sd_mm_m=0.0,
        askew_sd_mm_m=0.0,
    )


def _moments(
    model: ErrorModel, noise: Noise, ways: Carried, marks: Array, places: Array, mean: Array
) -> Moments:
    film = moments_of(model, ways.film, marks, places)
    covariance = film.covariance_mm2
    for sd, way in (
        (noise.reading_mm, ways.reading),
        (noise.model.sensor_noise_mm, ways.rereading),
    ):
        covariance = covariance + sd**2 * np.einsum("kaib,kcib->kac", way, way)
    askew = _askew(noise, ways, marks, places)
    covariance = covariance + askew[:, :, None] * askew[:, None, :]
    return Moments(mean_mm=film.mean_mm + mean, covariance_mm2=covariance)


def lined_up_by(marks_mm: Array) -> int:
    """Row of the mark by which, with the first, a sheet is laid for a cutter that turns nothing."""
    return int(np.hypot(*(marks_mm - marks_mm[0]).T).argmax())


def _askew(noise: Noise, ways: Carried, marks: Array, places: Array) -> Array:
    """(n, 2) what a sheet loaded askew by one standard deviation adds; nothing where the cutter
    takes up a turn. A cutter that does not gets its sheet laid by two marks."""
    askew = noise.model.askew_sd_mm_m / 1000
    if noise.model.corrects == "none":
        apart = float(np.hypot(*(marks[lined_up_by(marks)] - marks[0])))
        laid = hypot(noise.reading_mm, noise.model.sensor_noise_mm)
        askew = hypot(askew, sqrt(2) * laid / max(apart, 1.0))

    def turned(points: Array) -> Array:
        return askew * np.column_stack([-points[:, 1], points[:, 0]])

    return left_over(ways.rereading, turned(marks), turned(places))


def _first_of(copy: NDArray[np.intp], number: int, radius: Array) -> int:
    rows = np.flatnonzero(copy == number)
    return int(rows[radius[rows].argmax()])


def _chance(
    frame: PlannedFrame, model: ErrorModel, noise: Noise, ways: Carried, errors: Moments
) -> tuple[float | None, bool]:
    """Chance that any copy with a bleed is cut outside it, and whether it was drawn.

    The sum over places is an upper bound (Boole); where it is not small, cuts are drawn.
    """
    bled = np.flatnonzero(frame.bleed_mm > 0)
    if not len(bled):
        return None, False
    each = chance_beyond(errors.mean_mm[bled], errors.covariance_mm2[bled], frame.bleed_mm[bled])
    total = min(1.0, float(each.sum()))
    if total <= PROVEN or float(each.max()) >= SURELY:
        return total, False
    rows = bled[np.argsort(-each, kind="stable")[:DRAWN_MOST]]
    rest = float(np.sort(each)[: max(len(each) - DRAWN_MOST, 0)].sum())
    sheet = Sheet(
        marks_mm=frame.marks_mm,
        places_mm=frame.places_mm[rows],
        copy=frame.copy[rows],
        carried=ways.film[rows],
    )
    rng = np.random.default_rng(SEED)
    mean = errors.mean_mm[rows] - model.offset_mm  # the draws add the offset themselves
    askew = _askew(noise, ways, frame.marks_mm, frame.places_mm)[rows]
    over = 0
    for drawn in drawn_errors(model, [sheet], draws=DRAWS, seed=SEED):
        off = drawn[0] + mean
        d, N = len(off), len(frame.marks_mm)
        for sd, way in (
            (noise.reading_mm, ways.reading),
            (noise.model.sensor_noise_mm, ways.rereading),
        ):
            misread = sd * rng.standard_normal((d, N, 2))
            off = off + np.einsum("kaib,dib->dka", way[rows], misread, optimize=True)
        off = off + rng.standard_normal((d, 1, 1)) * askew
        far = np.hypot(off[:, :, 0], off[:, :, 1]) > frame.bleed_mm[rows]
        over += int(far.any(axis=1).sum())
    return min(1.0, total, max(float(each.max()), over / DRAWS + rest)), True
