"""Which widths are worth a plan in full, by short searches.

A print that is narrower than the film saves strokes' length, not strokes: it pays where the nest
leaves the film's far side empty, or ends in a row that is nearly so. So each width is drawn in
to what its nest fills, and the next one is a good step narrower than that.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

STEP = 11 / 12  # from one width to the next
WIDTHS_MOST = 12
NARROWEST = 1 / 5  # of the full width
IN_VAIN_MOST = 3  # widths one after the other that an earlier one beats in all
SAME_WIDTH_MM = 1.0  # a print that is narrower by less is the same to a carriage
FULL_MOST = 5  # runs that are planned in full


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """What a short search found for a width: not what a plan would take, but in which order.

    width_mm: drawn in to what the nest fills. money: of film and machines alone.
    """

    width_mm: float
    film_mm: float
    print_s: float
    money: float


def narrower(screened: Sequence[Screened], full_mm: float) -> float | None:
    """The next width to try after those that were; None: enough."""
    following = float(floor(screened[-1].width_mm * STEP))
    last = screened[-IN_VAIN_MOST:]
    vain = [one for one in last if any(_beats(other, one) for other in screened)]
    if len(vain) == IN_VAIN_MOST or len(screened) == WIDTHS_MOST:
        return None
    return following if following >= full_mm * NARROWEST else None


def shortlist(screened: Sequence[Screened], full_mm: float) -> list[float]:
    """Widths to plan in full, beside the full one: the best by film, time and money, then those
    that no other beats, the quickest first."""
    narrow = [one for one in screened if one.width_mm < full_mm - SAME_WIDTH_MM]
    if not narrow:
        return []
    best = [
        min(narrow, key=lambda one: (one.print_s, one.film_mm)),
        min(narrow, key=lambda one: (one.money, one.print_s)),
        min(narrow, key=lambda one: (one.film_mm, one.print_s)),
        *sorted(
            (one for one in narrow if not any(_beats(other, one) for other in screened)),
            key=lambda one: (one.print_s, one.film_mm),
        ),
    ]
    widths = list(dict.fromkeys(one.width_mm for one in best))
    return widths[: FULL_MOST - 1]


def _beats(one: Screened, other: Screened) -> bool:
    mine, others = (one.film_mm, one.print_s), (other.film_mm, other.print_s)
    return all(a <= b for a, b in zip(mine, others, strict=True)) and mine != others
