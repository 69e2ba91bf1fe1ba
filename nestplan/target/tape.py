"""What a tape measure tells of the print itself: its size along and across, and its skew.

A vernier compares cut with print; only a length from outside says how large the print truly is.
The tape's own error is counted: class II, +-(0.3 + 0.2 L) mm, L in metres rounded up (Directive
2014/32/EU, Annex X, chapter I; from memory), alike for all lengths; and reading it to half a
millimetre at each end (common practice, no source).
"""

from math import ceil, sqrt

import numpy as np
from scipy import stats

from nestplan.faults import Note
from nestplan.figures import fixed
from nestplan.target.figure import Told, Untold
from nestplan.target.layout import Tape, Target
from nestplan.target.readings import Readings
from nestplan.target.shared import uncalibrated

KEYS = ("size_across_percent", "size_along_percent", "size_skew_mm_m")
READ_MM = 0.2  # standard deviation of a length read: half a millimetre at two ends, evenly
SURE = 1e-6
HALF = float(stats.norm.ppf(0.95))  # of a 90 % interval, in standard deviations
AGREE = 0.01


def measure_tape(target: Target, readings: Readings) -> tuple[list[Told], list[Untold], list[Note]]:
    """Size and skew of the print, the film's usual stretch taken off."""
    planned = {(tape.start, tape.end): tape for tape in target.tapes}
    tapes = [planned[each.start, each.end] for each in readings.tapes]
    longer = np.array(
        [each.length_mm - tape.length_mm for each, tape in zip(readings.tapes, tapes, strict=True)]
    )
    columns = np.array([_column(tape) for tape in tapes]).reshape(-1, 3)
    own = np.array([tape_limit_mm(tape.length_mm) for tape in tapes]) / sqrt(3)
    # the tape's own error hides in size, so it weighs in the result, not in the weights
    solved = np.linalg.pinv(columns, rcond=1e-9)
    spread = READ_MM**2 * np.eye(len(tapes)) + np.outer(own, own)
    found, seen = solved @ longer, solved @ columns
    covariance = solved @ spread @ solved.T
    model = uncalibrated(target.equipment)
    film = np.array([model.across_percent, model.along_percent, 0.0])
    stretch_sd = model.across_sd_percent, model.along_sd_percent
    film_sd = np.array([*np.hypot(stretch_sd, model.both_sd_percent), 0.0])
    told, untold = [], []
    for at, key in enumerate(KEYS):
        if len(tapes) and seen[at, at] > 1 - SURE:
            sd = float(np.hypot(sqrt(covariance[at, at]), film_sd[at]))
            value = float(found[at] - film[at])
            told.append(Told(key=key, value=value, sd=sd, half=HALF * sd))
        else:
            untold.append(Untold(key=key, why=_why(key)))
    left = longer - columns @ found
    spare = len(tapes) - int(np.linalg.matrix_rank(columns)) if len(tapes) else 0
    return told, untold, _disagree(readings, left, spare)


def tape_limit_mm(length_mm: float) -> float:
    """Greatest error that a class II tape may have over a length."""
    return 0.3 + 0.2 * ceil(length_mm / 1000)


def _column(tape: Tape) -> tuple[float, float, float]:
    """How much longer a distance grows by a percent across, along, by a mm a metre of skew."""
    length = tape.length_mm
    across, along = tape.across_mm / length, tape.along_mm / length
    return across**2 * length / 100, along**2 * length / 100, across * along * length / 1000


def _why(key: str) -> str:
    need = {
        "size_across_percent": "the tape lengths across are not filled in",
        "size_along_percent": "the tape lengths along are not filled in",
        "size_skew_mm_m": "the tape lengths along both diagonals are not filled in",
    }[key]
    return f"{need}: verniers compare cut with print, not the print with true lengths"


def _disagree(readings: Readings, left: np.ndarray, spare: int) -> list[Note]:
    if spare < 1 or stats.chi2.sf(float(left @ left) / READ_MM**2, spare) >= AGREE:
        return []
    worst = readings.tapes[int(np.abs(left).argmax())]
    text = (
        f"the tape lengths disagree by up to {fixed(float(np.abs(left).max()), 2)} mm, most at "
        f"{worst.start} to {worst.end}: measure them again, film flat and tape straight"
    )
    return [Note(level="look", where=f"{readings.file}, line {worst.line}", text=text)]
