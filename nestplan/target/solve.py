"""From readings to offset, scales and skew of cut against print, by least squares.

Model of a reading: cut less print at a scale = offset + what the cutter's own fit leaves of
scale and skew there + scatter. What the fit takes up has no column in the model, or shares one
with another figure: it is named, not guessed. The scatter is estimated from what is left over
(Student's t), what a sheet's readings share is taken from the shop's figures; the two are joined
by Satterthwaite's degrees of freedom (Biometrics Bulletin 2, 1946, 110-114; from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from nestplan.faults import Fault, Note
from nestplan.figures import count, fixed
from nestplan.target.figure import Told, Untold
from nestplan.target.layout import Target
from nestplan.target.readings import Readings
from nestplan.target.scatter import scatter_of
from nestplan.target.shared import carried, shared_covariance, uncalibrated, unit_shifts
from nestplan.target.station import REACH_MM
from nestplan.target.tape import measure_tape

Array = NDArray[np.float64]

KEYS = (
    "offset_x_mm",
    "offset_y_mm",
    "scale_across_percent",
    "scale_along_percent",
    "skew_mm_m",
    "askew_mm_m",  # of this one sheet, where no fit takes it up; not a figure of the machine
)
DIFFERENCE = "scale_along_less_across_percent"
LEVEL = 0.9
SURE = 1e-6  # of a figure: what is hidden from the readings
STATIONS_LEAST = 3
STEP_MM = 0.05  # a vernier is read to half its step
SPARE_LEAST = 3  # readings beyond those that fix the figures, to tell a slip
MISREAD = 0.003  # nominal; in simulated sheets a good station is named up to eight times as often


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """What the readings tell.

    scatter_mm: standard deviation of a single reading. left_out: stations that were misread.
    """

    told: tuple[Told, ...]
    untold: tuple[Untold, ...]
    scatter_mm: float
    stations: int
    tapes: int
    left_out: tuple[int, ...]
    notes: tuple[Note, ...]

    def figure(self, key: str) -> Told | None:
        """A figure, if it is told."""
        return next((each for each in self.told if each.key == key), None)


def measure(target: Target, readings: Readings) -> Measured:
    """What the readings of a target tell of its machines.

    raises: Fault where fewer than three stations were read.
    """
    if len(readings.stations) < STATIONS_LEAST:
        raise Fault(
            what=f"{count(len(readings.stations), 'station')} filled in, at least "
            f"{STATIONS_LEAST} are needed to tell a figure from a slip",
            where=readings.file,
            do="read more stations, best those in the corners and in the middle",
        )
    everything = _Fit(target, readings)
    fit, notes = everything, []
    bad = everything.misread()
    if bad is not None:
        fit = everything.without(bad)
        again = fit.misread()
        notes.append(_misread_note(readings, bad, fit))
        if again is not None:
            text = (
                f"station {again} does not agree with the others either, though it is counted: "
                "read all stations anew, or print and cut the target again"
            )
            notes.append(Note(level="look", where="readings", text=text))
    told, untold = fit.figures(target)
    by_tape, without_tape, tape_notes = measure_tape(target, readings)
    return Measured(
        told=(*told, *by_tape),
        untold=(*untold, *without_tape),
        scatter_mm=float(np.sqrt(fit.scatter.variance_mm2)),
        stations=len(readings.stations),
        tapes=len(readings.tapes),
        left_out=() if bad is None else (bad,),
        notes=(*notes, *_reach_notes(target, fit), *tape_notes),
    )


class _Fit:
    """Least squares over some of the stations. Rows: all x readings, then all y readings."""

    def __init__(self, target: Target, readings: Readings, left_out: tuple[int, ...] = ()) -> None:
        self.target, self.readings, self.left_out = target, readings, left_out
        kept = [each for each in readings.stations if each.number not in left_out]
        self.numbers = [each.number for each in kept]
        self.read = np.array([each.x_mm for each in kept] + [each.y_mm for each in kept])
        self.model = uncalibrated(target.equipment)
        self.columns = _columns(target, self.model.corrects, self.numbers) / _units()
        shared = shared_covariance(self.model, target.marks_mm, target.scales_mm(self.numbers))
        picked = _picked(len(kept))
        self.shared = shared[np.ix_(picked, picked)]
        self.solved = np.linalg.pinv(self.columns, rcond=1e-9)
        self.found = self.solved @ self.read / _units()
        self.rank = int(np.linalg.matrix_rank(self.columns, tol=1e-6))
        self.scatter = scatter_of(self.read, self.columns, self.rank, self.shared, STEP_MM**2 / 12)

    @property
    def spare(self) -> int:
        """How many readings there are beyond those that fix the figures."""
        return len(self.read) - self.rank

    def without(self, number: int) -> "_Fit":
        """The same fit without one station."""
        return _Fit(self.target, self.readings, (*self.left_out, number))

    def misread(self) -> int | None:
        """The station without which all others agree far better; None where there is none."""
        chances = {
            number: chance
            for number in self.numbers
            if (chance := self.chance_of_slip(number)) is not None
        }
        if not chances:
            return None
        worst = min(chances, key=lambda number: chances[number])
        return worst if chances[worst] * len(self.numbers) < MISREAD else None

    def chance_of_slip(self, number: int) -> float | None:
        """How likely a station would be so far from what the others expect; None: they are too few.

        F test of a shift of its two readings, against the scatter of the others.
        """
        rest = self.without(number)
        if rest.rank < self.rank or rest.spare < SPARE_LEAST:
            return None
        at = self.numbers.index(number)
        own = np.eye(len(self.read))[:, [at, at + len(self.numbers)]]
        spread = rest.scatter.variance_mm2 * np.eye(len(self.read)) + self.shared
        root = np.linalg.inv(np.linalg.cholesky(spread))
        columns, shift = root @ self.columns, root @ own
        over = np.eye(len(self.read)) - columns @ np.linalg.pinv(columns, rcond=1e-9)
        weight = shift.T @ over @ shift
        found = np.linalg.solve(weight, shift.T @ over @ (root @ self.read))
        variance = float(np.trace(np.linalg.inv(weight))) / 2
        freedom = rest.scatter.freedom * (variance / rest.scatter.variance_mm2) ** 2
        return float(stats.f.sf(float(found @ weight @ found) / 2, 2, freedom))

    def figures(self, target: Target) -> tuple[list[Told], list[Untold]]:
        """What is told and what is not, in the order of KEYS."""
        seen = self.solved @ self.columns  # projects onto what the readings see
        told, untold = [], []
        film = np.zeros(len(KEYS))
        film[2:4] = self.model.across_percent, self.model.along_percent
        for at, key in enumerate(KEYS[:5]):
            if seen[at, at] > 1 - SURE:
                told.append(self.told(key, np.eye(len(KEYS))[at], film))
            else:
                untold.append(Untold(key=key, why=self.why(target, at, seen)))
        apart = np.zeros(len(KEYS))
        apart[2], apart[3] = -1.0, 1.0
        if np.allclose(seen @ apart, apart, atol=SURE) and not seen[2, 2] > 1 - SURE:
            told.append(self.told(DIFFERENCE, apart, film))
        return told, untold

    def told(self, key: str, weights: Array, film: Array) -> Told:
        """A weighted sum of the figures, in their own units."""
        how = (weights / _units()) @ self.solved
        own = self.scatter.variance_mm2 * float(how @ how)
        common = float(how @ self.shared @ how)
        freedom = self.scatter.freedom * ((own + common) / own) ** 2
        sd = float(np.sqrt(own + common))
        return Told(
            key=key,
            value=float(weights @ (self.found + film)),
            sd=sd,
            half=float(stats.t.ppf((1 + LEVEL) / 2, freedom)) * sd,
        )

    def why(self, target: Target, at: int, seen: Array) -> str:
        """Why a figure is hidden: the cutter's fit, or the choice of stations."""
        corrects = self.model.corrects
        everywhere = [station.number for station in target.stations]
        full = _columns(target, corrects, everywhere) / _units()
        best = np.linalg.pinv(full, rcond=1e-9) @ full
        if best[at, at] > 1 - SURE:
            return "the stations that were read stand too near each other or in a line: read more"
        if np.abs(full[:, at]).max() < SURE:
            return f"the cutter's own fit to the marks ({corrects}) takes it up, in every run too"
        if corrects == "similarity" and KEYS[at].startswith("scale"):
            return (
                "the cutter's own fit to the marks (similarity) takes up what both scales have in "
                "common; their difference is told"
            )
        return "this film is too narrow for a target that could tell it"


