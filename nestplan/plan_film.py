"""Whether the film at hand is enough for a whole day: each job is planned as if alone."""

from collections.abc import Mapping, Sequence
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
    plan does; one that names its piece on that alone. What other plans have reserved is not free.
    """
    notes = []
    for roll in sorted({planned.job.roll.name for planned in jobs}):
        of_roll = [planned for planned in jobs if planned.job.roll.name == roll]
        takes_mm = [planned.film_mm for planned in of_roll]
        pieces = [_free_mm(planned) for planned in of_roll]
        lacking = without_film(takes_mm, pieces)
        if lacking:
            names = ", ".join(of_roll[k].called for k in lacking)
            takes, free = film(fsum(takes_mm)), film(fsum(_all_free(pieces).values()))
            text = f"the day takes {takes} of it, and {free} is free: no film is left for {names}"
            notes.append(Note(level="look", where=roll, text=text))
    return notes


def without_film(takes_mm: Sequence[float], pieces: Sequence[Mapping[str, float]]) -> list[int]:
    """Which jobs (indices) no piece holds any more, the longest jobs served first.

    pieces: of each job, those it may lie on, by name, and what is free of them in mm.
    """
    left_mm, lacking = _all_free(pieces), []
    for k in sorted(range(len(takes_mm)), key=lambda k: -takes_mm[k]):
        holding = [piece for piece in pieces[k] if left_mm[piece] >= takes_mm[k]]
        if holding:
            left_mm[min(holding, key=lambda piece: left_mm[piece])] -= takes_mm[k]
        else:
            lacking.append(k)
    return sorted(lacking)


def _free_mm(planned: Planned) -> Mapping[str, float]:
    """Of each piece that the job may be printed on: of the stock, else of the shop file."""
    stock = film_from_stock(planned.job)
    if stock is None:
        return {planned.job.roll.name: planned.job.roll.left_m * MM_PER_M}
    return {each.piece.id: each.free_um / UM_PER_MM for each in stock.pieces}


def _all_free(pieces: Sequence[Mapping[str, float]]) -> dict[str, float]:
    return {name: mm for each in pieces for name, mm in each.items()}
