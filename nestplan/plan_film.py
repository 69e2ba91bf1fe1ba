"""Whether the film at hand is enough for a whole day: each job is planned as if alone."""

from collections.abc import Sequence
from math import fsum

from nestplan.faults import Note
from nestplan.figures import film
from nestplan.shift.tasks import Planned
from nestplan.stock import film_from_stock
from nestplan.stock.book import UM_PER_MM

MM_PER_M = 1000.0


def film_notes(jobs: Sequence[Planned]) -> list[Note]:
    """A note for each film of which the day takes more than there is free.

    Jobs take their turn, the longest first, on the shortest piece that still holds them, as a
    plan does. What other plans have reserved is not free.
    """
    notes = []
    for roll in sorted({planned.job.roll.name for planned in jobs}):
        of_roll = [planned for planned in jobs if planned.job.roll.name == roll]
        free_mm = _free_mm(of_roll[0])
        lacking = without_film([_film_mm(planned) for planned in of_roll], free_mm)
        if lacking:
            names = ", ".join(of_roll[k].called for k in lacking)
            takes = film(fsum(_film_mm(planned) for planned in of_roll))
            text = (
                f"the day takes {takes} of it, {film(fsum(free_mm))} {_on(len(free_mm))}: "
                f"no film is left for {names}"
            )
            notes.append(Note(level="look", where=roll, text=text))
    return notes


def without_film(takes_mm: Sequence[float], free_mm: Sequence[float]) -> list[int]:
    """Which jobs (indices) no piece holds any more, the longest jobs served first."""
    left_mm, lacking = list(free_mm), []
    for k in sorted(range(len(takes_mm)), key=lambda k: -takes_mm[k]):
        holding = [piece for piece, left in enumerate(left_mm) if left >= takes_mm[k]]
        if holding:
            left_mm[min(holding, key=lambda piece: left_mm[piece])] -= takes_mm[k]
        else:
            lacking.append(k)
    return sorted(lacking)


def _free_mm(planned: Planned) -> list[float]:
    """Of each piece that the job may be printed on: of the stock, else of the shop file."""
    stock = film_from_stock(planned.job)
    if stock is None:
        return [planned.job.roll.left_m * MM_PER_M]
    return [piece.free_um / UM_PER_MM for piece in stock.pieces]


def _film_mm(planned: Planned) -> float:
    return min(way.film_mm for way in planned.ways)


def _on(pieces: int) -> str:
    return "is free" if pieces == 1 else f"are free on {pieces} pieces"