def _columns(target: Target, corrects: str, numbers: list[int]) -> Array:
    """(2n, 6): how each figure of KEYS shifts the readings."""
    places, marks = target.scales_mm(numbers), target.marks_mm
    shifts = unit_shifts(np.concatenate([marks, places])).reshape(4, -1)
    # a cut that is longer is a print that is shorter
    moved = -(carried(corrects, marks, places) @ shifts.T)
    ones = np.ones(len(places))
    offsets = np.column_stack([np.kron(ones, (1.0, 0.0)), np.kron(ones, (0.0, 1.0))])
    if corrects != "none":  # a turned sheet is taken up
        moved[:, 3] = 0.0
    columns = np.concatenate([offsets, moved], axis=1)[_picked(len(numbers))]
    columns[np.abs(columns) < 1e-9] = 0.0
    return columns


def _picked(stations: int) -> NDArray[np.intp]:
    """Rows x1, y1, x2 … of all scales: x of the first half, y of the second."""
    x = 2 * np.arange(stations)
    return np.concatenate([x, 2 * stations + x + 1])


def _units() -> Array:
    """What brings the figures to like size on a metre: mm, percent of 1 m, mm a metre."""
    return np.array([1.0, 1.0, 10.0, 10.0, 1.0, 1.0])


def _misread_note(readings: Readings, number: int, fit: _Fit) -> Note:
    """What a misread station should have shown."""
    read = next(each for each in readings.stations if each.number == number)
    columns = _columns(fit.target, fit.model.corrects, [number])
    x, y = (columns @ fit.found).tolist()
    text = (
        f"station {number} does not agree with the others and is left out: it says "
        f"x {fixed(read.x_mm, 2)}, y {fixed(read.y_mm, 2)} mm, the others expect "
        f"x {fixed(x, 2)}, y {fixed(y, 2)} mm there; read it again"
    )
    return Note(level="look", where=f"{readings.file}, line {read.line}", text=text)


def _reach_notes(target: Target, fit: _Fit) -> list[Note]:
    """A station that lies far off hints at a mark that was misread or a sheet put in wrongly."""
    far = float(np.abs(fit.read).max())
    if far <= REACH_MM + STEP_MM:
        return []
    text = (
        f"readings go up to {fixed(far, 2)} mm, beyond the {REACH_MM:g} mm of the verniers: set "
        "the machine by these figures, then print and cut another target for the fine ones"
    )
    return [Note(level="look", where="readings", text=text)]
