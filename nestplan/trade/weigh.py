"""Which of several planned runs are worth choosing from, and which one the job wants."""

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.job import Aim
from nestplan.trade.least import Least
from nestplan.trade.option import Option


@dataclass(frozen=True, slots=True, kw_only=True)
class Trade:
    """options: by rising film, none beaten by another. chosen: index of the one that is planned.

    least: what no plan of the job beats. widths: how many were tried by a short search;
    planned: how many runs were planned in full.
    """

    aim: Aim
    options: tuple[Option, ...]
    chosen: int
    least: Least
    widths: int
    planned: int


def weigh(
    aim: Aim, planned: Sequence[Sequence[Option]], least: Least, *, widths: int
) -> tuple[Trade, int, int]:
    """The trade, and which run (and which of its modes) it chooses.

    planned: for each run that was planned in full, what it takes in every mode that the job
    allows, in the shop's order.
    """
    ways = [(run, mode) for run, options in enumerate(planned) for mode in range(len(options))]
    worth: list[tuple[int, int]] = []
    for run, mode in ways:
        one = planned[run][mode]
        twin = any(planned[r][m] == one for r, m in worth)
        if not twin and not any(one.beaten_by(planned[r][m]) for r, m in ways):
            worth.append((run, mode))
    worth.sort(key=lambda way: _by_film(planned[way[0]][way[1]]))
    options = tuple(planned[run][mode] for run, mode in worth)

    def wanted(k: int) -> tuple[object, ...]:
        one, mode = options[k], worth[k][1]
        return one.taken(aim), mode, one.film_mm, one.run_s, one.total

    chosen = min(range(len(options)), key=wanted)
    trade = Trade(
        aim=aim,
        options=options,
        chosen=chosen,
        least=least,
        widths=widths,
        planned=len(planned),
    )
    return trade, *worth[chosen]


def _by_film(one: Option) -> tuple[object, ...]:
    return one.film_mm, one.run_s, one.total, -one.resolution_dpi
